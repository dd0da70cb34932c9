"""The shape of a port's error: which fault its pairs name, and from which span of time on."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from dialtrue.domain.faults import COLUMN
from dialtrue.engine.evidence import pair_kernel as pk
from dialtrue.engine.evidence import pair_shape
from dialtrue.engine.evidence.misreading import slip_density
from dialtrue.engine.evidence.pair_shape import OWN_SHARE, first_sights
from dialtrue.engine.onsets import SPANS
from tests.support.cases import case_of, home, reads_of
from tests.support.fleets import fleet_of
from tests.support.looks import looks
from tests.support.weighed import END_DAYS, Weighed, weighed

AT_DAYS = np.array([12.0, 30.0, 47.0, 60.0, 75.0, 90.0])
USE_L_DAY = 500.0


def pen(residual_l: np.ndarray, *, qd: float = 1.0, capacity_l: float = 1e4) -> np.ndarray:
    """Return the density [1/L] that a slip of the pen gives each residual."""
    m = len(residual_l)
    one = np.ones(1)
    fleet = SimpleNamespace(
        quantum_dial_l=qd * one, capacity_dial_l=capacity_l * one, weight_set_l=0.3 * qd * one,
        quantum_index_l=0.3 * qd * one,
    )  # fmt: skip
    pairs = SimpleNamespace(fitting=np.zeros(m, np.int64), bridge_l=np.zeros(m), index_l=residual_l, dial_l=np.zeros(m))
    return slip_density(SimpleNamespace(fleet=fleet, pairs=pairs, start_lag_l=np.zeros(1)))


def after(ratio: float, onset_days: float, *, seed: int = 0, misread_at: int | None = None) -> Weighed:
    """Weigh looks at a count that goes by ``ratio`` from an onset on."""
    random = np.random.default_rng(seed)
    d = np.round(AT_DAYS * USE_L_DAY)
    onset_l = onset_days * USE_L_DAY
    x = np.where(d > onset_l, onset_l + ratio * (d - onset_l), d) + np.round(random.normal(0, 0.4, len(d)))
    given = looks(d, x)
    if misread_at is not None:
        given = given.with_index(misread_at, 900.0)
    return weighed(given, at_days=AT_DAYS, slip=pen(given.x - given.d, capacity_l=1e6))


def span_at(days: float) -> int:
    return 0 if days == 0 else 1 + int(days / END_DAYS * SPANS)


# --- Which fault, and when ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "ratio"),
    [("double_count", 2.0), ("weight_decade", 10.0), ("weight_decade", 0.1), ("unit_slip", 3.785411784),
     ("dead_input", 0.0), ("meter_reversed", -1.0), ("lost_counts", 0.83), ("extra_counts", 1.13)],
)  # fmt: skip
@pytest.mark.parametrize("onset_days", [0.0, 37.5])
def test_each_ratio_is_named_best_and_placed_in_its_span(code: str, ratio: float, onset_days: float) -> None:
    told = after(ratio, onset_days)
    ratios = ("double_count", "weight_decade", "unit_slip", "dead_input", "meter_reversed", "lost_counts",
              "extra_counts")  # fmt: skip
    assert max(ratios, key=lambda name: told.told(name)) == code
    assert told.told(code) > 20.0
    # Between two looks an exact ratio's onset is told from the place where the two lines meet.
    assert abs(int(told.at_onset[code].argmax()) - span_at(onset_days)) <= 1
    assert told.best[code] == pytest.approx(ratio, rel=0.02)


def test_a_true_count_speaks_against_every_fault_but_what_begins_after_the_last_look() -> None:
    told = after(1.0, 0.0)
    last = span_at(AT_DAYS[-1]) + 1
    for code in ("double_count", "weight_decade", "unit_slip", "dead_input", "lost_counts", "extra_counts"):
        assert told.at_onset[code][: last - 2].max() < -2.0
        assert told.at_onset[code][last + 1 :] == pytest.approx(0.0)


def test_one_odd_look_alone_names_no_setting() -> None:
    told = after(1.0, 0.0, misread_at=5)
    for code in ("double_count", "weight_decade", "unit_slip", "lost_counts", "extra_counts"):
        assert told.told(code) < 2.0


def test_a_misread_look_on_the_way_leaves_the_double_count_named() -> None:
    told = after(2.0, 0.0, misread_at=2)
    assert told.told("double_count") > told.told("extra_counts") + 5.0
    assert told.told("double_count") > told.told("unit_slip") + 5.0


def test_a_step_that_stays_is_a_reset_where_the_index_fell() -> None:
    d = np.round(AT_DAYS * USE_L_DAY)
    given = looks(d, np.where(AT_DAYS > 40, d - 9_000.0, d))
    seen, unseen = (weighed(given, at_days=AT_DAYS, falls=falls) for falls in (True, False))
    assert seen.told("index_reset") > 15.0
    assert seen.told("index_reset") - unseen.told("index_reset") == pytest.approx(-pair_shape.UNSEEN_FALL, abs=0.1)
    assert seen.best["index_reset"] == pytest.approx(-9_000.0, abs=2.0)


def test_a_constant_offset_from_the_first_look_is_the_start() -> None:
    d = np.round(AT_DAYS * USE_L_DAY)
    told = weighed(looks(d, d - 2_160.0), at_days=AT_DAYS)
    assert told.static[COLUMN["start_slip"]] > 25.0
    assert told.static[COLUMN["start_slip"]] > told.told("index_reset") + 3.0


def test_one_pulse_in_each_transmission_is_known_by_its_rate() -> None:
    d = np.round(AT_DAYS * USE_L_DAY)
    at_24, beside = (weighed(looks(d, d + rate * AT_DAYS), at_days=AT_DAYS) for rate in (24.0, 30.0))
    # The atom gains what its share holds; any other rate loses no more than what is left of its own.
    assert at_24.told("steady_counts") > beside.told("steady_counts") + 1.0
    assert at_24.best["steady_counts"] == pytest.approx(24.0, abs=0.2)
    assert beside.told("steady_counts") - beside.told("backflow_counted") > np.log(1 - OWN_SHARE) - 0.5


# --- Looks that say nothing new -----------------------------------------------------------------------------------


def test_a_look_that_finds_both_where_they_stood_says_nothing_new() -> None:
    d = np.array([100.0, 200.0, 200.0, 200.0, 300.0])
    x = np.array([100.0, 200.0, 200.0, 240.0, 300.0])
    assert first_sights(d, x, 0.5, 0.5).tolist() == [True, True, False, True, True]


def test_an_empty_house_read_ten_times_is_no_surer_of_its_ratio_than_read_once() -> None:
    once = weighed(looks([1_000.0], [1_990.0]), at_days=np.array([10.0]))
    often = weighed(looks([1_000.0] * 10, [1_990.0] * 10), at_days=np.arange(10.0, 60.0, 5.0))
    assert often.at_onset["extra_counts"][0] == pytest.approx(once.at_onset["extra_counts"][0], abs=1e-9)


# --- Misread dials ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("capacity_l", "step_l"), [(1e3, 0.02), (1e4, 0.1)])
def test_the_slips_of_the_pen_are_a_distribution(capacity_l: float, step_l: float) -> None:
    residual = np.arange(0.5, 9.5 * 9 * capacity_l / 10, step_l)
    assert 2 * pen(residual, capacity_l=capacity_l).sum() * step_l == pytest.approx(1.0, abs=0.05)


def test_a_wrong_figure_and_two_exchanged_ones_are_likelier_than_what_lies_between() -> None:
    one_figure, exchanged, neither = pen(np.array([-3_000.0, 270.0, 1_234.0]))
    assert min(one_figure, exchanged) > 1e3 * max(neither, 1e-9)
    assert pen(np.array([300.0])) == pytest.approx(pen(np.array([-300.0])))


# --- A whole port through its reads -------------------------------------------------------------------------------


def test_the_block_names_a_double_count_that_began_on_the_way_and_says_what_it_saw() -> None:
    pulses = home(90, seed=3, pulses_a_day=300.0)
    counted = pulses.copy()
    counted[24 * 45 :] *= 2
    dial = np.concatenate(([0], np.cumsum(pulses)))
    dials = [(0, 24.0 * day, float(dial[24 * day])) for day in (20, 44, 60, 75, 90)]
    case, onsets = case_of(fleet_of(), reads_of(counted), days=91, dials=dials)
    block = pair_shape.weigh(case, onsets)
    double = block.at_onset["double_count"][0]
    assert double.max() > 20.0
    assert abs(int(double.argmax()) - int(onsets.span_of(case.fleet.fit_us + 45 * pair_shape.DAY_US)[0])) <= 1
    assert block.parameter[0, COLUMN["double_count"]] == 2.0
    _, figures = block.says(0, COLUMN["double_count"])
    assert figures["dial_moved_l"] == pytest.approx(dial[-1])
    assert figures["index_moved_l"] == pytest.approx(counted.sum())
    assert figures["pairs"] == 5


def test_a_port_nobody_looked_at_keeps_a_row_of_zeros() -> None:
    case, onsets = case_of(fleet_of(), reads_of(home(30, seed=1)), days=31)
    block = pair_shape.weigh(case, onsets)
    assert not block.loglik.any()
    assert not any(value.any() for value in block.at_onset.values())
    assert case.notes.pairs_used.tolist() == [0]


def test_many_looks_are_weighed_by_the_first_and_the_last() -> None:
    days = np.arange(1, 41) * 2.0
    dials = [(0, 24.0 * day, 500.0 * day) for day in days]
    reads = [(0, 24.0 * day, int(500 * day), "") for day in np.arange(0, 84)]
    case, onsets = case_of(fleet_of(), reads, days=85, dials=dials)
    pair_shape.weigh(case, onsets)
    assert case.notes.pairs_used.tolist() == [pair_shape.MOST_PAIRS]


def test_what_grows_with_the_clock_is_asked_even_of_looks_that_find_nothing_new() -> None:
    # Counts by the clock in an empty house: the dial stands, the index goes on.
    days = np.arange(10.0, 60.0, 10.0)
    still = weighed(looks([1_000.0] * 5, [1_000.0] * 5), at_days=days)
    going = weighed(looks([1_000.0] * 5, 1_000.0 + 9.0 * days), at_days=days)
    assert still.at_onset["steady_counts"][0] < -1.0
    assert going.at_onset["steady_counts"][0] > 15.0
    assert pk.LOOSE > pk.REGULAR


def test_falls_that_the_reads_show_explain_what_the_looks_lack_step_by_step() -> None:
    """Two resets leave two steps: no single offset fits them, the falls in the reads do."""
    d = np.round(AT_DAYS * USE_L_DAY)
    fallen = np.where(AT_DAYS > 40, 900.0, 0.0) + np.where(AT_DAYS > 65, 2_400.0, 0.0)
    given = looks(d, d - fallen)
    without = weighed(given, at_days=AT_DAYS, falls=True).told("index_reset")
    shown = weighed(given, at_days=AT_DAYS, falls=True, fallen=fallen, span_fallen=span_at(38.0)).told("index_reset")
    assert shown > without + 8.0


def test_an_early_turn_of_a_binary_counter_is_wrong_digits() -> None:
    d = np.round(AT_DAYS * USE_L_DAY)
    turned = looks(d, np.where(AT_DAYS > 40, d - 65_536.0, d))
    told = weighed(turned, at_days=AT_DAYS, falls=True)
    assert told.static[COLUMN["digit_slip"]] > told.told("index_reset")
