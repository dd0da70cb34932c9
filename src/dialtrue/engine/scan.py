"""One pass over the reads: per-port figures, daily table, and the reads either side of each dial read.

The state of each port lives in arrays, so batches may come sorted by port or by time and in any number; only one
port's own reads must come in order of time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dialtrue.engine.fleet import Fleet, Floats, Ints
from dialtrue.engine.scan_kernel import (
    BACK_KEPT,
    DAY_US,
    FREEZES_KEPT,
    PERIOD_DAYS,
    SIZES,
    UNKNOWN_SLOT,
    close_pairs,
    count_runs,
)
from dialtrue.engine.scan_runs import SCATTERED, by_channel, find_runs

FIGURES = np.dtype(
    [
        ("n", "i8"), ("first_us", "i8"), ("first_count", "i8"), ("last_us", "i8"), ("last_count", "i8"),
        ("before_us", "i8"), ("before_count", "i8"), ("last_step", "i8"), ("walk", "i8"),
        ("moved_us", "i8"),
        ("forward", "i8"), ("granule", "i8"), ("odd", "i8"),
        ("rolls", "i8"), ("backs", "i8"), ("back_total", "i8"), ("over", "i8"), ("over_worst", "f8"), ("clashes", "i8"),
        ("spikes", "i8"), ("beyond", "i8"), ("repeated", "i8"), ("estimated", "i8"), ("disorder", "i8"),
        ("short_steps", "i8"), ("zero_steps", "i8"), ("fastest", "f8"), ("busiest", "f8"),
        ("freezes", "i8"), ("frozen_us", "i8"),
        ("jump", "i8"), ("jump_from_us", "i8"), ("jump_to_us", "i8"), ("jump_step_us", "i8"),
        ("longest_us", "i8"), ("longest_from_us", "i8"), ("longest_jump", "i8"), ("step_us_total", "i8"),
    ]
)  # fmt: skip
"""Per-port figures; counts are of the index's least digit, ``walk`` is the index unwrapped since the first read."""


@dataclass(slots=True)
class Calendar:
    """Hours and days of the watch window, and what the weather was.

    ``hour_local`` (n_hours,) int8 is the local hour of day; ``wet``, ``cold`` (n_hours,) int8 are 0, 1, or -1 where
    the weather is not known; ``raining`` says in which hours rain fell, None where nobody asked. ``start_us`` is the
    first hour's start, on a UTC midnight.
    """

    start_us: int
    hour_local: NDArray[np.int8]
    wet: NDArray[np.int8]
    cold: NDArray[np.int8]
    raining: NDArray[np.int8] | None = None

    @property
    def days(self) -> int:
        """Days in the window."""
        return len(self.hour_local) // 24

    @property
    def periods(self) -> int:
        """Periods of 28 days in the window, the last may be short."""
        return -(-self.days // PERIOD_DAYS)


@dataclass(slots=True)
class Scan:
    """Figures of every port, filled batch by batch.

    Shapes: ``figures`` (n,), ``back`` (n, 4, 4) of from_us, to_us, before, after; ``freeze`` (n, 4, 4) the longest
    standstills, longest first, as from_us, to_us, counts and us of the step that ended each, zeros where none;
    ``day_walk`` (n, days) walk at the day's last read, nan where none; ``day_least`` least hourly counts of the day;
    ``day_zero``, ``day_steps`` hours without and with a short step, 127 at most; ``day_granule`` greatest common
    divisor of the day's steps; ``hour_moves``, ``hour_steps`` (n, periods, 24) by periods of 28 days from the
    calendar's start, 32,767 at most (``.sum(axis=1)`` for the whole window); ``step_sizes`` (n, 12) short steps of
    0, 1, 2, 3-4, 5-8, ... pulses; ``wet_counts``, ``wet_hours`` (n, 24, 2); ``cold_zero``, ``cold_steps``
    (n, 24, 2); ``pair_before``, ``pair_after`` (n_dial, 3) of us, walk, count, us = -1 where no read.
    """

    figures: NDArray[np.void]
    back: Ints
    freeze: Ints
    day_walk: Floats
    day_least: NDArray[np.float32]
    day_zero: NDArray[np.int8]
    day_steps: NDArray[np.int8]
    day_granule: NDArray[np.int32]
    hour_moves: NDArray[np.int16]
    hour_steps: NDArray[np.int16]
    step_sizes: NDArray[np.int32]
    wet_counts: NDArray[np.float32]
    wet_hours: NDArray[np.int32]
    cold_zero: NDArray[np.int32]
    cold_steps: NDArray[np.int32]
    pair_before: Ints
    pair_after: Ints
    calendar: Calendar

    def widen(self, calendar: Calendar) -> None:
        """Make room for a longer window: a calendar that begins as this one does, or whole periods later.

        Days before the new start are let go; what they gave to the totals stays.

        Raises
        ------
        ValueError
            The calendar begins earlier, or within a period of this one.
        """
        periods, rest = divmod(calendar.start_us - self.calendar.start_us, PERIOD_DAYS * DAY_US)
        if periods < 0 or rest:
            raise ValueError("the window may only begin as before or whole periods of 28 days later")
        for name, blank in _blank(len(self.figures), calendar).items():
            gone = {"day": periods * PERIOD_DAYS, "hou": periods}.get(name[:3])
            if gone is not None:
                old = getattr(self, name)[:, gone:]
                kept = min(old.shape[1], blank.shape[1])
                blank[:, :kept] = old[:, :kept]
                setattr(self, name, blank)
        self.calendar = calendar


def _blank(n: int, calendar: Calendar) -> dict[str, NDArray[np.generic]]:
    """Return the arrays of n fittings that have not been heard."""
    days, periods = calendar.days, calendar.periods
    return {
        "figures": np.zeros(n, FIGURES),
        "back": np.zeros((n, BACK_KEPT, 4), np.int64),
        "freeze": np.zeros((n, FREEZES_KEPT, 4), np.int64),
        "day_walk": np.full((n, days), np.nan),
        "day_least": np.full((n, days), np.nan, np.float32),
        "day_zero": np.zeros((n, days), np.int8),
        "day_steps": np.zeros((n, days), np.int8),
        "day_granule": np.zeros((n, days), np.int32),
        "hour_moves": np.zeros((n, periods, 24), np.int16),
        "hour_steps": np.zeros((n, periods, 24), np.int16),
        "step_sizes": np.zeros((n, SIZES), np.int32),
        "wet_counts": np.zeros((n, 24, 2), np.float32),
        "wet_hours": np.zeros((n, 24, 2), np.int32),
        "cold_zero": np.zeros((n, 24, 2), np.int32),
        "cold_steps": np.zeros((n, 24, 2), np.int32),
    }


def empty_scan(fleet: Fleet, calendar: Calendar, dial_reads: int) -> Scan:
    """Return zeroed figures for a fleet; cost O(ports x days)."""
    pairs = {name: np.full((dial_reads, 3), -1, np.int64) for name in ("pair_before", "pair_after")}
    return Scan(**_blank(fleet.size, calendar), **pairs, calendar=calendar)  # type: ignore[arg-type]


@dataclass(slots=True)
class Windows:
    """Which fittings listen to which channel, and which dial reads belong to which fitting.

    ``fit_first`` (channels + 1,) and ``fit_order`` list the fittings of a channel; ``dial_first`` (n + 1,) and
    ``dial_us`` list a fitting's dial reads in order of time.
    """

    fit_first: Ints
    fit_order: Ints
    dial_first: Ints
    dial_us: Ints


def windows_of(fleet: Fleet, dial_fitting: Ints, dial_us: Ints, channels: int) -> Windows:
    """Index fittings by channel and dial reads by fitting; ``dial_*`` must be sorted by fitting, then time."""
    order = np.argsort(fleet.channel, kind="stable").astype(np.int64)
    fit_first = np.searchsorted(fleet.channel[order], np.arange(channels + 1)).astype(np.int64)
    dial_first = np.searchsorted(dial_fitting, np.arange(fleet.size + 1)).astype(np.int64)
    return Windows(fit_first, order, dial_first, dial_us)


class Scanner:
    """Feeds runs of reads to the kernel and hands the figures over.

    Parts with no channel in common may be counted on several threads at once: ``count`` releases the interpreter lock.
    Reads flagged as estimated are never evidence and are only counted; reads flagged as repeated are counted and
    passed over. Everything a later batch needs stands in ``scan``: a scanner given the figures of an earlier one goes
    on where that one stopped.
    """

    def __init__(self, fleet: Fleet, calendar: Calendar, windows: Windows, *, scan: Scan | None = None) -> None:
        self.fleet = fleet
        self.windows = windows
        self.scan = scan if scan is not None else empty_scan(fleet, calendar, len(windows.dial_us))
        self.scan.calendar = calendar
        # The next dial read that no index read has passed.
        passed = np.concatenate([[0], np.cumsum(self.scan.pair_after[:, 0] >= 0)])
        first = windows.dial_first
        self._pointer = first[:-1] + passed[first[1:]] - passed[first[:-1]]
        self._slots = [_slot(calendar.hour_local, known) for known in (calendar.wet, calendar.cold)]
        self._tally = _hour_tally(calendar.hour_local, *self._slots)
        self._limit_per_us = fleet.flow_limit_l_s / fleet.quantum_index_l / 1e6
        self._weight_counts = fleet.weight_set_l / fleet.quantum_index_l

    @property
    def channels(self) -> int:
        """Channels that the windows know."""
        return len(self.windows.fit_first) - 1

    def feed(self, channel: NDArray[np.int32], at_us: Ints, index: Ints, flag: NDArray[np.int8]) -> None:
        """Take one batch: (m,) channel codes (-1: nobody listens), times, counts and flags (none: all blank)."""
        runs = find_runs(channel, np.zeros(1, np.int32))
        self.count(runs.first, runs.code, at_us, index, flag)

    def count(
        self, first: Ints, channel: NDArray[np.int32], at_us: Ints, index: Ints, flag: NDArray[np.int8]
    ) -> None:  # fmt: skip
        """Take runs of reads: run k is the rows [``first[k]``, ``first[k + 1]``) of ``channel[k]`` (-1: nobody)."""
        at_us, index, flag = _unwritten(at_us), _unwritten(index), _unwritten(flag)
        if len(channel) * SCATTERED > len(at_us):
            first, channel, *reads = by_channel(first, channel, self.channels, at_us, index, flag)
            at_us, index, flag = (_unwritten(column) for column in reads)
        fleet, scan, windows, calendar = self.fleet, self.scan, self.windows, self.scan.calendar
        count_runs(
            first, channel, at_us, index, flag,
            windows.fit_first, windows.fit_order, windows.dial_first, windows.dial_us, self._pointer,
            fleet.fit_us, fleet.removed_us, fleet.capacity_counts, self._limit_per_us, self._weight_counts,
            scan.figures, scan.back, scan.freeze,
            scan.day_walk, scan.day_least, scan.day_zero, scan.day_steps, scan.day_granule,
            scan.hour_moves, scan.hour_steps, scan.step_sizes,
            *(table.reshape(-1, 48) for table in (scan.wet_counts, scan.wet_hours, scan.cold_zero, scan.cold_steps)),
            scan.pair_before, scan.pair_after,
            calendar.start_us, calendar.hour_local.view(np.uint8), *self._slots, self._tally,
            np.empty(24, np.int64), np.empty(24, np.int64),
        )  # fmt: skip

    def forget(self, fittings: Ints) -> None:
        """Take back all figures of some fittings, as if none of their reads had come."""
        for name, blank in _blank(len(fittings), self.scan.calendar).items():
            getattr(self.scan, name)[fittings] = blank
        first = self.windows.dial_first
        for f in fittings.tolist():
            self.scan.pair_before[first[f] : first[f + 1]] = -1
            self.scan.pair_after[first[f] : first[f + 1]] = -1
        self._pointer[fittings] = first[fittings]

    def finish(self) -> Scan:
        """Give dial reads that no later read brackets their only neighbour, and return the figures; may be repeated."""
        close_pairs(self._pointer, self.windows.dial_first, self.scan.figures, self.scan.pair_before)
        return self.scan


def _unwritten(array: NDArray[np.generic]) -> NDArray[np.generic]:
    """Return a view that may not be written: one kind of array for the compiler, whoever made it."""
    view = array.view()
    view.flags.writeable = False
    return view


def _slot(hour_local: NDArray[np.int8], known: NDArray[np.int8]) -> NDArray[np.uint8]:
    """Return the place of each hour among the 24 x 2 of hour of day and weather; empty where none is known."""
    if not (known >= 0).any():
        return np.zeros(0, np.uint8)
    return np.where(known >= 0, 2 * hour_local + known, UNKNOWN_SLOT).astype(np.uint8)


def _hour_tally(hour_local: NDArray[np.int8], wet_slot: NDArray[np.uint8], cold_slot: NDArray[np.uint8]) -> Ints:
    """Return how many of the hours before each fall in each hour of day and each slot: (hours + 1, 120) int16."""
    hours = len(hour_local)
    one = np.zeros((hours + 1, 120), np.int16)
    for first, slot in ((0, hour_local), (24, wet_slot), (72, cold_slot)):
        known = np.flatnonzero(slot != UNKNOWN_SLOT)
        one[known + 1, first + slot[known].astype(np.int64)] = 1
    return one.cumsum(axis=0, dtype=np.int16)
