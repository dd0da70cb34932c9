"""From latched index to delivered read: gaps, repeats, late and estimated reads, stale values, wrong clocks.

Source
------
Shares of missing, late and repeated reads are our assumption (about 98.5 % of hourly reads arrive); override by
editing the constants.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dialtrue.engine.simulation.port import FLAG_ESTIMATED, FLAG_NONE, FLAG_REPEATED, Port
from dialtrue.engine.simulation.sky import DAY_S, HOUR_S

_MISSING_MEDIAN = 0.006
_WEAK_RADIO_SHARE = 0.02
_GAPS_A_WINDOW = 0.35
_LATE_SHARE = 0.03
_DOUBLE_SHARE = 0.002
_SHIFTS_S = (3600, -3600, 7200, 18_000, -18_000, 21_600)


@dataclass(frozen=True, slots=True)
class Delivered:
    """Reads of one port in the order of their latch. ``mark`` is the row of ``Port.marks_s``."""

    mark: np.ndarray
    at_s: np.ndarray
    index: np.ndarray
    flag: np.ndarray
    received_s: np.ndarray

    def last_mark(self) -> int | None:
        """Return the row of the last read that is the endpoint's own word, or None."""
        own = np.flatnonzero(self.flag == FLAG_NONE)
        return int(self.mark[own[-1]]) if len(own) else None


def deliver(port: Port, rng: np.random.Generator) -> Delivered:
    """Deliver a port's reads.

    Parameters
    ----------
    port : Port
        Its index has been run.
    rng : numpy Generator

    Returns
    -------
    Delivered

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption; see the module.
    """
    count = len(port.marks_s)
    at_s = port.marks_s.copy()
    index = port.shown.copy()
    flag = np.zeros(count, np.int8)
    if port.fate.code == "stale_index":
        _hold_stale(port, rng, index)
    if port.fate.code == "clock_shift":
        at_s = _shifted_clock(port, rng, at_s)
    arrives = _arrives(rng, count)
    _fill_holes(port, rng, index, flag, arrives)
    keep = arrives | (flag != FLAG_NONE)
    if port.silent:
        keep[:] = False
    mark = np.flatnonzero(keep)
    twice = rng.random(len(mark)) < _DOUBLE_SHARE
    mark = np.repeat(mark, 1 + twice)
    delay = rng.exponential(240, len(mark)) + 5
    late = rng.random(len(mark)) < _LATE_SHARE
    delay = np.where(late, rng.uniform(1, 40, len(mark)) * HOUR_S, delay)
    received = port.marks_s[mark] + delay.astype(np.int64)
    return Delivered(mark, at_s[mark], index[mark], flag[mark], received)


def _arrives(rng: np.random.Generator, count: int) -> np.ndarray:
    """Return which reads arrive at once; a few endpoints sit where the radio is weak."""
    weak = rng.random() < _WEAK_RADIO_SHARE
    share = 0.3 if weak else min(_MISSING_MEDIAN * float(np.exp(rng.normal(0, 0.8))), 0.2)
    arrives = rng.random(count) >= share
    for _ in range(int(rng.poisson(_GAPS_A_WINDOW))):
        first = int(rng.integers(0, max(count, 1)))
        arrives[first : first + int(rng.integers(5, 70))] = False
    if count:
        arrives[[0, -1]] = True
    return arrives


def _fill_holes(port: Port, rng: np.random.Generator, index: np.ndarray, flag: np.ndarray, arrives: np.ndarray) -> None:
    """Fill some holes: a short one with the last value (said to be repeated, mostly), a long one with estimates."""
    missing = np.flatnonzero(~arrives)
    if not len(missing):
        return
    for hole in np.split(missing, np.flatnonzero(np.diff(missing) > 1) + 1):
        before, after = int(hole[0]) - 1, int(hole[-1]) + 1
        draw = rng.random()
        if len(hole) >= 12 and draw < 0.35:
            steps = np.arange(1, len(hole) + 1) / (len(hole) + 1)
            rise = (int(index[after]) - int(index[before])) % port.actual.capacity
            if rise < port.actual.capacity // 2:
                guess = index[before] + np.floor(rise * steps * rng.uniform(0.7, 1.0)).astype(np.int64)
                index[hole] = guess % port.actual.capacity
                flag[hole] = FLAG_ESTIMATED
        elif len(hole) <= 3 and draw < 0.12:
            index[hole] = index[before]
            flag[hole] = FLAG_REPEATED
            if draw < 0.03:
                flag[hole] = FLAG_NONE
                arrives[hole] = True


def _hold_stale(port: Port, rng: np.random.Generator, index: np.ndarray) -> None:
    """Repeat one value for days while water passes, then catch up; some ports suffer it several times."""
    last_s = port.end_s - 2 * DAY_S
    begin_s = port.fate.onset_s
    longest = 0
    for _ in range(1 + int(3 * port.fate.severity)):
        length_s = int(rng.uniform(1.5, 4 + 8 * port.fate.severity) * DAY_S)
        until_s = min(begin_s + length_s, last_s)
        held = np.flatnonzero((port.marks_s >= begin_s) & (port.marks_s < until_s))
        if len(held) > 1:
            index[held] = index[held[0]]
            longest = max(longest, int(port.marks_s[held[-1]] - port.marks_s[held[0]]))
        begin_s = until_s + int(rng.uniform(2, 12) * DAY_S)
    port.variant = "held_then_caught_up"
    port.parameter = float(longest)


def _shifted_clock(port: Port, rng: np.random.Generator, at_s: np.ndarray) -> np.ndarray:
    """Stamp the reads wrongly from the onset on: by whole hours (a zone), or by a drift of minutes a day."""
    late = port.marks_s >= port.fate.onset_s
    if rng.random() < 0.75:
        shift = int(_SHIFTS_S[int(rng.integers(0, len(_SHIFTS_S)))])
        port.variant, port.parameter = "zone", float(shift)
        return at_s + late * shift
    per_day_s = float(rng.choice((-1, 1))) * (20 + 100 * port.fate.severity)
    drift = ((port.marks_s - port.fate.onset_s) * per_day_s / DAY_S * late).astype(np.int64)
    port.variant, port.parameter = "drift", float(drift[-1]) if len(drift) else 0.0
    return at_s + drift
