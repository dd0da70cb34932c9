"""The course of a register: rollovers, falls, and what is asked between readings."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dialtrue.domain.errors import CourseFault
from dialtrue.domain.settlement.course import course_of

NOON = dt.datetime(2026, 1, 1, 12, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
TURN = Fraction(1000)


def course(*shown: int, most_lpm: int | None = None):
    readings = [(NOON + place * HOUR, Fraction(value)) for place, value in enumerate(shown)]
    return course_of(readings, capacity_l=TURN, most_lpm=None if most_lpm is None else Fraction(most_lpm))


@given(st.lists(st.integers(0, 499), min_size=1, max_size=40), st.integers(0, 999))
def test_steps_below_half_a_turn_are_followed_however_often_it_comes_round(steps, first):
    running, shown = first, [first]
    for step in steps:
        running += step
        shown.append(running % 1000)
    assert course(*shown).volume_l[-1] == sum(steps)
    assert course(*shown).falls == ()


def test_a_step_back_that_no_flow_explains_is_a_fall_and_keeps_its_sign():
    found = course(500, 480, 490, most_lpm=10)
    assert found.volume_l == (0, -20, -10)
    assert found.falls == (1,)


def test_what_the_meter_can_pass_tells_a_rollover_from_a_fall():
    assert course(990, 100, most_lpm=2).volume_l[-1] == 110
    assert course(990, 100, most_lpm=1).falls == (1,)


def test_a_billing_read_is_one_that_was_taken_and_a_moment_lies_on_the_line():
    found = course(0, 60)
    half = NOON + HOUR / 2
    assert (found.upto(half), found.at_time(half)) == (0, 30)
    assert (found.upto(NOON - HOUR), found.at_time(NOON - HOUR)) == (0, 0)
    assert (found.upto(NOON + 9 * HOUR), found.at_time(NOON + 9 * HOUR)) == (60, 60)


def test_from_a_later_reading_on_the_falls_move_with_it():
    found = course(10, 500, 480, 490, most_lpm=10).since(1)
    assert found.volume_l == (0, -20, -10)
    assert found.falls == (1,)
    assert found.at[0] == NOON + HOUR


def test_order_does_not_matter_and_a_repeated_reading_is_one():
    rows = [(NOON + HOUR, Fraction(7)), (NOON, Fraction(2)), (NOON + HOUR, Fraction(7))]
    assert course_of(rows, capacity_l=TURN).volume_l == (0, 5)


def test_no_reading_and_two_that_differ_are_refused():
    with pytest.raises(CourseFault, match="no reading"):
        course_of([], capacity_l=TURN)
    with pytest.raises(CourseFault, match="differ"):
        course_of([(NOON, Fraction(1)), (NOON, Fraction(2))], capacity_l=TURN)
