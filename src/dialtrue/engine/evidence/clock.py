"""Evidence of the clock: a day that moved by some hours against the port's own earlier days, or against the town's.

A shift moves the whole day and keeps its shape. People who change their hours change the shape too, and where all ports
move at one date it is the import's doing or the summer's, not a port's.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.evidence.pauses import pace_of
from dialtrue.engine.evidence.stamps import weigh_stamps
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.onsets import Onsets
from dialtrue.engine.parts import over_parts
from dialtrue.engine.scan_kernel import DAY_US, PERIOD_DAYS

HOURS_OWN = 14.0
"""Hours of the day that are draws of their own. Our assumption: neighbouring hours go together."""
LEAST_MOVES = 40
"""Hours with a count needed on either side. Our assumption."""
USUAL_PART = 0.985
"""Part of a town's ports whose oddness is no shift of the clock: timers, night work and seasons move days too. Our
assumption."""
NIGHT_WORK_SHARE = 0.04
"""Share of places whose people live by other hours: without an earlier day of their own a wrong clock looks the same.
Our assumption."""
ODDEST = 2
"""Ports of any town that are the oddest, however few there are. Our assumption."""
PRIOR_DAYS = 6.0
"""Days' worth of the town's day in a port's own day. Our assumption."""
LEAST_DAYS = 10
"""Days heard on either side of a change. Our assumption."""
TOWN_PORTS = 60
"""Ports from which a town's days can be told apart. Our assumption."""
TOWN_SHARE = 0.2
"""Share of ports with one shift at one time from which it is everybody's. Our assumption."""
TAIL = 5.0
"""Degrees of freedom of the days of a town about its mean: some places keep hours of their own. Our assumption."""
STEEPNESS = 2.0
"""How much steeper the town's own tail falls than the gain says. Measured on simulated and measured days: one port in
three beyond the bound for each 0.5 nat."""
SMALL_TOWN_NAT = 5.0
"""What timers and seasons make of a gain in a town too small to tell [nat]. Our assumption."""
MOST_NAT = 12.0
"""Most that the hours say [nat]. Our assumption."""
SHIFTS = np.arange(24)
LOG_SHIFT = np.log(np.where(SHIFTS == 0, 0.0, np.where((SHIFTS == 1) | (SHIFTS == 23), 0.2, 0.6 / 21)) + 1e-30)
"""Log share of each shift [h]: two in five are by the one hour of summer time. Our assumption."""


@njit(cache=True, nogil=True)
def _move_gains(moves, steps, town, log_shift, value, shift, heard, begin, end):
    """Fill ``value``, ``shift``, ``heard`` (n, periods) for the rows from ``begin`` to before ``end``.

    ``value`` is the log-likelihood of a shift at the start of each period against none [nat], ``shift`` the best one
    [h], ``heard`` whether both sides tell enough; ``moves``, ``steps`` (n, periods, 24), ``town`` (24,) shares.
    """
    periods = moves.shape[1]
    before_m, before_s = np.zeros(24), np.zeros(24)
    after_m, after_s = np.zeros(24), np.zeros(24)
    share, seen, sure = np.zeros(24), np.zeros(24), np.zeros(24)
    back = np.zeros(48)
    told = np.zeros(24)
    for f in range(begin, end):
        for h in range(24):
            before_m[h] = before_s[h] = after_m[h] = after_s[h] = 0.0
            for j in range(periods):
                after_m[h] += moves[f, j, h]
                after_s[h] += steps[f, j, h]
        for j in range(1, periods):
            m0, s0, m1, s1, due = 0.0, 0.0, 0.0, 0.0, 0.0
            for h in range(24):
                before_m[h] += moves[f, j - 1, h]
                before_s[h] += steps[f, j - 1, h]
                after_m[h] -= moves[f, j - 1, h]
                after_s[h] -= steps[f, j - 1, h]
                m0 += before_m[h]
                s0 += before_s[h]
                m1 += after_m[h]
                s1 += after_s[h]
                due += before_s[h] * town[h]
            enough = min(s0, s1) >= 24 * LEAST_DAYS and min(m0, m1) >= LEAST_MOVES
            heard[f, j] = enough
            if not enough:
                continue
            level = m0 / max(due, 1e-9)
            due = 0.0
            for h in range(24):
                usual = min(max(level * town[h], 0.005), 0.98)
                share[h] = min(max((before_m[h] + PRIOR_DAYS * usual) / (before_s[h] + PRIOR_DAYS), 0.004), 0.996)
                due += after_s[h] * share[h]
            # More or less use altogether is no matter of the clock: the level follows.
            odds = (m1 + 1.0) / (due + 1.0)
            for h in range(24):
                expected = 2.0 * math.asin(math.sqrt(min(max(share[h] * odds, 0.004), 0.996)))
                back[24 - h] = back[(48 - h) % 48] = expected
                seen[h] = 2.0 * math.asin(math.sqrt((after_m[h] + 0.25) / (after_s[h] + 0.5)))
                sure[h] = 1.0 / (1.0 / (before_s[h] + PRIOR_DAYS) + 1.0 / (after_s[h] + 0.5))
            # Squared distance of the day from the expected one on a clock s hours fast.
            told[:] = 24.0
            for h in range(24):
                for s in range(24):
                    gap = seen[h] - back[s - h + 24]
                    told[s] += gap * gap * sure[h]
            top, best = -1e30, 1
            for s in range(1, 24):
                told[s] = 0.5 * HOURS_OWN * math.log(told[0] / told[s]) + log_shift[s]
                if told[s] > top:
                    top, best = told[s], s
            total = 0.0
            for s in range(1, 24):
                total += math.exp(told[s] - top)
            value[f, j] = top + math.log(total)
            shift[f, j] = best - 24 if best > 12 else best


@njit(cache=True, nogil=True)
def _odd_gains(x, half, middle, log_shift, value, shift, begin, end):
    """Fill ``value`` (n,), how much better a day set back fits the town than as it stands [nat], and ``shift`` [h].

    ``x`` (n, 24) logits by hour; ``half`` (24, 24) upper triangular root of the town's inverse covariance, ``middle``
    (24,) that root times the town's mean. Rows from ``begin`` to before ``end`` are looked at.
    """
    twice = np.zeros(48)
    told, gap, square = np.zeros(24), np.zeros(24), np.zeros(24)
    for f in range(begin, end):
        for h in range(24):
            twice[h] = twice[h + 24] = x[f, h]
        square[:] = 0.0
        for i in range(24):
            gap[:] = -middle[i]
            for h in range(i, 24):
                # A clock s hours fast shows hour h at h + s.
                for s in range(24):
                    gap[s] += half[i, h] * twice[h + s]
            for s in range(24):
                square[s] += gap[s] * gap[s]
        for s in range(24):
            told[s] = -0.5 * (TAIL + 24) * math.log1p(square[s] / TAIL)
        top, best = -1e30, 1
        for s in range(1, 24):
            if told[s] + log_shift[s] > top:
                top, best = told[s] + log_shift[s], s
        total = 0.0
        for s in range(1, 24):
            total += math.exp(told[s] + log_shift[s] - top)
        value[f] = top + math.log(total) - told[0]
        shift[f] = best - 24 if best > 12 else best


def hour_shares(moves: Floats, steps: Floats, town: Floats) -> Floats:
    """Return the share of each local hour's days with a count, drawn to the town's day at the port's own level.

    ``moves``, ``steps`` (n, 24), ``town`` (24,) shares; (n, 24) in (0, 1).
    """
    level = moves.sum(axis=1, keepdims=True) / np.maximum((steps * town).sum(axis=1, keepdims=True), 1e-9)
    expected = np.clip(level * town, 0.005, 0.98)
    out: Floats = (moves + PRIOR_DAYS * expected) / (steps + PRIOR_DAYS)
    return np.clip(out, 0.004, 0.996)


def moved_days(moves: Floats, steps: Floats) -> tuple[Floats, Ints]:
    """Weigh a shift between periods against the port's own earlier day.

    Parameters
    ----------
    moves, steps : float64, shape (n, periods, 24)
        Hours with a count and hours heard, by local hour.

    Returns
    -------
    gain : float64, shape (n, periods)
        Log-likelihood of a shift at the start of each period against none; 0 for the first. [nat]
    shift : int64, shape (n, periods)
        The best shift of the clock, -11 to 12. [h]

    Raises
    ------
    Never raises.

    Source
    ------
    Squared distance of the arcsine roots of the shares (their scatter does not depend on the share), as it stands and
    set back, with the scatter unknown: where neither fits, people changed their hours, and the ratio is near one.
    """
    n, periods, _ = moves.shape
    gain, shift = np.zeros((n, periods)), np.zeros((n, periods), np.int64)
    level = moves.sum(axis=(0, 1)) / np.maximum(steps.sum(axis=(0, 1)), 1.0)
    town = np.maximum(level, 0.004)
    raw, sure = np.zeros((n, periods)), np.zeros((n, periods), np.bool_)
    data = (moves, steps, town, LOG_SHIFT, raw, shift, sure)
    over_parts(n, lambda begin, end: _move_gains(*data, begin, end))
    for j in range(1, periods):
        heard = sure[:, j]
        value = beyond_the_town(raw[:, j], heard)
        # What moves everybody's day is not this port's clock.
        strong = heard & (value > 1.0)
        if n >= TOWN_PORTS and heard.sum() >= TOWN_PORTS:
            for s in np.unique(shift[strong, j]):
                same = strong & (shift[:, j] == s)
                if same.sum() > TOWN_SHARE * heard.sum():
                    value = np.where(same, 0.0, value)
        gain[:, j] = np.where(heard, np.clip(value, -MOST_NAT, MOST_NAT), 0.0)
    return gain, shift


def beyond_the_town(value: Floats, heard: NDArray[np.bool_]) -> Floats:
    """Return how far a gain stands out among the town's own; small towns are taken to have odd places too. [nat]"""
    told = np.sort(value[heard])
    usual = SMALL_TOWN_NAT
    if len(told) >= TOWN_PORTS:
        usual = max(float(told[-max(round((1 - USUAL_PART) * len(told)), ODDEST) - 1]), 0.4)
    above = np.minimum(STEEPNESS * (value - usual), MOST_NAT)
    return np.where(heard, np.where(value > usual, above, np.clip(value - usual, -4.0, 0.0)), 0.0)


def odd_days(moves: Floats, steps: Floats) -> tuple[Floats, Ints]:
    """Weigh a shift from the first day on by how odd the port's day is among the town's, as it stands and set back.

    It stays a hint: people who work at night look the same, and there are more of them.

    Parameters
    ----------
    moves, steps : float64, shape (n, 24)

    Returns
    -------
    gain : float64, shape (n,)
        [nat]
    shift : int64, shape (n,)
        The best shift of the clock, -11 to 12. [h]

    Raises
    ------
    Never raises.

    Source
    ------
    Student's density of the logits by hour about the town's mean, with the town's own covariance drawn to its diagonal.
    """
    n = len(moves)
    share = moves.sum(axis=1) / np.maximum(steps.sum(axis=1), 1)
    known = (steps.sum(axis=1) > 24 * 14) & (share > 0.03) & (share < 0.9)
    gain, shift = np.zeros(n), np.zeros(n, np.int64)
    if known.sum() < TOWN_PORTS:
        return gain, shift
    town = moves[known].sum(axis=0) / np.maximum(steps[known].sum(axis=0), 1)
    p = hour_shares(moves[known], steps[known], np.maximum(town, 0.004))
    # The prior's pull is the town's own hour: set back, a day must not look like the town for that alone.
    p = np.clip((moves[known] + 0.5) / (steps[known] + 1.0), 0.004, 0.996) * 0.7 + 0.3 * p
    x = np.log(p / (1 - p))
    x = x - x.mean(axis=1, keepdims=True)
    sample = x[:: max(len(x) // 5000, 1)]
    mean = np.median(sample, axis=0)
    apart = sample - sample.mean(axis=0)
    # A product this narrow is not worth waking the threads of a library of matrices for.
    spread = np.einsum("ni,nj->ij", apart, apart) / (len(sample) - 1)
    shrink = min(0.3, 24.0 / len(sample))
    spread = (1 - shrink) * spread + shrink * np.diag(np.diag(spread)) + 0.05 * np.eye(24)
    inverse = np.linalg.inv(spread)
    half = np.linalg.cholesky(inverse).T
    value, best = np.zeros(len(x)), np.zeros(len(x), np.int64)
    data = (x, np.ascontiguousarray(half), half @ mean, LOG_SHIFT, value, best)
    over_parts(len(x), lambda begin, end: _odd_gains(*data, begin, end))
    gain[known] = np.clip(value, -4.0, 12.0)
    gain = beyond_the_town(gain, known)
    gain = gain - np.log1p(NIGHT_WORK_SHARE * (np.exp(gain) - 1))
    shift[known] = best
    return gain, shift


def weigh(case: Case, onsets: Onsets) -> Block:
    """Weigh the hours at which the counts come, and the stamps of the reads themselves.

    Reads a day or more apart do not show the hours of use; their stamps still may show the clock.

    Source
    ------
    ``moved_days`` and ``odd_days``; that a shift moves all and keeps the shape is common practice.
    """
    scan, figures, n = case.scan, case.scan.figures, case.fleet.size
    moves, steps = scan.hour_moves, scan.hour_steps
    gain, shift = moved_days(moves, steps)
    odd, first_shift = odd_days(moves.sum(axis=1).astype(float), steps.sum(axis=1).astype(float))
    stamped = weigh_stamps(case, onsets, pace_of(case))
    periods = moves.shape[1]
    best = np.argmax(gain, axis=1)
    later = gain[np.arange(n), best]
    by_course = later > np.maximum(odd, 0.0)
    said_shift = np.where(by_course, shift[np.arange(n), best], first_shift)
    said_shift = np.where(stamped.best > np.maximum(later, odd), stamped.error_h, said_shift)
    # A clock set back stamps as many reads at times that are taken already; other clashes are a matter of the delivery.
    taken = figures["clashes"]
    overlap = (said_shift < 0) & by_course & (taken >= 2) & (np.abs(taken + said_shift) <= 1)

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        said: dict[str, Figure] = {
            "clock_shift_h": float(said_shift[row]), "against_own_earlier_day_nat": round(float(later[row]), 2),
            "against_the_town_nat": round(float(odd[row]), 2), "reads_at_taken_times": int(taken[row]),
            "by_stamps_nat": round(float(stamped.best[row]), 2), "by_stamps_h": float(stamped.error_h[row]),
        }  # fmt: skip
        if stamped.best[row] > 3.0:
            return "First and last reads, time of day and dial are those of a clock that is wrong.", said
        if not steps[row].any():
            return "Reads a day or more apart do not show the clock.", said
        if max(later[row], odd[row]) > 1.5:
            return "The day is the same with its hours moved.", said
        return "The hours of the day are where they were.", said

    block = Block.blank("clock", n, says)
    since = (onsets.at_us - scan.calendar.start_us) / (PERIOD_DAYS * DAY_US)
    at = np.clip(np.rint(since), 0, periods).astype(np.int64)
    told = np.concatenate((gain, np.zeros((n, 1))), axis=1)
    value = told[np.arange(n)[:, None], at]
    value[:, 0] = odd
    value += stamped.at_onset
    block.at_onset["clock_shift"] = value.astype(np.float32)
    # Clashes make others doubt the serial: here they are the clock's.
    block.add("clock_shift", overlap, np.where(taken > 2, 8.0, 2.0))
    block.add("duplicate_serial", overlap & (taken > 2), -3.0)
    turn = scan.calendar.start_us + best * PERIOD_DAYS * DAY_US
    block.since_us[:, COLUMN["clock_shift"]] = np.where(by_course & (later > 2.0), turn, 0)
    block.measured()[:, COLUMN["clock_shift"]] = np.where(
        np.maximum(np.maximum(later, odd), stamped.best) > 1.0, said_shift * 3600.0, np.nan
    )
    return block
