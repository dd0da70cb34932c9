"""True courses: pins are met exactly, beyond them the shape goes on, mends do what they say."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from dialtrue.domain.settlement.true_course import (
    Pin,
    TrueCourse,
    days_shape,
    factor_shape,
    rate_shape,
    without_jump,
)

START = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
DAY = dt.timedelta(days=1)


def litres_a_day(moment: dt.datetime) -> Fraction:
    return Fraction((moment - START) // dt.timedelta(seconds=1), 86_400) * 100


def pinned(*pairs: tuple[int, int], shape=litres_a_day, exact: bool = False) -> TrueCourse:
    return TrueCourse(
        tuple(Pin(START + day * DAY, Fraction(volume)) for day, volume in pairs), shape, exact, days_shape
    )


@given(
    st.lists(st.integers(0, 5000), min_size=2, max_size=6).map(sorted),
    st.lists(st.integers(1, 59), min_size=1, max_size=5, unique=True).map(sorted),
)
def test_between_pins_the_parts_add_up_to_the_dial_exactly(volumes, days):
    pins = [(place * 60 // (len(volumes) - 1), volume) for place, volume in enumerate(volumes)]
    true = pinned(*pins)
    edges = [START, *(START + day * DAY for day in days), START + 60 * DAY]
    parts = [true.at(after) - true.at(before) for before, after in pairwise(edges)]
    assert sum(parts) == volumes[-1] - volumes[0]
    assert all(part >= 0 for part in parts)


def test_beyond_the_pins_the_shape_goes_on():
    true = pinned((10, 500), (20, 2500))
    assert true.at(START + 25 * DAY) == 2500 + 500
    assert true.at(START + 5 * DAY) == 500 - 500


def test_where_nothing_was_counted_the_dial_falls_evenly_on_the_days():
    true = pinned((0, 0), (10, 1000), shape=lambda moment: Fraction(7))
    assert true.at(START + 3 * DAY) == 300


def test_a_period_is_differenced_only_where_pins_stand_on_both_sides():
    true = pinned((10, 500), (20, 2500))
    assert true.method(START + 10 * DAY, START + 20 * DAY) == "differenced"
    assert true.method(START + 9 * DAY, START + 20 * DAY) == "estimated"
    assert true.method(START + 10 * DAY, START + 21 * DAY) == "estimated"
    assert pinned((10, 500)).method(START + 10 * DAY, START + 10 * DAY) == "estimated"
    assert pinned(exact=True).method(START, START + DAY) == "exact"
    assert true.pinned_share(START + 15 * DAY, START + 25 * DAY) == Fraction(1, 2)


def test_a_ratio_holds_from_its_day_on():
    shape = factor_shape(litres_a_day, Fraction(2), START + 10 * DAY)
    assert [shape(START + day * DAY) for day in (5, 10, 20)] == [500, 1000, 1500]
    assert factor_shape(litres_a_day, Fraction(1, 10), None)(START + 3 * DAY) == 3000


def test_a_jump_is_taken_out_after_its_moment_only():
    shape = without_jump(litres_a_day, START + DAY, Fraction(-900))
    assert (shape(START + DAY), shape(START + 2 * DAY)) == (100, 1100)


def test_a_rate_replaces_what_was_counted_in_its_span():
    shape = rate_shape(litres_a_day, [(START + 10 * DAY, START + 20 * DAY, Fraction(30))])
    assert [shape(START + day * DAY) for day in (10, 15, 20, 21)] == [1000, 1150, 1300, 1400]
