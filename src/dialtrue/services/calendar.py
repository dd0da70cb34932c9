"""The watch window hour by hour: local hour of day, wet or dry, cold or mild."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from dialtrue.engine.scan import Calendar
from dialtrue.engine.scan_kernel import DAY_US, HOUR_US
from dialtrue.services.fleet_records import moment_of, us_of

MOST_DAYS = 800
"""Days of daily figures kept per port; reads before them still count in the totals. Our assumption: two years."""
RAIN_MEMORY_H = 18.0
"""Hours in which what rain left dries to a third. Our assumption: a pit dries within a day or two; override by
``[watch] rain_memory_h``."""
WET_SHARE = 0.25
"""Share of hours called wet at the most: the wettest. Our assumption."""
WET_MM = 0.6
"""Rain remembered above which an hour counts as wet. Our assumption. [mm]"""
COLD_C = 2.0
"""Below this an hour counts as cold, or below the tenth part of the window's hours, whichever is warmer. Our
assumption. [degC]"""


def build_calendar(
    first_us: int, last_us: int, zone: str, weather: pa.Table | None, *, rain_memory_h: float = RAIN_MEMORY_H
) -> Calendar:
    """Lay out the hours from the first read to the last, at most ``MOST_DAYS`` days.

    Daily rain is spread over its 24 hours. Hours without weather are marked not known (-1).
    """
    start = first_us // DAY_US * DAY_US
    days = int(max(1, min((last_us - start) // DAY_US + 1, MOST_DAYS)))
    start = max(start, (last_us // DAY_US + 1 - days) * DAY_US)
    hours = days * 24
    tz = ZoneInfo(zone)
    # The offset changes on few days: ask once a day, and hour by hour only on the days that differ.
    edges = [moment_of(start + d * DAY_US).astimezone(tz) for d in range(days + 1)]
    offsets = [int((edge.utcoffset() or dt.timedelta()).total_seconds()) for edge in edges]
    local = np.empty(hours, np.int8)
    for d in range(days):
        for h in range(24):
            offset = offsets[d] if offsets[d] == offsets[d + 1] else None
            if offset is None:
                moment = moment_of(start + (d * 24 + h) * HOUR_US).astimezone(tz)
                offset = int((moment.utcoffset() or dt.timedelta()).total_seconds())
            local[d * 24 + h] = (h + offset // 3600) % 24
    wet, cold = np.full(hours, -1, np.int8), np.full(hours, -1, np.int8)
    if weather is not None and weather.num_rows:
        rain, temperature = _hourly(weather, start, hours)
        remembered = np.zeros(hours)
        memory, keep = 0.0, float(np.exp(-1.0 / rain_memory_h))
        for h in range(hours):
            memory = memory * keep + (rain[h] if rain[h] == rain[h] else 0.0)
            remembered[h] = memory
        known = ~np.isnan(rain)
        bound_mm = (
            max(WET_MM, float(np.percentile(remembered[known], 100 * (1 - WET_SHARE)))) if known.any() else WET_MM
        )
        wet[known] = (remembered[known] > bound_mm).astype(np.int8)
        felt = ~np.isnan(temperature)
        if felt.any():
            bound = max(COLD_C, float(np.percentile(temperature[felt], 10)))
            cold[felt] = (temperature[felt] < bound).astype(np.int8)
    return Calendar(start, local, wet, cold)


def _hourly(weather: pa.Table, start: int, hours: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    rows = weather.to_pylist()
    stations = sorted({row["station"] or "" for row in rows})
    rows = [row for row in rows if (row["station"] or "") == stations[0]]
    rows.sort(key=lambda row: row["at"])
    at = np.array([us_of(row["at"], 0) for row in rows])
    step = int(np.median(np.diff(at))) if len(at) > 1 else HOUR_US
    span = max(1, min(round(step / HOUR_US), 24))
    rain, temperature = np.full(hours, np.nan), np.full(hours, np.nan)
    for row, us in zip(rows, at, strict=True):
        first = (us - start) // HOUR_US
        for h in range(max(first, 0), min(first + span, hours)):
            rain[h] = (row["rain_mm"] or 0.0) / span
            if row["temp_c"] is not None:
                temperature[h] = row["temp_c"]
    return rain, temperature
