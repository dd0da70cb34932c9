"""Gaps found by a port's own cadence, and filled."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from dialtrue.domain.read_checks.estimates import between
from dialtrue.domain.read_checks.rules import FILL_RULES
from tests.support.read_runs import DAY_US, HOUR_US, MONDAY_US, RULES, Filled, Reads, hourly

HALF_HOUR_US = HOUR_US // 2
MONTH = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]


def rules_of(filled: Filled) -> list[str]:
    return [FILL_RULES[rule] if rule >= 0 else str(rule) for rule in filled.gaps.rule]


def without(reads: Reads, *rows: int) -> Reads:
    reads.rows = [row for k, row in enumerate(reads.rows) if k not in rows]
    return reads


def test_three_reads_between_100_and_112() -> None:
    reads = without(hourly(0, [3] * 40, start=100 - 60, step_us=HALF_HOUR_US), 21, 22, 23)
    filled = reads.filled()
    assert rules_of(filled) == ["interpolated"]
    assert filled.made.index.tolist() == between(100, 112, 3) == [103, 106, 109]
    assert np.diff(filled.made.at_us).tolist() == [HALF_HOUR_US] * 2


def test_a_longer_gap_takes_the_shape_of_like_days_and_meets_the_difference() -> None:
    day = [0] * 6 + [10, 20, 5] + [1] * 9 + [8, 12, 4] + [0] * 3
    uses = day * 30
    # Wednesday of the third week, six in the morning to noon, is missing.
    begin = (14 + 2) * 24 + 6
    filled = without(hourly(0, uses), *range(begin + 1, begin + 6)).filled()
    assert rules_of(filled) == ["like_days"]
    before = 1000 + sum(uses[:begin])
    assert filled.made.index.tolist() == [before + sum(day[6 : 6 + k]) for k in range(1, 6)]


def test_a_saturday_is_filled_from_saturdays() -> None:
    week, weekend = [4] * 24, [0] * 12 + [8] * 12
    uses = (week * 5 + weekend * 2) * 5
    begin = (14 + 5) * 24
    filled = without(hourly(0, uses), *range(begin + 1, begin + 24)).filled()
    assert rules_of(filled) == ["like_days"]
    steps = np.diff(np.concatenate(([1000 + sum(uses[:begin])], filled.made.index)))
    assert steps[:12].tolist() == [0] * 12
    assert steps[12:].tolist() == [8] * 11


def test_the_shape_is_scaled_to_what_passed() -> None:
    uses = [2] * 24 * 21
    uses[300:310] = [20] * 10
    filled = without(hourly(0, uses), *range(301, 310)).filled()
    assert np.diff(filled.made.index).tolist() == [20] * 8


def test_hours_are_taken_in_local_time() -> None:
    # Water runs from 06:00 to 07:00 local, which is 14:00 UTC eight hours west.
    day = [0] * 14 + [50] + [0] * 9
    filled = without(hourly(0, day * 21), *range(240 + 12, 240 + 18)).filled(offset_us=-8 * HOUR_US)
    assert filled.made.index.tolist() == [1500, 1500, 1500, 1550, 1550, 1550]


def test_other_days_stand_in_where_there_are_no_two_like_days() -> None:
    uses = [2] * 24 * 6
    filled = without(hourly(0, uses), *range(24 * 5 + 3, 24 * 5 + 20)).filled()
    assert rules_of(filled) == ["own_history"]


def test_an_index_comes_round_within_a_gap() -> None:
    reads = without(hourly(0, [3] * 40, start=950, step_us=HALF_HOUR_US), 16, 17, 18)
    reads.rows = [(port, at, index % 1000, flag, known) for port, at, index, flag, known in reads.rows]
    reads.capacity[0], reads.most_per_h[0] = 1000, 50
    filled = reads.filled()
    assert filled.made.index.tolist() == [998, 1, 4]
    assert filled.made.low.tolist() == filled.made.high.tolist() == [998, 1, 4]


def test_nothing_is_estimated_across_a_reset() -> None:
    reads = hourly(0, [3] * 20, start=100)
    reads.capacity[0], reads.most_per_h[0] = 10**6, 5
    for k in range(10):
        reads.add(0, MONDAY_US + (30 + k) * HOUR_US, 3 * k)
    filled = reads.filled()
    assert len(filled.gaps.run) == 0


@pytest.mark.parametrize(("past", "rule"), [(False, "own_history"), (True, "interpolated")])
def test_a_straight_line_ends_beside_an_alarm_only_if_that_is_set(past: bool, rule: str) -> None:
    reads = without(hourly(0, [3] * 40), 20)
    rules = dataclasses.replace(RULES, past_alarm=past)
    filled = reads.filled(rules=rules, alarms={0: [MONDAY_US + 19 * HOUR_US + 5]})
    assert rules_of(filled) == [rule]
    far = without(hourly(0, [3] * 40), 20).filled(rules=RULES, alarms={0: [MONDAY_US + 30 * HOUR_US]})
    assert rules_of(far) == ["interpolated"]


def test_a_port_that_is_read_daily_from_some_day_on_has_no_gaps() -> None:
    reads = hourly(0, [3] * 200)
    at, index = reads.rows[-1][1:3]
    for k in range(1, 15):
        reads.add(0, at + k * DAY_US, index + 70 * k)
    assert len(reads.filled().gaps.run) == 0


def test_a_day_missing_among_daily_reads_of_a_port_once_hourly_is_one_read() -> None:
    reads = hourly(0, [3] * 200)
    at, index = reads.rows[-1][1:3]
    for k in range(1, 15):
        if k != 7:
            reads.add(0, at + k * DAY_US, index + 72 * k)
    filled = reads.filled()
    assert filled.gaps.missing.tolist() == [1]
    assert filled.made.index.tolist() == [index + 72 * 7]


def test_months_are_no_gaps_though_they_differ_and_a_missing_one_is() -> None:
    reads, at, index = Reads(), MONDAY_US, 0
    for k, days in enumerate(MONTH * 2):
        if k != 13:
            reads.add(0, at, index)
        at, index = at + days * DAY_US, index + days * 100
    filled = reads.filled()
    assert filled.gaps.missing.tolist() == [1]
    assert abs(int(filled.made.index[0]) - (365 + 31) * 100) <= 200


def test_an_open_end_goes_on_with_like_days_and_widens() -> None:
    day = [0] * 6 + [10, 20, 5] + [1] * 9 + [8, 12, 4] + [0] * 3
    rng = np.random.default_rng(5)
    uses = [int(rng.poisson(use)) for use in day * 28]
    filled = hourly(0, uses).filled(until_us=MONDAY_US + 35 * DAY_US)
    assert rules_of(filled) == ["like_days"]
    made = filled.made
    assert len(made.index) == 7 * 24
    assert made.index[-1] - (1000 + sum(uses)) == pytest.approx(7 * sum(day), rel=0.1)
    width = made.high - made.low
    assert width[-1] > width[23] > 0


def test_nothing_is_said_of_an_open_end_without_history() -> None:
    reads = Reads().add(0, MONDAY_US, 5)
    assert len(reads.filled(until_us=MONDAY_US + 9 * DAY_US).gaps.run) == 0


def test_a_gap_longer_than_is_filled_is_left_open() -> None:
    reads = without(hourly(0, [3] * 400), *range(100, 200))
    filled = reads.filled(rules=dataclasses.replace(RULES, longest_us=2 * DAY_US))
    assert rules_of(filled) == ["-2"]
    assert len(filled.made.at_us) == 0


def test_a_read_that_is_set_aside_keeps_its_place_without_an_estimate() -> None:
    reads = without(hourly(0, [3] * 40), 20, 22)
    reads.rows = [(*row[:3], 1, row[4]) if row[1] == MONDAY_US + 21 * HOUR_US else row for row in reads.rows]
    filled = reads.filled()
    assert filled.gaps.missing.tolist() == [3]
    assert filled.made.at_us.tolist() == [MONDAY_US + 20 * HOUR_US, MONDAY_US + 22 * HOUR_US]


def test_any_course_may_be_where_the_port_was_never_seen_to_use_water() -> None:
    uses = [0] * 24 * 21
    uses[300:310] = [20] * 10
    made = without(hourly(0, uses), *range(301, 310)).filled().made
    assert made.index.tolist() == [1000 + 20 * k for k in range(1, 10)]
    assert set(made.low.tolist()) == {1000}
    assert set(made.high.tolist()) == {1200}


def test_a_constant_use_has_a_narrow_interval_and_a_changing_one_a_wide_one() -> None:
    rng = np.random.default_rng(8)
    still = without(hourly(0, [4] * 24 * 28), *range(301, 310)).filled().made
    moving = without(hourly(0, rng.poisson(4, 24 * 28).tolist()), *range(301, 310)).filled().made
    assert np.array_equal(still.low, still.high)
    assert (moving.high - moving.low > 4)[:-1].all()


def test_a_day_of_estimates_holds_the_truth_nine_times_in_ten() -> None:
    rng = np.random.default_rng(12)
    held = total = 0
    for _ in range(40):
        day = rng.gamma(1.2, 6, 24)
        uses = [int(use) for _ in range(35) for use in rng.poisson(day * rng.gamma(6, 1 / 6))]
        reads = hourly(0, uses)
        begin = 15 * 24 + 5
        truth = np.array([row[2] for row in reads.rows[begin + 1 : begin + 24]])
        made = without(reads, *range(begin + 1, begin + 24)).filled().made
        held += int(((made.low <= truth) & (truth <= made.high)).sum())
        total += len(truth)
    assert 0.8 < held / total <= 1.0
