"""The watch window hour by hour: local hour of day, wet or dry, cold or mild.

What an hour is called follows from its own weather and the weather before it, never from later hours: a run of next
week calls tonight's hours what tonight's run called them, so that counts by hour may be kept from night to night.
"""

from __future__ import annotations

import bisect
import datetime as dt
from collections.abc import Callable
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from dialtrue.engine.scan import Calendar
from dialtrue.engine.scan_kernel import DAY_US, HOUR_US
from dialtrue.services.fleet_records import moment_of
from dialtrue.services.table_columns import flat, moments_us

MOST_DAYS = 800
"""Days of daily figures kept per port; reads before them still count in the totals. Our assumption: two years."""
MOVE_DAYS = 100
"""A window that has grown to ``MOST_DAYS`` moves on by this much at once, so that it stands still from night to night.
Our assumption."""
LEARN_HOURS = 720
"""Hours of weather from which the place's own wet and cold are known; before that only the fixed bounds hold. Our
assumption: a month."""
PAST_DAYS = 400
"""Days before the window whose weather may still say what is wet or cold in this place. Our assumption: a year."""
RAIN_MEMORY_H = 18.0
"""Hours in which what rain left dries to a third. Our assumption: a pit dries within a day or two; override by
``[watch] rain_memory_h``."""
WET_SHARE = 0.25
"""Share of hours called wet: an hour is wet if it is among the wettest of the hours so far. Our assumption."""
WET_MM = 0.6
"""Rain remembered above which an hour counts as wet. Our assumption. [mm]"""
RAINING_MM = 0.1
"""Rain in an hour from which it rains. Our assumption. [mm]"""
COLD_C = 2.0
"""Below this an hour counts as cold, or if it is among the coldest tenth of the hours so far. Our assumption. [degC]"""
COLD_SHARE = 0.1
"""Share of hours called cold where it seldom freezes. Our assumption."""


def build_calendar(
    first_us: int, last_us: int, zone: str, weather: pa.Table | None, *, rain_memory_h: float = RAIN_MEMORY_H
) -> Calendar:
    """Lay out the hours from the first read to the last, at most ``MOST_DAYS`` days.

    Daily rain is spread over its 24 hours. Hours without weather are marked not known (-1).
    """
    start = first_us // DAY_US * DAY_US
    end_day = last_us // DAY_US + 1
    if end_day - start // DAY_US > MOST_DAYS:
        # The oldest day is one of every MOVE_DAYS since 1970.
        start = -(-(end_day - MOST_DAYS) // MOVE_DAYS) * MOVE_DAYS * DAY_US
    days = int(max(1, end_day - start // DAY_US))
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
    wet, cold, raining = (np.full(hours, -1, np.int8) for _ in range(3))
    if weather is not None and weather.num_rows:
        before = min(PAST_DAYS * 24, max(0, (start - _first_us(weather)) // HOUR_US))
        rain, temperature = _hourly(weather, start - before * HOUR_US, before + hours)
        remembered, keep = np.empty(before + hours), float(np.exp(-1.0 / rain_memory_h))
        memory = 0.0
        for h, mm in enumerate(rain):
            memory = memory * keep + (mm if mm == mm else 0.0)
            remembered[h] = memory
        remembered[np.isnan(rain)] = np.nan
        fell = rain[before:]
        raining = np.where(np.isnan(fell), -1, fell > RAINING_MM).astype(np.int8)
        wet = _among(remembered, 1 - WET_SHARE, WET_MM, max)[before:]
        cold = _among(-temperature, 1 - COLD_SHARE, -COLD_C, min)[before:]
    return Calendar(start, local, wet, cold, raining)


def _first_us(weather: pa.Table) -> int:
    return int(moments_us(weather["at"], 0).min())


def _among(
    values: NDArray[np.float64], share: float, fixed: float, choose: Callable[[float, float], float]
) -> NDArray[np.int8]:
    """Say of each hour whether its value lies above the bound, 1 or 0; -1 where not known.

    The bound is chosen between the fixed one and the value that ``share`` of the hours up to itself lie below.
    """
    said = np.full(len(values), -1, np.int8)
    so_far: list[float] = []
    for h, value in enumerate(values.tolist()):
        if value != value:
            continue
        bisect.insort(so_far, value)
        learned = len(so_far) >= LEARN_HOURS
        said[h] = value > (choose(so_far[int(share * (len(so_far) - 1))], fixed) if learned else fixed)
    return said


def _hourly(weather: pa.Table, start: int, hours: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    station = pc.fill_null(weather["station"], "")
    weather = weather.filter(pc.equal(station, pc.min(station))).sort_by("at")
    at = moments_us(weather["at"], 0)
    step = int(np.median(np.diff(at))) if len(at) > 1 else HOUR_US
    span = max(1, min(round(step / HOUR_US), 24))
    first = (at - start) // HOUR_US
    found = []
    for name, none, parts in (("rain_mm", 0.0, span), ("temp_c", np.nan, 1)):
        told, value = np.full(hours, np.nan), _floats(weather[name], none) / parts
        # The later of two rows stands: where it begins is written last.
        for k in range(span - 1, -1, -1):
            here = (first + k >= 0) & (first + k < hours) & ~np.isnan(value)
            told[first[here] + k] = value[here]
        found.append(told)
    return found[0], found[1]


def _floats(column: pa.ChunkedArray, none: float) -> NDArray[np.float64]:
    return np.asarray(pc.fill_null(flat(column), none).to_numpy(zero_copy_only=False), np.float64)
