"""What a read fails, and which steps are trusted."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dialtrue.domain.difference import register_difference
from dialtrue.domain.read_checks.estimates import spike
from dialtrue.domain.read_checks.rules import rule_text
from dialtrue.engine.read_checks import NO_END, NO_LINK, STEP_KINDS, mark_spikes, still_since, use_by_month
from dialtrue.engine.read_checks import _kind_of as kind_of
from tests.support.read_runs import DAY_US, HOUR_US, MONDAY_US, Filled, Reads, hourly


def said(filled: Filled) -> list[str]:
    return [rule_text(int(bits)) for bits in filled.reads.said]


@settings(deadline=None)
@given(
    st.integers(0, 9999), st.integers(0, 9999), st.sampled_from([100, 1000, 10_000]), st.integers(0, 40),
    st.sampled_from([0, 1, 16, 250]),
)  # fmt: skip
def test_a_step_is_what_the_scalar_difference_says(one: int, two: int, capacity: int, hours: int, flow: int) -> None:
    exact = register_difference(one, two, capacity=capacity, at_most=flow * hours, digit=1)
    kind, d = kind_of(one % capacity, two % capacity, hours * 1024, capacity, flow / 1024)
    assert STEP_KINDS[kind] == exact.kind
    if exact.volume is not None:
        assert Fraction(int(d)) == exact.volume


def test_good_reads_are_left_alone_and_linked_to_the_one_before() -> None:
    filled = hourly(0, [3, 0, 4]).filled()
    assert said(filled) == [""] * 4
    assert filled.reads.before.tolist() == [NO_LINK, 0, 1, 2]
    assert filled.reads.step.tolist() == [0, 3, 0, 4]


def test_a_mistake_in_one_read_is_passed_over() -> None:
    reads = hourly(0, [3, 3, 3, 3])
    reads.capacity[0], reads.most_per_h[0] = 10**6, 50
    port, at, _, flag, known = reads.rows[2]
    reads.rows[2] = (port, at, 5000, flag, known)
    filled = reads.filled()
    assert said(filled) == ["", "", "impossible_step", "", ""]
    assert filled.reads.before.tolist() == [NO_LINK, 0, NO_END, 1, 3]
    assert filled.reads.step[3] == 6


def test_a_read_too_high_that_the_flow_allows_is_found_by_the_fall_after_it() -> None:
    reads = hourly(0, [3, 3, 3, 3])
    reads.capacity[0], reads.most_per_h[0] = 10**6, 5000
    port, at, _, flag, known = reads.rows[2]
    reads.rows[2] = (port, at, 1500, flag, known)
    filled = reads.filled()
    assert said(filled) == ["", "", "negative_step", "", ""]
    assert filled.reads.step.tolist() == [0, 3, 0, 6, 3]


def test_a_reset_breaks_the_chain_and_both_ends_stand() -> None:
    reads = Reads(capacity={0: 10**6}, most_per_h={0: 50})
    for k, index in enumerate([9000, 9010, 9020, 0, 10, 20]):
        reads.add(0, MONDAY_US + k * HOUR_US, index)
    filled = reads.filled()
    assert said(filled) == ["", "", "", "impossible_step", "", ""]
    assert filled.reads.before.tolist() == [NO_LINK, 0, 1, NO_LINK, 3, 4]


def test_a_legal_rollover_passes_with_the_right_step() -> None:
    reads = Reads(capacity={0: 1000}, most_per_h={0: 50})
    for k, index in enumerate([980, 990, 2, 12]):
        reads.add(0, MONDAY_US + k * HOUR_US, index)
    filled = reads.filled()
    assert said(filled) == [""] * 4
    assert filled.reads.step.tolist() == [0, 10, 12, 10]


def test_turns_that_cannot_be_counted_are_said() -> None:
    reads = Reads(capacity={0: 1000}, most_per_h={0: 50})
    reads.add(0, MONDAY_US, 10).add(0, MONDAY_US + 3 * DAY_US, 20)
    assert said(reads.filled()) == ["", "turns_unknown"]


def test_no_step_goes_across_a_new_fitting() -> None:
    reads = hourly(0, [3, 3])
    reads.breaks[0] = [MONDAY_US + HOUR_US + 1]
    assert reads.filled().reads.before.tolist() == [NO_LINK, 0, NO_LINK]


@pytest.mark.parametrize(("hours_later", "words"), [(0, ["stamp_twice", "stamp_twice"]), (7, ["corrected", ""])])
def test_reads_of_one_moment_that_differ(hours_later: int, words: list[str]) -> None:
    reads = hourly(0, [3, 3])
    at = MONDAY_US + HOUR_US
    reads.add(0, at, 1002, known_us=at + hours_later * HOUR_US)
    got = said(reads.filled())
    assert sorted([got[1], got[2]]) == sorted(words)
    assert got[0] == got[3] == ""


def test_a_copy_is_no_failure() -> None:
    reads = hourly(0, [3, 3])
    reads.rows.append(reads.rows[1])
    assert said(reads.filled()) == ["", "", "copy", ""]


def test_a_stamp_ahead_of_its_arrival_or_of_the_run_is_said() -> None:
    reads = hourly(0, [3, 3])
    reads.add(0, MONDAY_US + 3 * HOUR_US, 1010, known_us=MONDAY_US + 2 * HOUR_US)
    assert said(reads.filled()) == ["", "", "", "stamp_ahead"]
    assert said(hourly(0, [3, 3]).filled(now_us=MONDAY_US + HOUR_US)) == ["", "", "stamp_ahead"]


def test_an_index_with_too_many_digits_is_said() -> None:
    reads = hourly(0, [3], start=999)
    reads.capacity[0] = 1000
    assert said(reads.filled()) == ["", "too_many_digits"]


def test_what_the_sender_marked_is_the_end_of_no_step() -> None:
    reads = hourly(0, [3, 3, 3])
    reads.rows[1] = (*reads.rows[1][:3], 1, reads.rows[1][4])
    reads.rows[2] = (*reads.rows[2][:3], 2, reads.rows[2][4])
    filled = reads.filled()
    assert said(filled) == ["", "sent_as_estimated", "sent_as_repeated", ""]
    assert filled.reads.before.tolist() == [NO_LINK, NO_END, NO_END, 0]


@pytest.mark.parametrize("highest", [84, 85, 90])
def test_the_spike_check_is_the_published_one(highest: int) -> None:
    filled = hourly(0, [30, 31, highest, 30, 5]).filled()
    months = np.array([MONDAY_US, MONDAY_US + 30 * DAY_US])
    mark_spikes(filled.reads, months, filled.cadence_us, ratio=1.8, least=5)
    fails = spike(highest, 30)
    assert said(filled) == ["", "", "", "spike" if fails else "", "", ""]
    assert fails is (highest > 84)


def test_the_months_are_looked_at_one_by_one_and_the_last_counts() -> None:
    filled = hourly(0, [10, 10, 99, 10, 10, 10, 10, 99]).filled()
    months = np.array([MONDAY_US, MONDAY_US + 4 * HOUR_US, MONDAY_US + 30 * DAY_US])
    mark_spikes(filled.reads, months, filled.cadence_us, ratio=1.8, least=5)
    assert [k for k, words in enumerate(said(filled)) if words] == [3, 8]


def test_use_by_month_adds_up_to_all_that_passed() -> None:
    filled = hourly(0, [1, 2, 3, 4]).filled()
    months = np.array([MONDAY_US, MONDAY_US + 2 * HOUR_US, MONDAY_US + 30 * DAY_US])
    volume, lasted = use_by_month(filled.reads, months)
    assert volume.tolist() == [[3, 7]]
    assert lasted.tolist() == [[2 * HOUR_US, 2 * HOUR_US]]


def test_when_the_index_last_moved() -> None:
    moved, last = still_since(hourly(0, [1, 2, 0, 0]).filled().reads)
    assert (moved[0], last[0]) == (MONDAY_US + 2 * HOUR_US, MONDAY_US + 4 * HOUR_US)


def test_one_read_alone_is_no_trouble() -> None:
    filled = Reads().add(0, MONDAY_US, 5).filled()
    assert said(filled) == [""]
    assert filled.cadence_us.tolist() == [0]
    assert len(filled.gaps.run) == 0
