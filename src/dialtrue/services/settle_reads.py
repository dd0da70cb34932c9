"""The reads of the few ports that are to be put right."""

from __future__ import annotations

import datetime as dt
import functools
import zoneinfo
from collections.abc import Collection, Iterable, Mapping

import numpy as np

from dialtrue.files.programme import Programme

Channel = list[tuple[dt.datetime, int]]
"""Moments and counts of one port, ascending; of two reads of one moment the later row stands."""

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
    codes: list[np.ndarray] = []
    numbers: list[np.ndarray] = []
    moments: list[np.ndarray] = []
    counts: list[np.ndarray] = []
    for batch in source.batches():
        held = np.asarray([serial in wanted for serial in source.endpoints], dtype=bool)
        rows = np.flatnonzero(held[batch.endpoint] & (batch.flag != _ESTIMATED))
        codes.append(batch.endpoint[rows])
        numbers.append(batch.port[rows])
        moments.append(batch.at_us[rows])
        counts.append(batch.index[rows])
    if not codes:
        return channels
    code, number, at, count = (np.concatenate(parts) for parts in (codes, numbers, moments, counts))
    order = np.lexsort((at, number, code))  # stable: of two reads of one moment the later row comes last
    code, number, at, count = code[order], number[order], at[order], count[order]
    new = np.flatnonzero(np.r_[True, (code[1:] != code[:-1]) | (number[1:] != number[:-1])]) if len(code) else order
    for start, end in zip(new.tolist(), [*new[1:].tolist(), len(code)], strict=True):
        port = (source.endpoints[code[start]], int(number[start]))
        if port in channels:
            channels[port] = _thinned(
                at[start:end], count[start:end], (pinned or {}).get(port, ()), zone=programme.timezone
            )
    return channels


def _thinned(at: np.ndarray, count: np.ndarray, pinned: Collection[dt.datetime], *, zone: str) -> Channel:
    """Return the reads that a settlement looks at; of two reads of one moment the later row."""
    last = np.r_[at[1:] != at[:-1], True]
    at, count = at[last], count[last]
    day = local_days(at, zone)
    keep = np.zeros(len(at), dtype=bool)
    keep[[0, -1]] = True
    turns = np.flatnonzero((day[1:] != day[:-1]) | (count[1:] < count[:-1]))
    asked = np.asarray([(moment - _EPOCH) // _MICROSECOND for moment in pinned], dtype=np.int64)
    places = np.searchsorted(at, asked, side="right")
    for places_kept in (turns, turns + 1, places - 1, places, places - 2):
        keep[places_kept[(places_kept >= 0) & (places_kept < len(at))]] = True
    kept = np.flatnonzero(keep)
    return [
        (_EPOCH + dt.timedelta(microseconds=moment), value)
        for moment, value in zip(at[kept].tolist(), count[kept].tolist(), strict=True)
    ]


def local_days(at_us: np.ndarray, zone: str) -> np.ndarray:
    """Return the local day of each moment, ascending, as days since 1970. Never raises."""
    hours = at_us // _HOUR_US
    first = int(hours[0])
    ahead = np.asarray([_ahead_us(hour, zone) for hour in range(first, int(hours[-1]) + 1)], dtype=np.int64)
    return (at_us + ahead[hours - first]) // _DAY_US


@functools.lru_cache(maxsize=200_000)
def _ahead_us(hour: int, zone: str) -> int:
    """Return what local time is ahead of UTC in an hour since 1970. [us]"""
    moment = (_EPOCH + dt.timedelta(hours=hour)).astimezone(zoneinfo.ZoneInfo(zone))
    return (moment.utcoffset() or dt.timedelta()) // _MICROSECOND
