"""Levels and edges of the circuit at the input."""

from __future__ import annotations

import dataclasses
import math

import pytest

from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.corners import CORNERS, Spread, deciding_words, worst
from dialtrue.domain.pulse_chain.levels import (
    circuit_at,
    closed_level_v,
    crossing_ms,
    fall_ms,
    leak_for_level_ohm,
    line_reads,
    open_level_v,
    rise_ms,
)
from tests.support.chains import chain_of


def test_closed_level_is_the_divider() -> None:
    circuit = circuit_at(chain_of(output={"closed_ohm": Spread.exactly(1000.0)}, length_m=0.0))
    assert closed_level_v(circuit) == pytest.approx(3.0 * 1000 / 48_000)


def test_saturation_adds_to_the_closed_level() -> None:
    circuit = circuit_at(chain_of(output={"closed_ohm": Spread.exactly(1e-3), "saturation_v": 0.4}, length_m=0.0))
    assert closed_level_v(circuit) == pytest.approx(0.4, abs=1e-6)


def test_transistor_never_lifts_the_line() -> None:
    low_supply = {"supply_v": Spread.exactly(0.3)}
    circuit = circuit_at(chain_of(output={"saturation_v": 0.4}, input=low_supply))
    assert closed_level_v(circuit) == pytest.approx(0.3)


def test_off_leakage_lowers_the_open_line_through_both_resistances() -> None:
    circuit = circuit_at(chain_of(output={"off_leak_ua": 10.0}))
    assert open_level_v(circuit) == pytest.approx(3.0 - 10e-6 * 47_000)
    damp = dataclasses.replace(circuit, leak_ohm=47_000.0)
    assert open_level_v(damp) == pytest.approx(1.5 - 10e-6 * 23_500)


def test_open_line_does_not_go_below_common() -> None:
    assert open_level_v(circuit_at(chain_of(output={"off_leak_ua": 2000.0}))) == 0.0


def test_edges_start_from_the_other_level() -> None:
    chain = chain_of(output={"closed_ohm": Spread.exactly(10_000.0)}, cable={"capacitance_pf_per_m": 1e4})
    circuit = circuit_at(chain)
    low, high = closed_level_v(circuit), open_level_v(circuit)
    tau = 47_000 * circuit.capacitance_f * 1000
    assert rise_ms(circuit) == pytest.approx(tau * math.log((high - low) / (high - 2.1)))
    both = 1 / (1 / 47_000 + 1 / (10_000 + circuit.loop_ohm)) * circuit.capacitance_f * 1000
    assert fall_ms(circuit) == pytest.approx(both * math.log((high - low) / (0.9 - low)))


def test_threshold_that_is_never_reached_takes_for_ever() -> None:
    assert crossing_ms(0.0, 2.0, 2.1, 1.0) == math.inf
    assert crossing_ms(3.0, 1.0, 0.9, 1.0) == math.inf
    assert crossing_ms(2.5, 3.0, 2.1, 1.0) == 0.0
    assert math.isnan(crossing_ms(0.0, 3.0, math.nan, 1.0))


def test_leakage_at_a_level_holds_the_line_there() -> None:
    circuit = circuit_at(chain_of(output={"off_leak_ua": 3.0}))
    held = dataclasses.replace(circuit, leak_ohm=leak_for_level_ohm(circuit, 2.1))
    assert open_level_v(held) == pytest.approx(2.1)
    assert line_reads(circuit, 2.1) == "open"
    assert line_reads(circuit, 1.5) == "between"
    assert line_reads(circuit, 0.9) == "closed"


def test_current_thresholds_are_levels_across_the_source_resistance() -> None:
    chain = chain_of(
        output={"kind": "current_sensor", "closed_ohm": Spread.exactly(2000.0), "open_ohm": Spread.exactly(8000.0)},
        input={
            "kind": "current",
            "supply_v": Spread.exactly(8.2),
            "pull_up_ohm": Spread.exactly(1000.0),
            "closed_below": 2.1,
            "open_above": 1.2,
            "threshold_unit": "mA",
        },
        length_m=0.0,
    )
    circuit = circuit_at(chain)
    assert circuit.closed_below_v == pytest.approx(6.1)
    assert circuit.open_above_v == pytest.approx(7.0)
    assert (8.2 - closed_level_v(circuit)) / 1000 == pytest.approx(8.2 / 3000)


def test_active_output_drives_both_levels_without_a_pull_up() -> None:
    chain = chain_of(
        output={"kind": "push_pull", "high_v": Spread.exactly(3.0), "saturation_v": 0.1},
        input={"kind": "voltage", "pull_up_ohm": None},
    )
    circuit = circuit_at(chain)
    assert open_level_v(circuit) == pytest.approx(3.0)
    assert closed_level_v(circuit) == pytest.approx(0.1)


def test_missing_figures_stay_missing_and_spread_no_further() -> None:
    circuit = circuit_at(Chain(output=chain_of().output))
    assert math.isnan(closed_level_v(circuit))
    assert math.isnan(rise_ms(circuit))
    no_cap = circuit_at(chain_of(cable={"capacitance_pf_per_m": None}))
    assert not math.isnan(open_level_v(no_cap))
    assert math.isnan(rise_ms(no_cap))


def test_corners_are_all_combinations_once() -> None:
    assert len({corner.sides for corner in CORNERS}) == 64
    assert all(CORNERS[corner.flipped(2)].sides[2] != corner.sides[2] for corner in CORNERS)


def test_worst_corner_is_named_by_what_matters() -> None:
    margins = [float(10 - 3 * corner.sides[0] - 2 * corner.sides[5]) for corner in CORNERS]
    least, place = worst(margins)
    assert least == 5.0
    assert deciding_words(margins, place) == "supply high, damp"
    assert worst([1.0, math.nan])[1] == -1
