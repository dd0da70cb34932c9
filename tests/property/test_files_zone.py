"""Naive times agree with the standard library's zones, in and around skipped and repeated hours."""

from __future__ import annotations

import datetime as dt
import random
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from dialtrue.files.zone import FoldOrder, local_to_utc

ZONES = [
    "UTC", "America/Chicago", "Europe/Rome", "Australia/Lord_Howe", "America/St_Johns", "Asia/Kolkata",
    "Africa/Casablanca",
    "Pacific/Apia", "America/Caracas", "Antarctica/Troll", "Europe/Dublin", "Asia/Tehran",
]  # fmt: skip
EPOCH = dt.datetime(1970, 1, 1)  # noqa: DTZ001
US = dt.timedelta(microseconds=1)


def by_library(naive: dt.datetime, zone: str, fold: int) -> int:
    aware = naive.replace(tzinfo=ZoneInfo(zone), fold=fold).astimezone(dt.UTC)
    return (aware.replace(tzinfo=None) - EPOCH) // US


def kind(naive: dt.datetime, zone: str) -> str:
    """Return gap, fold or plain, by the library's two readings."""
    first, second = (by_library(naive, zone, fold) for fold in (0, 1))
    return "plain" if first == second else "fold" if second > first else "gap"


naive_times = st.datetimes(dt.datetime(1995, 1, 1), dt.datetime(2037, 12, 31))  # noqa: DTZ001


@settings(max_examples=300, deadline=None)
@given(naive=naive_times, zone=st.sampled_from(ZONES))
@example(naive=dt.datetime(2026, 3, 8, 2, 30), zone="America/Chicago")  # noqa: DTZ001
@example(naive=dt.datetime(2025, 11, 2, 1, 0), zone="America/Chicago")  # noqa: DTZ001
@example(naive=dt.datetime(2025, 11, 2, 2, 0), zone="America/Chicago")  # noqa: DTZ001
@example(naive=dt.datetime(2011, 12, 30, 12), zone="Pacific/Apia")  # noqa: DTZ001
@example(naive=dt.datetime(2026, 4, 5, 1, 45), zone="Australia/Lord_Howe")  # noqa: DTZ001
def test_any_time_agrees_with_the_library(naive: dt.datetime, zone: str) -> None:
    check([naive], zone)


def check(moments: list[dt.datetime], zone: str) -> None:
    local = np.array([(moment - EPOCH) // US for moment in moments], np.int64)
    times = local_to_utc(local, zone)
    assert times.utc_us.tolist() == [by_library(moment, zone, 0) for moment in moments]
    kinds = [kind(moment, zone) for moment in moments]
    assert times.gap.tolist() == [k == "gap" for k in kinds]
    assert times.fold.tolist() == [k == "fold" for k in kinds]
    seconds = [by_library(m, zone, 1 if k == "fold" else 0) for m, k in zip(moments, kinds, strict=True)]
    assert times.second_utc_us.tolist() == seconds


@pytest.mark.parametrize("zone", ZONES)
def test_minutes_around_every_change_agree_with_the_library(zone: str) -> None:
    rng = random.Random(zone)
    changes = []
    hour = dt.timedelta(hours=1)
    moment = dt.datetime(2010, 1, 1, tzinfo=dt.UTC)
    while moment.year < 2028:
        if moment.astimezone(ZoneInfo(zone)).utcoffset() != (moment + 12 * hour).astimezone(ZoneInfo(zone)).utcoffset():
            changes.append(moment.astimezone(ZoneInfo(zone)).replace(tzinfo=None))
        moment += 12 * hour
    around = [at + dt.timedelta(minutes=rng.randrange(-120, 960)) for at in changes for _ in range(60)]
    if around:
        check(around, zone)


@settings(max_examples=60, deadline=None)
@given(
    zone=st.sampled_from(["America/Chicago", "Europe/Rome", "Australia/Lord_Howe"]),
    year=st.integers(2008, 2036),
    step_min=st.sampled_from([5, 15, 30, 60]),
    backwards=st.booleans(),
    series=st.integers(1, 3),
)
def test_regular_series_through_a_year_comes_back_exactly(
    zone: str, year: int, step_min: int, backwards: bool, series: int
) -> None:
    # An hourly stamp meets a repeated half hour once: no order of rows can tell which of the two it was.
    assume(zone != "Australia/Lord_Howe" or step_min < 60)
    start = dt.datetime(year, 1, 1, tzinfo=dt.UTC)
    days = [start + dt.timedelta(days=n) for n in range(366)]
    shifts = [day.astimezone(ZoneInfo(zone)).utcoffset() for day in days]
    # Only the two days about a change matter.
    changed = [days[n - 1] for n in range(1, len(days)) if shifts[n] != shifts[n - 1]]
    kept = [day + dt.timedelta(minutes=step_min) * n for day in changed for n in range(48 * 60 // step_min)]
    rows = [(key, moment) for key in range(series) for moment in kept]
    rows = rows[::-1] if backwards else rows
    local = np.array([(m.astimezone(ZoneInfo(zone)).replace(tzinfo=None) - EPOCH) // US for _, m in rows], np.int64)
    times = local_to_utc(local, zone)
    settled = FoldOrder().settle(local, times, np.array([key for key, _ in rows]))
    assert settled.tolist() == [(moment.replace(tzinfo=None) - EPOCH) // US for _, moment in rows]
