"""A time zone as ESPI writes it: the offset in winter, the shift in summer, and rules for the two changes."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from dataclasses import dataclass

_SECOND = dt.timedelta(seconds=1)


@dataclass(frozen=True, slots=True)
class LocalTime:
    """Rules as eight hexadecimal digits; offsets [s]. ``note`` says what the rules cannot hold, blank if nothing."""

    dst_end_rule: str
    dst_offset_s: int
    dst_start_rule: str
    tz_offset_s: int
    note: str = ""


def local_time(zone: str, year: int) -> LocalTime:
    """Return a zone's rules as they stand in a year.

    Parameters
    ----------
    zone : str
        IANA name.
    year : int
        The year of the last read.

    Returns
    -------
    LocalTime
        Without summer time both rules and the shift are zero; so they are, with a note, where a change follows no
        weekday of a month.

    Raises
    ------
    zoneinfo.ZoneInfoNotFoundError
        There is no such zone.

    Source
    ------
    ``NAESB-REQ-21`` for the bits of a rule: month 4, operator 3, day of month 5, day of week 3, hour 5, seconds 12;
    operator 2 to 6 is the first to fifth such weekday of the month, 7 the last.

    Examples
    --------
    >>> here = local_time("America/Chicago", 2026)
    >>> here.dst_start_rule, here.dst_end_rule, here.dst_offset_s, here.tz_offset_s
    ('360E2000', 'B40E2000', 3600, -21600)
    """
    info = zoneinfo.ZoneInfo(zone)
    changes = [_changes(info, each) for each in (year, year + 1, year + 2)]
    winter = min(_offset(info, dt.datetime(year, month, 1, tzinfo=dt.UTC)) for month in range(1, 13))
    if not changes[0]:
        return LocalTime("00000000", 0, "00000000", winter)
    starts = [[wall for wall, shift in each if shift > 0] for each in changes]
    ends = [[wall for wall, shift in each if shift < 0] for each in changes]
    start, end = _rule(starts), _rule(ends)
    shift = next((change for _, change in changes[0] if change > 0), 0)
    if start is None or end is None or not shift:
        note = (
            f"The changes of the clock in {zone} follow no weekday of a month; ESPI files carry the winter offset only."
        )
        return LocalTime("00000000", 0, "00000000", winter, note)
    return LocalTime(end, shift, start, winter)


def _offset(info: zoneinfo.ZoneInfo, at: dt.datetime) -> int:
    return int((at.astimezone(info).utcoffset() or dt.timedelta()) / _SECOND)


def _changes(info: zoneinfo.ZoneInfo, year: int) -> list[tuple[dt.datetime, int]]:
    """Return the wall time at which the clock is changed and by how much [s], for each change of a year."""
    found = []
    day = dt.datetime(year, 1, 1, tzinfo=dt.UTC)
    while day.year == year:
        after = day + dt.timedelta(days=1)
        before, then = _offset(info, day), _offset(info, after)
        if before != then:
            low, high = 0, 86_400
            while high - low > 1:
                middle = (low + high) // 2
                low, high = (middle, high) if _offset(info, day + middle * _SECOND) == before else (low, middle)
            found.append(((day + (high + before) * _SECOND).replace(tzinfo=None), then - before))
        day = after
    return found


def _rule(years: list[list[dt.datetime]]) -> str | None:
    """Return the one rule that gives the change of each year, or None."""
    if any(len(walls) != 1 for walls in years):
        return None
    walls = [each[0] for each in years]
    month, weekday, clock = walls[0].month, walls[0].isoweekday(), walls[0].time()
    if any((wall.month, wall.isoweekday(), wall.time()) != (month, weekday, clock) for wall in walls):
        return None
    counts = {(wall.day - 1) // 7 for wall in walls}
    if all((wall + dt.timedelta(days=7)).month != month for wall in walls):
        operator = 7
    elif len(counts) == 1:
        operator = 2 + counts.pop()
    else:
        return None
    seconds = clock.minute * 60 + clock.second
    return f"{month << 28 | operator << 25 | weekday << 17 | clock.hour << 12 | seconds:08X}"
