"""Local hours and months of a stretch of time, for what goes by the clock on the wall and the page of the calendar."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np

from dialtrue.engine.fleet import Ints
from dialtrue.engine.gap_fill import LocalTime
from dialtrue.engine.gap_shape import DAY_US, HOUR_US
from dialtrue.services.fleet_records import moment_of, us_of

_MOST_DAYS = 40_000
"""Days told apart; before and after the nearest one's offset stands. Our assumption: a century."""


def local_time(first_us: int, last_us: int, zone: str) -> LocalTime:
    """Return the offset from UTC of each hour from the first read to past the last.

    Raises
    ------
    Never raises.

    Source
    ------
    The zone's own rules; an hour within which they change has the offset of its beginning.
    """
    tz = ZoneInfo(zone)
    start = first_us // DAY_US
    days = int(min(last_us // DAY_US + 2 - start, _MOST_DAYS))
    edges = [_offset_us(int((start + day) * DAY_US), tz) for day in range(days + 1)]
    hours = np.repeat(np.array(edges[:-1], np.int64), 24)
    for day in range(days):
        if edges[day] != edges[day + 1]:
            at = [_offset_us(int((start + day) * DAY_US + hour * HOUR_US), tz) for hour in range(24)]
            hours[24 * day : 24 * day + 24] = at
    return LocalTime(int(start * DAY_US), hours)


def month_edges(first_us: int, last_us: int, zone: str) -> Ints:
    """Return where each local calendar month begins, from the first read's to the one after the last read's. [µs]

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.
    """
    tz = ZoneInfo(zone)
    here = moment_of(first_us).astimezone(tz)
    year, month = here.year, here.month
    edges: list[int] = []
    while len(edges) <= _MOST_DAYS // 30:
        edges.append(us_of(dt.datetime(year, month, 1, tzinfo=tz), 0))
        if edges[-1] > last_us or year >= dt.MAXYEAR:
            break
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
    return np.array(edges, np.int64)


def _offset_us(us: int, tz: ZoneInfo) -> int:
    return (moment_of(us).astimezone(tz).utcoffset() or dt.timedelta()) // dt.timedelta(microseconds=1)
