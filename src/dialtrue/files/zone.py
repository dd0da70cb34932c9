"""Naive times through the programme's zone, whole columns at once, skipped and repeated hours included."""

from __future__ import annotations

import datetime as dt
import functools
from dataclasses import dataclass, field
from typing import Any, Final
from zoneinfo import ZoneInfo

import numpy as np

SECOND_US: Final = 1_000_000
DAY_US: Final = 86_400 * SECOND_US
_STEP_S: Final = 6 * 3600
_EPOCH: Final = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_FIRST_YEAR: Final = 1900
_LAST_YEAR: Final = 2200

GAP_RULE: Final = "moved forward by the hour that was skipped, as a clock that was not put forward would show"
FOLD_RULE: Final = "taken as the first of the two, or as the second where the rows before it had already passed it once"


@dataclass(frozen=True, slots=True)
class LocalTimes:
    """Naive times as UTC, and which of them the zone skips or repeats."""

    utc_us: np.ndarray
    gap: np.ndarray
    fold: np.ndarray
    second_utc_us: np.ndarray


@functools.lru_cache(maxsize=4096)
def _changes(zone_name: str, year: int) -> tuple[tuple[int, int, int], ...]:
    """Return the changes of offset in one UTC year: instant, offset before, offset after, in seconds."""
    zone = ZoneInfo(zone_name)

    def offset(instant_s: int) -> int:
        local = (_EPOCH + dt.timedelta(seconds=instant_s)).astimezone(zone)
        shift = local.utcoffset()
        return 0 if shift is None else shift.days * 86_400 + shift.seconds

    begin = int((dt.datetime(year, 1, 1, tzinfo=dt.UTC) - _EPOCH).total_seconds())
    end = int((dt.datetime(year + 1, 1, 1, tzinfo=dt.UTC) - _EPOCH).total_seconds())
    found = []
    before = offset(begin)
    for instant in range(begin, end, _STEP_S):
        after = offset(instant + _STEP_S)
        if after != before:
            low, high = instant, instant + _STEP_S
            while high - low > 1:
                middle = (low + high) // 2
                low, high = (middle, high) if offset(middle) == before else (low, middle)
            found.append((high, before, after))
        before = after
    return tuple(found)


@functools.lru_cache(maxsize=256)
def _first_offset(zone_name: str, year: int) -> int:
    shift = dt.datetime(year, 1, 1, tzinfo=dt.UTC).astimezone(ZoneInfo(zone_name)).utcoffset()
    return 0 if shift is None else shift.days * 86_400 + shift.seconds


def local_to_utc(naive_us: np.ndarray, zone_name: str) -> LocalTimes:
    """Take naive local times to UTC.

    Parameters
    ----------
    naive_us : int64 array
        Local wall-clock times as microseconds since 1970-01-01T00:00 local. [µs]
    zone_name : str
        IANA name of a zone that exists.

    Returns
    -------
    LocalTimes
        ``utc_us`` by the rule: a skipped time is moved forward by the hour skipped, a repeated one is its first
        occurrence. ``gap`` and ``fold`` mark those rows; ``second_utc_us`` is the second occurrence of repeated times.

    Notes
    -----
    Scalar twin: ``datetime.replace(tzinfo=ZoneInfo(...), fold=0)`` (fold=1 for the second occurrence). Times before
    1900 or after 2200 take the offset of that end.
    Never raises.

    Source
    ------
    Our assumption: a logger that was never told of the change keeps counting hours, so its skipped hour is the next
    one. Override by writing offsets into the file.
    """
    naive_us = np.ascontiguousarray(naive_us, dtype=np.int64)
    if zone_name == "UTC" or not naive_us.size:
        none = np.zeros(naive_us.shape, bool)
        return LocalTimes(naive_us, none, none, naive_us)
    low_year = _year_of(int(naive_us.min()) - 2 * DAY_US)
    high_year = _year_of(int(naive_us.max()) + 2 * DAY_US)
    changes = [change for year in range(low_year, high_year + 1) for change in _changes(zone_name, year)]
    offsets = np.array([_first_offset(zone_name, low_year), *(after for _, _, after in changes)], np.int64) * SECOND_US
    # A wall clock shows the time of the old offset until the later of the two local readings of the change.
    edge = np.array([at + max(b, a) for at, b, a in changes], np.int64) * SECOND_US
    span = np.array([a - b for _, b, a in changes], np.int64) * SECOND_US
    place = np.searchsorted(edge, naive_us, side="right")
    utc = naive_us - offsets[place]
    if not changes:
        none = np.zeros(naive_us.shape, bool)
        return LocalTimes(utc, none, none, utc)
    coming = np.minimum(place, len(changes) - 1)
    near = (place < len(changes)) & (naive_us >= edge[coming] - np.abs(span[coming]))
    gap = near & (span[coming] > 0)
    fold = near & (span[coming] < 0)
    return LocalTimes(utc, gap, fold, np.where(fold, utc - span[coming], utc))


def _year_of(micros: int) -> int:
    days = max(-25_567, min(84_005, micros // DAY_US))
    return min(_LAST_YEAR, max(_FIRST_YEAR, (_EPOCH + dt.timedelta(days=days)).year))


@dataclass(slots=True)
class FoldOrder:
    """Settles repeated hours by the order of rows in the file, series by series, also across blocks of rows."""

    last: dict[Any, tuple[int, bool]] = field(default_factory=dict)
    descending: bool | None = None

    def settle(self, naive_us: np.ndarray, times: LocalTimes, series: np.ndarray) -> np.ndarray:
        """Return UTC with repeated hours settled.

        Parameters
        ----------
        naive_us, times
            The rows in file order and what ``local_to_utc`` made of them.
        series : array
            What tells one series of stamps from another (an endpoint's port, a meter).

        Returns
        -------
        int64 array
            ``times.utc_us`` with the second occurrence where the series had already passed that hour once. A file that
            runs from new to old is read the other way round.

        Never raises.
        """
        rows = np.flatnonzero(times.fold)
        if not rows.size:
            return times.utc_us
        if self.descending is None:
            self.descending = _runs_backwards(naive_us, series)
        utc = times.utc_us.copy()
        # New to old: read from the end, and keep nothing for the next block, which lies before this one in time.
        last = {} if self.descending else self.last
        for row in rows[::-1].tolist() if self.descending else rows.tolist():
            key, now = series[row], int(naive_us[row])
            then, turned = last.get(key, (None, False))
            if then is not None and abs(now - then) > DAY_US:
                then, turned = None, False
            turned = turned or (then is not None and now <= then)
            last[key] = (now, turned)
            if turned:
                utc[row] = times.second_utc_us[row]
        return utc


def _runs_backwards(naive_us: np.ndarray, series: np.ndarray) -> bool:
    """Tell whether a file runs from new to old: by steps within a series, or by all where no series has two rows."""
    steps = np.diff(naive_us)
    within = steps[series[1:] == series[:-1]]
    steps = within if within.size else steps
    return bool(np.count_nonzero(steps < 0) > 2 * np.count_nonzero(steps > 0))
