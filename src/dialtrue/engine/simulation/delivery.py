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

SUMMER_TIME = "summer_time"
"""Variant of a clock that does not follow the change of summer time, or follows it twice."""
GLITCH_SHARE = 0.012
"""Share of ports with a read or two that a radio error or a stray bit has made nonsense of. Our assumption."""
_FADING_SHARE = 0.01
_MENDED_SHARE = 0.4
_OUTAGES_A_MONTH = 0.25
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
        _hold_stale(port, rng, index, flag)
    if port.fate.code == "clock_shift":
        at_s = _shifted_clock(port, rng, at_s)
    arrives = _arrives(rng, count) & ~_collector_out(port)
    if count:
        arrives[[0, -1]] = True
    _fill_holes(port, rng, index, flag, arrives)
    _fade(port, rng, arrives, flag)
    mended = _glitch(port, rng, index, flag)
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
    sent = Delivered(mark, at_s[mark], index[mark], flag[mark], received)
    return _corrected(sent, rng, at_s, mended)


def _corrected(sent: Delivered, rng: np.random.Generator, at_s: np.ndarray, mended: dict[int, int]) -> Delivered:
    """Add the right value of some nonsense reads: of the same instant, received a day or more later."""
    places = np.array([place for place in mended if rng.random() < _MENDED_SHARE], np.int64)
    if not len(places):
        return sent
    mark = np.concatenate((sent.mark, places))
    order = np.argsort(mark, kind="stable")
    later = at_s[places] + (rng.uniform(1, 4, len(places)) * DAY_S).astype(np.int64)
    columns = (
        (sent.at_s, at_s[places]), (sent.index, np.array([mended[int(place)] for place in places], np.int64)),
        (sent.flag, np.zeros(len(places), np.int8)), (sent.received_s, later),
    )  # fmt: skip
    return Delivered(mark[order], *(np.concatenate(column)[order] for column in columns))


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


def _collector_out(port: Port) -> np.ndarray:
    """Return which marks a whole street loses at once, because its collector is down for some hours or days."""
    rng = np.random.default_rng([port.spec.street, port.end_s % 2**31])
    if not len(port.marks_s):
        return np.zeros(0, bool)
    first_s, last_s = port.end_s - 400 * DAY_S, port.end_s
    count = int(rng.poisson(_OUTAGES_A_MONTH * (last_s - first_s) / (30 * DAY_S)))
    begin, length = rng.uniform(first_s, last_s, count), rng.exponential(0.6 * DAY_S, count)
    at_s = port.marks_s[:, None]
    return ((at_s >= begin) & (at_s < begin + length)).any(axis=1)


def _fade(port: Port, rng: np.random.Generator, arrives: np.ndarray, flag: np.ndarray) -> None:
    """Let a dying cell's reads come ever more rarely, and never again in the last days; the count itself is right."""
    fades, draw = rng.random() < _FADING_SHARE, float(rng.random())
    if not fades or len(arrives) < 40 or port.fate.code != "sound" or port.removed_s is not None:
        return
    life = np.linspace(0.0, 1.0, len(arrives))
    arrives &= rng.random(len(arrives)) > np.clip((life - 0.3) * 1.2, 0.0, 0.95)
    quiet = int((2 + 8 * draw) * DAY_S / max(int(np.median(np.diff(port.marks_s))), 1))
    arrives[-max(quiet, 1) :] = False
    arrives[0] = True
    flag[-max(quiet, 1) :] = FLAG_NONE
    port.variant = "cell_fades"
    if draw < 0.6:
        port.alarms.append((port.end_s - 30 * DAY_S, "low_battery"))


def _glitch(port: Port, rng: np.random.Generator, index: np.ndarray, flag: np.ndarray) -> dict[int, int]:
    """Make a read or two nonsense, not the last: nought, a flipped bit, a digit wrong. Return the right values."""
    right: dict[int, int] = {}
    if rng.random() >= GLITCH_SHARE or len(index) < 10:
        return right
    for place in rng.integers(2, len(index) - 3, int(rng.integers(1, 3))):
        value, kind = int(index[place]), int(rng.integers(0, 3))
        wrong = (0, value ^ (1 << int(rng.integers(4, 20))), value + 10 ** int(rng.integers(2, 5)))[kind]
        right.setdefault(int(place), value)
        index[place] = wrong % port.actual.capacity
        flag[place] = FLAG_NONE
    if port.fate.code == "sound" and not port.variant:
        port.variant = "glitch"
    return right


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


def _hold_stale(port: Port, rng: np.random.Generator, index: np.ndarray, flag: np.ndarray) -> None:
    """Repeat one value for days while water passes, then catch up; some ports suffer it several times."""
    step_s = int(np.median(np.diff(port.marks_s))) if len(port.marks_s) > 1 else DAY_S
    last_s = port.end_s - max(2 * DAY_S, int(1.1 * step_s))
    # Whoever fills holes with the last value may say so, or not.
    said = rng.random() < 0.3
    begin_s = port.fate.onset_s
    longest = 0
    for _ in range(1 + int(3 * port.fate.severity)):
        length_s = int(rng.uniform(1.5, 4 + 8 * port.fate.severity) * DAY_S) + (2 * step_s if step_s > DAY_S else 0)
        until_s = min(begin_s + length_s, last_s)
        held = np.flatnonzero((port.marks_s >= begin_s) & (port.marks_s < until_s))
        if len(held) > 1:
            index[held] = index[held[0]]
            flag[held[1:]] = FLAG_REPEATED if said else FLAG_NONE
            longest = max(longest, int(port.marks_s[held[-1]] - port.marks_s[held[0]]))
        begin_s = until_s + int(rng.uniform(2, 12) * DAY_S)
    port.variant = "held_then_caught_up" + ("_said" if said else "")
    port.parameter = float(longest)


def _shifted_clock(port: Port, rng: np.random.Generator, at_s: np.ndarray) -> np.ndarray:
    """Stamp the reads wrongly from the onset on: by whole hours (a zone, summer time), or by minutes more each day."""
    late = port.marks_s >= port.fate.onset_s
    if port.variant == SUMMER_TIME:
        return at_s + late * int(port.parameter or 0)
    if rng.random() < 0.75:
        shift = int(_SHIFTS_S[int(rng.integers(0, len(_SHIFTS_S)))])
        port.variant, port.parameter = "zone", float(shift)
        return at_s + late * shift
    per_day_s = float(rng.choice((-1, 1))) * (20 + 100 * port.fate.severity)
    drift = ((port.marks_s - port.fate.onset_s) * per_day_s / DAY_S * late).astype(np.int64)
    port.variant, port.parameter = "drift", float(drift[-1]) if len(drift) else 0.0
    return at_s + drift
