"""The hours of the window: local time, wet and cold, and what must not change from night to night."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dialtrue.engine.scan_kernel import DAY_US, HOUR_US
from dialtrue.services.calendar import MOST_DAYS, MOVE_DAYS, build_calendar
from dialtrue.services.fleet_records import moment_of

START = 20_000 * DAY_US


def weather(rain: list[float], temperature: list[float | None] | None = None, *, first: int = START) -> pa.Table:
    at = [moment_of(first + h * HOUR_US) for h in range(len(rain))]
    return pa.table({
        "at": pa.array(at, pa.timestamp("us", tz="UTC")), "rain_mm": rain,
        "temp_c": pa.array(temperature or [None] * len(rain), pa.float64()),
        "station": pa.array([None] * len(rain), pa.string()),
    })  # fmt: skip


def hours(count: int, table: pa.Table | None, *, first: int = START):
    return build_calendar(first, first + count * HOUR_US - 1, "UTC", table)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 9), st.integers(0, 10))
def test_a_later_run_calls_the_old_hours_what_the_earlier_run_called_them(seed: int, days: int, before: int) -> None:
    rng = np.random.default_rng(seed)
    count = 24 * (days + before + 3)
    rain = np.where(rng.random(count) < 0.1, rng.exponential(4.0, count), 0.0).tolist()
    cold = (rng.normal(6, 6, count)).tolist()
    first = START - before * DAY_US
    early = hours(24 * days, weather(rain[: 24 * (days + before)], cold[: 24 * (days + before)], first=first))
    late = hours(24 * (days + 3), weather(rain, cold, first=first))
    for name in ("hour_local", "wet", "cold"):
        assert (getattr(late, name)[: 24 * days] == getattr(early, name)).all(), name


def test_rain_wets_its_hour_and_those_in_which_it_dries() -> None:
    rain = [0.0] * 96
    rain[48] = 3.0
    wet = hours(96, weather(rain)).wet
    assert wet[:48].sum() == 0
    # 3 mm fall to 0.6 mm within 18 h x ln 5 = 29 h.
    assert wet[48:77].all()
    assert not wet[78:].any()


def test_rain_before_the_first_read_still_wets_the_first_hours() -> None:
    assert hours(24, weather([0.0] * 20 + [9.0] * 4 + [0.0] * 24, first=START - DAY_US)).wet[:12].all()


def test_where_it_always_rains_only_the_wettest_hours_are_wet() -> None:
    rng = np.random.default_rng(3)
    wet = hours(24 * 200, weather(rng.exponential(2.0, 24 * 200).tolist())).wet
    assert 0.1 < wet[240:].mean() < 0.4


def test_frost_is_cold_and_so_is_the_coldest_tenth_of_a_warm_place() -> None:
    rng = np.random.default_rng(4)
    table = weather([0.0] * 4800, rng.normal(20, 4, 4800).tolist())
    assert 0.05 < hours(4800, table).cold[480:].mean() < 0.15
    assert hours(48, weather([0.0] * 48, [1.0] * 24 + [0.5] * 24)).cold.all()


def test_hours_without_weather_are_not_known() -> None:
    found = hours(72, weather([0.0] * 24, [3.0] * 24))
    assert (found.wet[:24] == 0).all()
    assert (found.wet[24:] == -1).all()
    assert (hours(24, None).cold == -1).all()


def test_daily_rain_is_spread_over_its_day() -> None:
    daily = weather([24.0, 0.0, 0.0]).set_column(
        0, "at", pa.array([moment_of(START + d * DAY_US) for d in range(3)], pa.timestamp("us", tz="UTC"))
    )
    found = hours(72, daily)
    assert found.wet[:48].any()
    assert (found.wet >= 0).all()


@pytest.mark.parametrize("days", [MOST_DAYS, MOST_DAYS + 1, MOST_DAYS + 57, 3 * MOST_DAYS])
def test_a_long_window_moves_on_seldom(days: int) -> None:
    found = [hours(24 * (days + night), None) for night in range(5)]
    assert len({calendar.start_us for calendar in found}) <= 2
    assert all(calendar.days <= MOST_DAYS for calendar in found)
    assert all(calendar.days > MOST_DAYS - MOVE_DAYS for calendar in found)
    assert all((calendar.start_us + calendar.days * DAY_US) == START + (days + night) * DAY_US
               for night, calendar in enumerate(found))  # fmt: skip


def test_the_local_hour_follows_the_clock_change() -> None:
    # 8 March 2026: Chicago goes from UTC-6 to UTC-5 at 08:00 UTC.
    first = (dt.datetime(2026, 3, 8, tzinfo=dt.UTC) - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)) // dt.timedelta(
        microseconds=1
    )
    local = build_calendar(first, first + DAY_US - 1, "America/Chicago", None).hour_local
    assert local[:9].tolist() == [18, 19, 20, 21, 22, 23, 0, 1, 3]
