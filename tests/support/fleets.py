"""A small fleet of fitted ports as arrays, and a scan of reads given by hand."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from dialtrue.engine.fleet import NEVER, Fleet
from dialtrue.engine.scan import Calendar, Scan, Scanner, windows_of

HOUR_US = 3_600_000_000
START_US = 20_000 * 24 * HOUR_US
FLAGS = {"": 0, "estimated": 1, "repeated": 2}


def fleet_of(count: int = 1, **changes: Sequence[float]) -> Fleet:
    """Return ``count`` like fittings: 1 L a count, 1 L a pulse, six digits, 1 L/s at most; any array can be changed."""
    floats = {
        "quantum_dial_l": 1.0, "capacity_dial_l": 1e6, "dial_fit_l": 0.0, "quantum_index_l": 1.0, "weight_set_l": 1.0,
        "weight_meter_l": 1.0, "flow_limit_l_s": 1.0, "use_l_day": 500.0, "use_spread": 0.3,
    }  # fmt: skip
    whole = {"port": 1, "fit_us": START_US, "removed_us": NEVER, "capacity_counts": 10**6, "start_count": 0}
    arrays = {name: np.full(count, value, np.float64) for name, value in floats.items()}
    arrays |= {name: np.full(count, value, np.int64) for name, value in whole.items()}  # type: ignore[arg-type]
    arrays["channel"] = np.arange(count, dtype=np.int64)  # type: ignore[assignment]
    for name, values in changes.items():
        arrays[name] = np.asarray(values, arrays[name].dtype)
    names = [f"{k:03d}" for k in range(count)]
    return Fleet(
        meter_serial=[f"M-{name}" for name in names], role=["single"] * count,
        endpoint_serial=[f"E-{name}" for name in names], site=names, **arrays,
    )  # fmt: skip


def calendar_of(days: int) -> Calendar:
    """Return a calendar in UTC without weather."""
    hours = np.arange(days * 24)
    unknown = np.full(days * 24, -1, np.int8)
    return Calendar(START_US, (hours % 24).astype(np.int8), unknown, unknown)


Read = tuple[int, float, int, str]
"""Channel, hours since the start, count, flag."""


def scan_of(
    fleet: Fleet, reads: Sequence[Read], *, days: int = 10, dials: Sequence[tuple[int, float]] = (),
    cuts: Sequence[int] = (),
) -> Scan:  # fmt: skip
    """Scan reads as given, in batches cut at the positions of ``cuts``; ``dials`` are (fitting, hours), sorted."""
    fitting = np.array([f for f, _ in dials], np.int64)
    dial_us = np.array([START_US + round(hours * HOUR_US) for _, hours in dials], np.int64)
    channels = int(fleet.channel.max()) + 1
    scanner = Scanner(fleet, calendar_of(days), windows_of(fleet, fitting, dial_us, channels))
    channel = np.array([read[0] for read in reads], np.int32)
    at = np.array([START_US + round(read[1] * HOUR_US) for read in reads], np.int64)
    index = np.array([read[2] for read in reads], np.int64)
    flag = np.array([FLAGS[read[3]] for read in reads], np.int8)
    edges = [0, *sorted(cuts), len(reads)]
    for low, high in pairwise(edges):
        scanner.feed(channel[low:high], at[low:high], index[low:high], flag[low:high])
    return scanner.finish()


def hourly(counts: Sequence[int], *, channel: int = 0, first_hour: float = 0.0) -> list[Read]:
    """Return reads an hour apart without flags."""
    return [(channel, first_hour + k, count, "") for k, count in enumerate(counts)]
