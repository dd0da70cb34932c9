"""Wire, classes, edges, cells and damp against published or hand-worked figures; lengths in both systems."""

from __future__ import annotations

import dataclasses
import math
import tomllib
from pathlib import Path
from typing import Any

import pytest

from dialtrue.domain.pulse_chain.battery import life_years, pull_up_ua
from dialtrue.domain.pulse_chain.cable import awg_diameter_mm, awg_ohm_per_km, loop_ohm, temperature_factor
from dialtrue.domain.pulse_chain.corners import Spread
from dialtrue.domain.pulse_chain.levels import (
    circuit_at,
    crossing_ms,
    leak_for_level_ohm,
    line_reads,
    open_level_v,
    open_tau_ms,
)
from dialtrue.domain.pulse_chain.measure import measure
from dialtrue.domain.pulse_chain.output import Output
from dialtrue.domain.pulse_chain.timing import least_period_ms
from tests.support.chains import chain_of

CASES = Path(__file__).parent / "cases"
FILES = (
    "astm-b258-wire",
    "nec-table-8",
    "iec-60028-copper",
    "iec-62053-31-rate",
    "en-60947-5-6-reach",
    "pair-capacitance-edges",
    "battery-budget",
    "wet-terminal",
    "story-school-field",
    "story-wet-splice",
)
SOURCES = Path(__file__).parents[2] / "docs" / "reference" / "sources.md"
FT_M = 0.3048


def load(name: str) -> dict[str, Any]:
    return tomllib.loads((CASES / f"{name}.toml").read_text(encoding="utf-8"))


def rows(name: str, table: str) -> list[Any]:
    return load(name)[table]


def printed(value: float) -> float:
    """Half of the last digit of a figure as printed."""
    digits = str(value).partition(".")[2]
    return 0.5 * 10.0 ** -len(digits) * (1 + 1e-9)


@pytest.mark.parametrize("name", FILES)
def test_each_case_file_cites_a_source_that_is_kept(name: str) -> None:
    assert f"| {load(name)['source']} |" in SOURCES.read_text(encoding="utf-8")


@pytest.mark.parametrize("case", rows("astm-b258-wire", "wire"), ids=lambda case: f"AWG {case['awg']}")
def test_wire_gauge_table(case: dict[str, Any]) -> None:
    ohm = awg_ohm_per_km(case["awg"])
    hot = ohm * temperature_factor(75.0, 0.00393)
    for got, name in (
        (awg_diameter_mm(case["awg"]), "diameter_mm"),
        (ohm, "ohm_per_km"),
        (ohm * FT_M, "ohm_per_kft"),
        (hot * FT_M, "ohm_per_kft_75c"),
        (loop_ohm(ohm, 100.0, 1.0), "loop_100m_ohm"),
    ):
        # 4.190 is read back as 4.19: a figure has at least three decimals there.
        assert got == pytest.approx(case[name], abs=min(printed(case[name]), 0.005)), name


@pytest.mark.parametrize("case", rows("nec-table-8", "conductor"), ids=lambda case: f"{case['awg']} {case['stranded']}")
def test_conductor_table_at_75_c(case: dict[str, Any]) -> None:
    ohm = awg_ohm_per_km(case["awg"], stranded=case["stranded"]) * temperature_factor(75.0, 0.00393) * FT_M
    assert ohm == pytest.approx(case["ohm_per_kft_75c"], rel=case["tolerance_share"])


@pytest.mark.parametrize("case", rows("iec-60028-copper", "factor"), ids=lambda case: f"{case['celsius']} C")
def test_copper_with_temperature(case: dict[str, Any]) -> None:
    assert temperature_factor(case["celsius"], 0.00393) == pytest.approx(case["expect"], abs=5.1e-5)


@pytest.mark.parametrize("case", rows("iec-60028-copper", "pair"), ids=lambda case: f"{case['celsius']} C")
@pytest.mark.parametrize("text", ["{ft} ft", "{m} m"])
def test_loop_of_a_pair_in_feet_and_metres(case: dict[str, Any], text: str) -> None:
    length = float(measure(text.format(ft=case["length_ft"], m=case["length_ft"] * FT_M), what="length"))
    factor = temperature_factor(case["celsius"], 0.00393)
    assert loop_ohm(awg_ohm_per_km(case["awg"]), length, factor) == pytest.approx(case["loop_ohm"], abs=0.0051)


def test_standard_pulse_output_allows_its_rate() -> None:
    case = load("iec-62053-31-rate")
    output = Output(key="s0", kind="s0_class_a", closed_ms=Spread.exactly(case["closed_ms"]))
    period = least_period_ms(output, case["closed_ms"], case["open_ms"], math.inf)
    assert 1000.0 / period == pytest.approx(case["rate_hz"], abs=case["tolerance_hz"])


def test_current_sensor_line_reaches_its_limit() -> None:
    case = load("en-60947-5-6-reach")
    per_m = loop_ohm(awg_ohm_per_km(case["awg"]), 1.0, 1.0)
    assert case["line_ohm"] / per_m == pytest.approx(case["length_m"], abs=case["tolerance_m"])


@pytest.mark.parametrize("case", rows("pair-capacitance-edges", "edge"), ids=lambda case: f"{case['pull_up_ohm']:.0f}")
def test_edge_of_a_long_cable(case: dict[str, Any]) -> None:
    chain = chain_of(
        input={"pull_up_ohm": Spread.exactly(case["pull_up_ohm"]), "capacitance_pf": 0.0},
        cable={"capacitance_pf_per_m": case["pf_per_m"]},
        length_m=case["length_m"],
    )
    circuit = circuit_at(chain)
    rise = crossing_ms(0.0, open_level_v(circuit), 2.1, open_tau_ms(circuit))
    assert rise == pytest.approx(case["rise_ms"], abs=case["tolerance_ms"])


@pytest.mark.parametrize("case", rows("battery-budget", "life"), ids=lambda case: f"{case['years']}")
def test_cell_life_by_the_rated_model(case: dict[str, Any]) -> None:
    chain = chain_of(
        input={
            "capacity_mah": case["capacity_mah"],
            "base_ua": case["average_ua"],
            "self_discharge_share": case["self_discharge_share"],
        }
    )
    assert life_years(chain, closed_share=0.0) == pytest.approx(case["years"], abs=0.0051)


@pytest.mark.parametrize("case", rows("battery-budget", "parked"), ids=lambda case: f"{case['pull_up_ohm']:.0f}")
def test_pull_up_that_stays_closed(case: dict[str, Any]) -> None:
    pull = {"supply_v": Spread.exactly(case["supply_v"]), "pull_up_ohm": Spread.exactly(case["pull_up_ohm"])}
    circuit = circuit_at(chain_of(input=pull))
    assert pull_up_ua(circuit, 0.0) * 8766 / 1000 == pytest.approx(case["mah_per_year"], abs=case["tolerance"])


@pytest.mark.parametrize("case", rows("wet-terminal", "damp"), ids=lambda case: f"{case['pull_up_ohm']:.0f}")
def test_wet_terminals(case: dict[str, Any]) -> None:
    pull = {"pull_up_ohm": Spread.exactly(case["pull_up_ohm"])}
    circuit = dataclasses.replace(circuit_at(chain_of(input=pull)), leak_ohm=case["leakage_ohm"])
    assert open_level_v(circuit) == pytest.approx(case["open_v"], abs=0.0005)
    assert line_reads(circuit, open_level_v(circuit)) == case["reads"]
    whole, pull_ohm = load("wet-terminal"), case["pull_up_ohm"]
    assert leak_for_level_ohm(circuit, 2.1) / pull_ohm == pytest.approx(whole["open_share_pull_ups"], abs=0.0005)
    assert leak_for_level_ohm(circuit, 0.9) / pull_ohm == pytest.approx(whole["closed_share_pull_ups"], abs=0.00005)
