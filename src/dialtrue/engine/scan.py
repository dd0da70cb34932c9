"""One pass over the reads: per-port figures, daily table, and the reads either side of each dial read.

The state of each port lives in arrays, so batches may come sorted by port or by time and in any number; only one
port's own reads must come in order of time.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dialtrue.engine.fleet import Fleet, Floats, Ints
from dialtrue.engine.scan_kernel import BACK_KEPT, FREEZES_KEPT, PERIOD_DAYS, SIZES, close_pairs, count_batch

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
    the weather is not known. ``start_us`` is the first hour's start, on a UTC midnight.
    """

    start_us: int
    hour_local: NDArray[np.int8]
    wet: NDArray[np.int8]
    cold: NDArray[np.int8]

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


def empty_scan(fleet: Fleet, calendar: Calendar, dial_reads: int) -> Scan:
    """Return zeroed figures for a fleet; cost O(ports x days)."""
    n, days = fleet.size, calendar.days
    figures = np.zeros(n, dtype=FIGURES)
    return Scan(
        figures=figures,
        back=np.zeros((n, BACK_KEPT, 4), np.int64),
        freeze=np.zeros((n, FREEZES_KEPT, 4), np.int64),
        day_walk=np.full((n, days), np.nan),
        day_least=np.full((n, days), np.nan, np.float32),
        day_zero=np.zeros((n, days), np.int8),
        day_steps=np.zeros((n, days), np.int8),
        day_granule=np.zeros((n, days), np.int32),
        hour_moves=np.zeros((n, calendar.periods, 24), np.int16),
        hour_steps=np.zeros((n, calendar.periods, 24), np.int16),
        step_sizes=np.zeros((n, SIZES), np.int32),
        wet_counts=np.zeros((n, 24, 2), np.float32),
        wet_hours=np.zeros((n, 24, 2), np.int32),
        cold_zero=np.zeros((n, 24, 2), np.int32),
        cold_steps=np.zeros((n, 24, 2), np.int32),
        pair_before=np.full((dial_reads, 3), -1, np.int64),
        pair_after=np.full((dial_reads, 3), -1, np.int64),
        calendar=calendar,
    )


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


WORTH_A_THREAD = 200_000
"""Reads from which a second thread pays for itself. Our assumption, measured on two cores."""


class Scanner:
    """Feeds batches to the kernel and hands the figures over.

    ``feed`` releases the interpreter lock while it counts. Reads flagged as estimated are never evidence and are only
    counted; reads flagged as repeated are counted and passed over.
    """

    def __init__(self, fleet: Fleet, calendar: Calendar, windows: Windows) -> None:
        self.fleet = fleet
        self.windows = windows
        self.scan = empty_scan(fleet, calendar, len(windows.dial_us))
        self._pointer = windows.dial_first[:-1].copy()

    def feed(self, channel: NDArray[np.int32], at_us: Ints, index: Ints, flag: NDArray[np.int8]) -> None:
        """Take one batch: (m,) channel codes (-1: nobody listens), times, counts and flags.

        Where the batch falls into parts with no channel in common, each part is counted on a thread of its own.
        """
        cut = self._cut(channel)
        if not cut:
            self._count(channel, at_us, index, flag)
            return
        parts = [
            (channel[:cut], at_us[:cut], index[:cut], flag[:cut]),
            (channel[cut:], at_us[cut:], index[cut:], flag[cut:]),
        ]
        with ThreadPoolExecutor(len(parts)) as pool:
            for done in [pool.submit(self._count, *part) for part in parts]:
                done.result()

    def _cut(self, channel: NDArray[np.int32]) -> int:
        """Return where a batch sorted by port may be cut in two, 0 where it may not or is too small to gain."""
        if len(channel) < WORTH_A_THREAD:
            return 0
        middle = len(channel) // 2
        turns = np.flatnonzero(channel[middle:] != channel[middle])
        if not len(turns):
            return 0
        cut = middle + int(turns[0])
        seen = np.zeros(len(self.windows.fit_first) + 1, bool)
        seen[channel[:cut]] = True
        # The last place stands for -1, which every part may hold: nobody listens to it.
        seen[-1] = False
        return 0 if seen[channel[cut:]].any() else cut

    def _count(self, channel: NDArray[np.int32], at_us: Ints, index: Ints, flag: NDArray[np.int8]) -> None:
        fleet, scan, windows, calendar = self.fleet, self.scan, self.windows, self.scan.calendar
        count_batch(
            channel, at_us, index, flag,
            windows.fit_first, windows.fit_order, windows.dial_first, windows.dial_us, self._pointer,
            fleet.fit_us, fleet.removed_us, fleet.capacity_counts,
            fleet.flow_limit_l_s / fleet.quantum_index_l / 1e6, fleet.weight_set_l / fleet.quantum_index_l,
            scan.figures, scan.back, scan.freeze,
            scan.day_walk, scan.day_least, scan.day_zero, scan.day_steps, scan.day_granule,
            scan.hour_moves, scan.hour_steps, scan.step_sizes, scan.wet_counts, scan.wet_hours,
            scan.cold_zero, scan.cold_steps,
            scan.pair_before, scan.pair_after,
            calendar.start_us, calendar.hour_local, calendar.wet, calendar.cold,
        )  # fmt: skip

    def finish(self) -> Scan:
        """Close the pairs that no later read brackets and return the figures."""
        close_pairs(self._pointer, self.windows.dial_first, self.scan.figures, self.scan.pair_before)
        return self.scan
