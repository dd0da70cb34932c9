"""Counting a burst through circuit, thresholds and filter."""

from __future__ import annotations

import pytest

from dialtrue.domain.pulse_chain.burst import count_burst, line_edges, pulse_train
from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.corners import CORNERS, Spread
from dialtrue.domain.pulse_chain.levels import circuit_at, fall_ms, rise_ms
from tests.support.chains import chain_of


def counted(chain: Chain, *, closed: float, pause: float, pulses: int = 7, **bounce: float) -> int:
    train = pulse_train(pulses=pulses, closed_ms=closed, open_ms=pause, start_ms=50.0, **bounce)  # type: ignore[arg-type]
    return count_burst(circuit_at(chain), chain.input, train).counted


def test_every_pulse_of_a_good_burst_counts_at_every_corner() -> None:
    chain = chain_of(input={"pull_up_ohm": Spread.share(47_000.0, 0.05), "threshold_spread_v": 0.1})
    train = pulse_train(pulses=20, closed_ms=75.0, open_ms=300.0, start_ms=10.0, bounces=3, bounce_ms=5.0)
    for corner in CORNERS:
        assert count_burst(circuit_at(chain, corner=corner), chain.input, train).counted == 20


def test_closed_time_is_counted_from_the_filter_on() -> None:
    chain = chain_of()
    fall = fall_ms(circuit_at(chain))
    assert counted(chain, closed=25.0 + 2 * fall, pause=200.0) == 7
    assert counted(chain, closed=24.0, pause=200.0) == 0


def test_pauses_too_short_merge_pulses() -> None:
    assert counted(chain_of(), closed=100.0, pause=20.0) == 1


def test_bounce_longer_than_no_filter_counts_more() -> None:
    bare = chain_of(input={"debounce_ms": 0.0})
    assert counted(bare, closed=75.0, pause=75.0, pulses=4, bounces=2, bounce_ms=4.0) == 12
    assert counted(chain_of(), closed=75.0, pause=75.0, pulses=4, bounces=2, bounce_ms=4.0) == 4


def test_both_edges_count_twice() -> None:
    assert counted(chain_of(input={"edges": "both"}), closed=75.0, pause=75.0) == 14


def test_line_edges_come_at_the_edge_times() -> None:
    circuit = circuit_at(chain_of())
    (down, _), (up, _) = line_edges(circuit, pulse_train(pulses=1, closed_ms=50.0, open_ms=50.0))
    assert down == pytest.approx(fall_ms(circuit))
    assert up == pytest.approx(50.0 + rise_ms(circuit))


def test_line_that_has_not_risen_falls_from_where_it_is() -> None:
    slow = chain_of(input={"pull_up_ohm": Spread.exactly(1e6)}, cable={"capacitance_pf_per_m": 1e4})
    circuit = circuit_at(slow)
    train = pulse_train(pulses=3, closed_ms=50.0, open_ms=0.5 * rise_ms(circuit))
    assert len(line_edges(circuit, train)) == 2


def test_line_that_never_reads_open_counts_nothing() -> None:
    assert counted(chain_of(output={"off_leak_ua": 60.0}), closed=75.0, pause=75.0) == 0


def test_sampled_input_counts_what_its_looks_hit() -> None:
    sampled = chain_of(input={"scheme": "sampled", "sample_period_ms": 20.0, "debounce_ms": None})
    assert counted(sampled, closed=75.0, pause=75.0) == 7
    slow = chain_of(input={"scheme": "sampled", "sample_period_ms": 150.0, "debounce_ms": None})
    train = pulse_train(pulses=7, closed_ms=75.0, open_ms=75.0)
    assert count_burst(circuit_at(slow), slow.input, train, sample_phase_ms=100.0).counted == 0


def test_two_equal_looks_are_asked_for() -> None:
    entry = {"scheme": "sampled", "sample_period_ms": 30.0, "samples_to_confirm": 2, "debounce_ms": None}
    assert counted(chain_of(input=entry), closed=75.0, pause=75.0) == 7
    assert counted(chain_of(input=entry), closed=29.0, pause=75.0) == 0


def test_empty_burst_counts_nothing() -> None:
    chain = chain_of()
    assert count_burst(circuit_at(chain), chain.input, []).counted == 0
