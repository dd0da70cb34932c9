"""A case for the blocks of evidence from reads given by hand."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.fleet import Fleet
from dialtrue.engine.onsets import Onsets, candidate_onsets
from dialtrue.engine.pairing import lay_pairs
from dialtrue.engine.scan import Calendar, Scanner, windows_of
from tests.support.fleets import FLAGS, HOUR_US, START_US, Read

Dial = tuple[int, float, float]
"""Fitting, hours since the start, dial [L]."""


def case_of(
    fleet: Fleet, reads: Sequence[Read], *, days: int, dials: Sequence[Dial] = (), wet: Sequence[int] | None = None,
    cold: Sequence[int] | None = None, alarms: Sequence[tuple[int, int]] = (),
) -> tuple[Case, Onsets]:  # fmt: skip
    """Scan the reads and lay out a case; ``wet`` and ``cold`` are by hour, ``alarms`` are (fitting, kind)."""
    hours = np.arange(days * 24)
    unknown = np.full(days * 24, -1, np.int8)
    calendar = Calendar(
        START_US, (hours % 24).astype(np.int8), unknown if wet is None else np.asarray(wet, np.int8),
        unknown if cold is None else np.asarray(cold, np.int8),
    )  # fmt: skip
    fitting = np.array([f for f, _, _ in dials], np.int64)
    dial_us = np.array([START_US + round(hour * HOUR_US) for _, hour, _ in dials], np.int64)
    scanner = Scanner(fleet, calendar, windows_of(fleet, fitting, dial_us, int(fleet.channel.max()) + 1))
    scanner.feed(
        np.array([read[0] for read in reads], np.int32),
        np.array([START_US + round(read[1] * HOUR_US) for read in reads], np.int64),
        np.array([read[2] for read in reads], np.int64),
        np.array([FLAGS[read[3]] for read in reads], np.int8),
    )
    scan = scanner.finish()
    pairs = lay_pairs(
        fleet, scan, fitting=fitting, at_us=dial_us, dial_raw_l=np.array([litres for _, _, litres in dials], float),
        misread=np.full(len(dials), 0.004), clock_sd_h=np.full(len(dials), 0.1),
    )  # fmt: skip
    n = fleet.size
    counts = np.zeros((n, 4), np.int64)
    for row, kind in alarms:
        counts[row, kind] += 1
    none = np.zeros(n, bool)
    case = Case(
        fleet, scan, pairs, scan.figures["last_us"].copy(), counts, np.zeros(n, np.int64), np.full(n, -1, np.int64),
        none, none, none,
    )  # fmt: skip
    return case, candidate_onsets(fleet, scan, pairs.start_gap)


def home(days: int, *, seed: int, pulses_a_day: float = 60.0, night: float = 0.02) -> np.ndarray:
    """Return hourly pulses of an invented home: quiet nights, busy mornings and evenings, days that differ."""
    random = np.random.default_rng(seed)
    shape = np.array(
        [night] * 5 + [0.3, 1.5, 2.0, 1.2, 0.8, 0.7, 0.7, 0.8, 0.7, 0.6, 0.7, 0.9, 1.4, 1.6, 1.3, 1.0, 0.8, 0.4, 0.1]
    )
    mean = np.repeat(random.gamma(6.0, 1 / 6.0, days), 24) * np.tile(shape / shape.sum(), days) * pulses_a_day
    return random.poisson(mean * random.gamma(0.8, 1 / 0.8, days * 24))


def reads_of(pulses: np.ndarray, *, channel: int = 0, every: int = 1) -> list[Read]:
    """Return the index at the end of every ``every``-th hour."""
    index = np.concatenate(([0], np.cumsum(pulses)))
    return [(channel, float(hour), int(index[hour]), "") for hour in range(0, len(index), every)]
