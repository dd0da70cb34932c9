"""Estimates of days: like days keep weekdays apart, history looks at the season, the fleet at its middle."""

from __future__ import annotations

import datetime as dt
import math
from fractions import Fraction

import pytest

from dialtrue.domain.settlement.course import Course
from dialtrue.domain.settlement.like_days import (
    FLEET_SPREAD,
    LIKE_DRIFT,
    DayUse,
    fleet_profile,
    kind_of_day,
    like_days,
    own_history,
)

ZONE = "America/Chicago"
FIRST = dt.datetime(2026, 1, 5, 6, tzinfo=dt.UTC)  # Monday, midnight local


def hourly(days: int, litres_of: dict[int, int], first: dt.datetime = FIRST) -> Course:
    """Return a register read every hour, its use by weekday, even over the day."""
    at, volume = [first], [Fraction(0)]
    for hour in range(days * 24):
        use = litres_of.get((first + dt.timedelta(hours=hour, minutes=-360)).weekday(), 240)
        at.append(at[-1] + dt.timedelta(hours=1))
        volume.append(volume[-1] + Fraction(use, 24))
    return Course(tuple(at), tuple(volume))


def test_each_weekday_stands_in_for_itself():
    found = like_days(hourly(28, {5: 1200}), until=FIRST + dt.timedelta(days=28), zone=ZONE)
    assert found.kinds["Sat"][0] == 1200
    assert found.kinds["Tue-Thu"][0] == 240
    assert found.volume(dt.date(2026, 2, 2), 7)[0] == 6 * 240 + 1200
    assert found.volume(dt.date(2026, 2, 2), 23)[0] == 23 * 240 + 3 * 960  # Saturdays 7, 14, 21


def test_days_after_the_onset_and_days_read_once_a_month_do_not_count():
    course = hourly(28, {})
    assert like_days(course, until=FIRST + dt.timedelta(days=2, hours=23), zone=ZONE) is None
    assert like_days(course, until=FIRST + dt.timedelta(days=3), zone=ZONE) is not None
    monthly = Course((FIRST, FIRST + dt.timedelta(days=30)), (Fraction(0), Fraction(9000)))
    assert like_days(monthly, until=FIRST + dt.timedelta(days=30), zone=ZONE) is None


def test_a_day_of_twenty_three_hours_is_a_day():
    """Summer time begins on 8 March 2026 in this zone."""
    first = dt.datetime(2026, 3, 2, 6, tzinfo=dt.UTC)
    found = like_days(hourly(10, {}, first), until=dt.datetime(2026, 3, 12, 5, tzinfo=dt.UTC), zone=ZONE)
    assert found.kinds["any"][0] == Fraction(240 * 9 + 230, 10)


def test_the_range_is_wider_above_and_does_not_shrink_with_the_days():
    found = like_days(hourly(28, {}), until=FIRST + dt.timedelta(days=28), zone=ZONE)
    for days in (1, 7, 60):
        volume, below, above = found.volume(dt.date(2026, 2, 2), days)
        assert below == pytest.approx(LIKE_DRIFT[0] * float(volume))
        assert above == pytest.approx(LIKE_DRIFT[1] * float(volume))


def test_days_spread_by_their_root_and_errors_of_the_mean_add_up():
    use = DayUse("like_days", {"any": (Fraction(100), 30.0, 4.0)}, "")
    volume, below, above = use.volume(dt.date(2026, 2, 2), 16)
    assert volume == 1600
    assert below == above == pytest.approx(math.sqrt(16 * 30**2 + (16 * 4) ** 2))
    assert use.volume(dt.date(2026, 2, 2), 0) == (0, 0.0, 0.0)


def test_history_takes_the_season_where_it_has_one_across_new_year():
    winter = (dt.date(2024, 12, 15), dt.date(2025, 1, 15), Fraction(3100))
    summer = (dt.date(2025, 6, 1), dt.date(2025, 7, 1), Fraction(30_000))
    found = own_history([winter, summer], first=dt.date(2026, 1, 2), last=dt.date(2026, 1, 20))
    assert (found.kinds["any"][0], found.seasonal) == (100, True)
    found = own_history([winter, summer], first=dt.date(2026, 4, 1), last=dt.date(2026, 4, 20))
    assert (found.kinds["any"][0], found.seasonal) == (Fraction(33_100, 61), False)
    assert own_history([(winter[0], winter[0], Fraction(1))], first=winter[0], last=winter[1]) is None


def test_the_fleet_needs_five_and_answers_with_the_middle_one():
    assert fleet_profile([Fraction(1)] * 4) is None
    found = fleet_profile([Fraction(value) for value in (0, 300, 400, 500, 90_000)])
    volume, below, above = found.volume(dt.date(2026, 2, 2), 10)
    assert volume == 4000
    assert below == above == pytest.approx(FLEET_SPREAD * 4000)


def test_tuesday_to_thursday_are_one_kind_and_a_kind_without_days_is_any():
    kinds = {"Tue-Thu": 0, "any": 0}
    assert [kind_of_day(dt.date(2026, 2, number), kinds) for number in (3, 4, 5, 6)] == ["Tue-Thu"] * 3 + ["any"]
