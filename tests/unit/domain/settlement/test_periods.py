"""Billing periods: calendars, local edges across summer time, overlaps refused."""

from __future__ import annotations

import datetime as dt
import itertools
from fractions import Fraction

import pytest

from dialtrue.domain.errors import PeriodFault
from dialtrue.domain.settlement.periods import Period, calendar_periods, checked_periods, month_name, rounded_parts


def day(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


@pytest.mark.parametrize(
    ("every", "first", "last", "edges"),
    [
        ("month", "2025-12-15", "2026-01-01", ["2025-12-01", "2026-01-01", "2026-02-01"]),
        ("two_months", "2026-02-28", "2026-03-01", ["2026-01-01", "2026-03-01", "2026-05-01"]),
        ("quarter", "2026-06-30", "2026-06-30", ["2026-04-01", "2026-07-01"]),
    ],
)
def test_a_calendar_covers_the_days_asked_for_without_a_gap(every, first, last, edges):
    found = list(calendar_periods(day(first), day(last), every=every))
    assert [str(period.start) for period in found] + [str(found[-1].end)] == edges
    assert all(before.end == after.start for before, after in itertools.pairwise(found))


def test_edges_are_local_midnights_on_both_sides_of_summer_time():
    start, end = Period(day("2026-03-01"), day("2026-04-01")).edges("America/Chicago")
    assert (start.hour, end.hour) == (6, 5)
    assert end - start == dt.timedelta(days=31, hours=-1)


def test_bills_may_miss_but_not_overlap():
    january, march = Period(day("2026-01-01"), day("2026-02-01")), Period(day("2026-03-01"), day("2026-04-01"))
    assert checked_periods([march, january]) == [january, march]
    with pytest.raises(PeriodFault, match="overlap"):
        checked_periods([january, Period(day("2026-01-31"), day("2026-03-01"))])
    with pytest.raises(PeriodFault, match="no day"):
        checked_periods([Period(day("2026-01-01"), day("2026-01-01"))])


def test_a_whole_month_has_its_name_and_anything_else_its_days():
    assert month_name(Period(day("2024-02-01"), day("2024-03-01"))) == "February 2024"
    assert month_name(Period(day("2024-02-01"), day("2024-02-29"))) == "01 Feb 2024 to 29 Feb 2024"


def test_without_a_step_parts_stay_exact_and_half_a_step_goes_up():
    edges = [Fraction(0), Fraction(1, 3), Fraction(1)]
    assert rounded_parts(edges, None) == [Fraction(1, 3), Fraction(2, 3)]
    assert rounded_parts([Fraction(0), Fraction(1, 2)], Fraction(1)) == [1]
