"""The moment of a look back, as a person writes it."""

from __future__ import annotations

import datetime as dt

import pytest

from dialtrue.domain.errors import BadMoment, MomentAhead
from dialtrue.services.as_of import moment_named

NOW = dt.datetime(2026, 6, 1, 12, tzinfo=dt.UTC)


def named(text: str) -> dt.datetime:
    return moment_named(text, zone="America/Chicago", now=NOW)


def test_a_time_without_an_offset_is_in_the_programmes_zone() -> None:
    assert named("2026-03-31 14:05") == dt.datetime(2026, 3, 31, 19, 5, tzinfo=dt.UTC)


def test_a_day_means_with_that_day_across_a_clock_change() -> None:
    # 8 March 2026 has 23 hours in Chicago.
    assert named("2026-03-08") == dt.datetime(2026, 3, 9, 5, tzinfo=dt.UTC) - dt.timedelta(microseconds=1)


def test_today_means_until_now() -> None:
    assert named("2026-06-01") == NOW


@pytest.mark.parametrize("text", ["2026-06-02", "2026-06-01T12:00:01Z", "2027-01-01 00:00"])
def test_a_moment_that_has_not_come_is_refused(text: str) -> None:
    with pytest.raises(MomentAhead, match=text):
        named(text)


@pytest.mark.parametrize("text", ["", "yesterday", "31/03/2026", "2026-13-01", "2026-02-30", "9999-12-31T23:59-23:00x"])
def test_what_is_no_moment_is_refused(text: str) -> None:
    with pytest.raises(BadMoment):
        named(text)


def test_the_last_day_that_can_be_written_is_ahead_and_no_crash() -> None:
    with pytest.raises((BadMoment, MomentAhead)):
        named("9999-12-31")
