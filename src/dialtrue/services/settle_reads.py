"""The reads of the few ports that are to be put right."""

from __future__ import annotations

import datetime as dt
import functools
import itertools
import zoneinfo
from collections.abc import Collection, Iterable, Mapping, Sequence

import numpy as np

from dialtrue.files.programme import Programme

Channel = list[tuple[dt.datetime, int]]
"""Moments and counts of one port, ascending; of two reads of one moment the later row stands."""

Columns = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]
"""Code of the endpoint, port, moment [us since 1970] and count of reads."""

MOST_ROWS = 4_000_000
"""Reads held before those that say nothing more are let go. Our assumption: about 200 MB."""

_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_ESTIMATED = 1
_MICROSECOND = dt.timedelta(microseconds=1)
_HOUR_US, _DAY_US = 3_600_000_000, 86_400_000_000


def channels_of(
    programme: Programme,
    ports: Iterable[tuple[str, int]],
    *,
    pinned: Mapping[tuple[str, int], Collection[dt.datetime]] | None = None,
) -> dict[tuple[str, int], Channel]:
    """Read the reads of some ports, as many as a settlement looks at; estimated reads are left out, being no evidence.

    Parameters
    ----------
    programme : Programme
        As opened; its reads are taken once.
    ports : iterable of (endpoint serial, port)
    pinned : mapping of port, optional
        Moments, aware, at which the count is asked for: dial reads, fittings, onsets.

    Returns
    -------
    dict
        Of each port the first and the last read of every local day, the reads on both sides of every pinned moment
        and of every place where the count falls: all else lies between two of these and says nothing more of a
        period. A port that was never heard has an empty list.

    Raises
    ------
    DialtrueError
        A file of reads cannot be used.
    """
    channels: dict[tuple[str, int], Channel] = {port: [] for port in ports}
    source = programme.reads
    if source is None or not channels:
        return channels
    wanted = {serial for serial, _ in channels}
    source.only(wanted)
    asked = {
        port: np.asarray([(moment - _EPOCH) // _MICROSECOND for moment in moments], dtype=np.int64)
        for port, moments in (pinned or {}).items()
    }
    held: list[Columns] = []
    waiting = 0
    for batch in source.batches():
        wants = np.asarray([serial in wanted for serial in source.endpoints], dtype=bool)
        rows = np.flatnonzero(wants[batch.endpoint] & (batch.flag != _ESTIMATED))
        held.append((batch.endpoint[rows], batch.port[rows], batch.at_us[rows], batch.index[rows]))
        waiting += len(rows)
        if waiting > MOST_ROWS:
            held, waiting = [_thinned(held, source.endpoints, asked, zone=programme.timezone)], 0
    code, number, at, count = _thinned(held, source.endpoints, asked, zone=programme.timezone)
    for start, end in _groups(code, number):
        port = (source.endpoints[code[start]], int(number[start]))
        if port in channels:
            channels[port] = [
                (_EPOCH + dt.timedelta(microseconds=moment), value)
                for moment, value in zip(at[start:end].tolist(), count[start:end].tolist(), strict=True)
            ]
    return channels


def _thinned(
    held: Sequence[Columns], endpoints: Sequence[str], asked: Mapping[tuple[str, int], np.ndarray], *, zone: str
) -> Columns:
    """Return the reads that a settlement looks at, by port and moment; of two of one moment the later row."""
    if not held:
        return (np.zeros(0, np.int32), np.zeros(0, np.int32), np.zeros(0, np.int64), np.zeros(0, np.int64))
    code, number, at, count = (np.concatenate(parts) for parts in zip(*held, strict=True))
    order = np.lexsort((at, number, code))  # stable: of two reads of one moment the later row comes last
    code, number, at, count = code[order], number[order], at[order], count[order]
    kept = [
        start + _places(at[start:end], count[start:end], asked.get((endpoints[code[start]], int(number[start]))), zone)
        for start, end in _groups(code, number)
    ]
    rows = np.concatenate(kept) if kept else np.zeros(0, np.int64)
    return code[rows], number[rows], at[rows], count[rows]


def _groups(code: np.ndarray, number: np.ndarray) -> list[tuple[int, int]]:
    """Return where the rows of each port begin and end, in rows sorted by port."""
    if not len(code):
        return []
    new = np.flatnonzero((code[1:] != code[:-1]) | (number[1:] != number[:-1])) + 1
    return list(itertools.pairwise([0, *new.tolist(), len(code)]))


def _places(at: np.ndarray, count: np.ndarray, asked: np.ndarray | None, zone: str) -> np.ndarray:
    """Return the places of one port's reads that are kept: ends of days, falls, and around what is asked for."""
    alone = np.flatnonzero(np.r_[at[1:] != at[:-1], True])
    at, count = at[alone], count[alone]
    day = local_days(at, zone)
    keep = np.zeros(len(at), dtype=bool)
    keep[[0, -1]] = True
    turns = np.flatnonzero((day[1:] != day[:-1]) | (count[1:] < count[:-1]))
    around = np.searchsorted(at, asked, side="right") if asked is not None else turns
    for places in (turns, turns + 1, around - 1, around, around - 2) if asked is not None else (turns, turns + 1):
        keep[places[(places >= 0) & (places < len(at))]] = True
    kept: np.ndarray = alone[keep]
    return kept


def local_days(at_us: np.ndarray, zone: str) -> np.ndarray:
    """Return the local day of each moment, ascending, as days since 1970. Never raises."""
    hours = at_us // _HOUR_US
    first = int(hours[0])
    ahead = np.asarray([_ahead_us(hour, zone) for hour in range(first, int(hours[-1]) + 1)], dtype=np.int64)
    days: np.ndarray = (at_us + ahead[hours - first]) // _DAY_US
    return days


@functools.lru_cache(maxsize=200_000)
def _ahead_us(hour: int, zone: str) -> int:
    """Return what local time is ahead of UTC in an hour since 1970. [us]"""
    moment = (_EPOCH + dt.timedelta(hours=hour)).astimezone(zoneinfo.ZoneInfo(zone))
    return (moment.utcoffset() or dt.timedelta()) // _MICROSECOND
