"""Reads of a few ports for the checks and the filling, and both worked out once more the slow way, in whole numbers."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

import numpy as np

from dialtrue.engine.gap_fill import Estimates, FillRules, Gaps, LocalTime, cadence_of, fill_gaps, find_gaps
from dialtrue.engine.read_checks import CheckedReads, PortRecords, check_reads, order_of

HOUR_US = 3_600_000_000
DAY_US = 24 * HOUR_US
LATER_US = 4_000_000_000_000_000
MONDAY_US = int(dt.datetime(2026, 3, 2, tzinfo=dt.UTC).timestamp()) * 1_000_000
RULES = FillRules(2 * HOUR_US, False, 28 * DAY_US, 366 * DAY_US, 31 * DAY_US)


@dataclass
class Filled:
    """Everything that came of some reads."""

    reads: CheckedReads
    cadence_us: np.ndarray
    gaps: Gaps
    made: Estimates


@dataclass
class Reads:
    """Reads of ports by number, in any order. ``capacity`` and ``most_per_h`` by port [counts]."""

    rows: list[tuple[int, int, int, int, int]] = field(default_factory=list)
    capacity: dict[int, int] = field(default_factory=dict)
    most_per_h: dict[int, float] = field(default_factory=dict)
    breaks: dict[int, list[int]] = field(default_factory=dict)

    def add(self, port: int, at_us: int, index: int, *, flag: int = 0, known_us: int | None = None) -> Reads:
        """Add one read."""
        self.rows.append((port, at_us, index, flag, at_us if known_us is None else known_us))
        return self

    def filled(
        self,
        *,
        rules: FillRules = RULES,
        until_us: int | None = None,
        now_us: int = LATER_US,
        alarms: dict[int, list[int]] | None = None,
        offset_us: int = 0,
    ) -> Filled:
        """Check and fill."""
        table = np.array(self.rows, np.int64).reshape(-1, 5)
        port, at, index, flag, known = (np.ascontiguousarray(table[:, k]) for k in range(5))
        channel, small = port.astype(np.int32), flag.astype(np.int8)
        order = order_of(channel, at, index, small, known)
        channel, at, index, small, known = (each[order] for each in (channel, at, index, small, known))
        begin = np.flatnonzero(np.diff(channel, prepend=-1))
        ports = channel[begin].tolist()
        first = np.append(begin, len(channel))
        break_first, breaks_us = _runs([sorted(self.breaks.get(k, [])) for k in ports])
        alarm_first, alarms_us = _runs([sorted((alarms or {}).get(k, [])) for k in ports])
        records = PortRecords(
            np.array([self.capacity.get(k, 0) for k in ports], np.int64),
            np.array([self.most_per_h.get(k, np.inf) / HOUR_US for k in ports]),
            break_first,
            breaks_us,
        )
        reads = check_reads(first, at, index, small, known, records, now_us=now_us)
        cadence = cadence_of(reads)
        until = np.full(len(ports), at.max() if until_us is None and len(at) else (until_us or 0), np.int64)
        gaps = find_gaps(reads, cadence, until, rules)
        start = int(at.min()) // HOUR_US * HOUR_US
        local = LocalTime(start, np.full(int(max(until.max(), at.max()) - start) // HOUR_US + 2, offset_us, np.int64))
        made = fill_gaps(
            reads, gaps, records.capacity, cadence, local, rules, alarm_first=alarm_first, alarms_us=alarms_us
        )
        return Filled(reads, cadence, gaps, made)


def _runs(lists: list[list[int]]) -> tuple[np.ndarray, np.ndarray]:
    first = np.cumsum([0, *map(len, lists)]).astype(np.int64)
    return first, np.array([each for some in lists for each in some], np.int64)


def hourly(
    port: int, uses: list[int], *, begin_us: int = MONDAY_US, start: int = 1000, step_us: int = HOUR_US
) -> Reads:
    """Return reads of one port: the first at ``start``, each of the others after one more use."""
    reads, index = Reads(), start
    reads.add(port, begin_us, index)
    for k, use in enumerate(uses):
        index += use
        reads.add(port, begin_us + (k + 1) * step_us, index)
    return reads
