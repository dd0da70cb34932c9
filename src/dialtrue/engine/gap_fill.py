"""Gaps between reads found by each port's own cadence and filled: by a straight line, like days or own history."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from dialtrue.engine.fleet import Ints
from dialtrue.engine.gap_shape import DAY_US, KINDS, SLOTS, spread_of, spread_over, weights_of
from dialtrue.engine.read_checks import CheckedReads

INTERPOLATED, LIKE_DAYS, OWN_HISTORY, EVEN = range(4)
NOTHING = -1
"""In ``rule``: nothing can be said."""
LEFT_LONG, LEFT_OPEN = -2, -3
"""In ``rule``: a gap longer than is filled; an open end without any history."""
_SIDE, _AGREE = 7, 5
_Z90 = 1.6448536269514722
_MOST = 4e18
"""No estimate goes on further than this, so that counts of a spoilt file stay within their type. [counts]"""
MONTH_US = 2_629_746_000_000
"""A twelfth of the mean year: the cadence of monthly reads. [µs]"""


@dataclass(slots=True)
class FillRules:
    """How gaps are filled. Times in µs; see ``ValidateSettings``."""

    interpolate_us: int
    past_alarm: bool
    reference_us: int
    longest_us: int
    open_us: int


@dataclass(slots=True)
class LocalTime:
    """Local time by the hour: ``offset_us`` (hours,) from UTC for the hour that begins ``start_us`` + n hours."""

    start_us: int
    offset_us: Ints


@dataclass(slots=True)
class Gaps:
    """Gaps of some runs, shapes (gaps,).

    ``run``; ``row_before`` and ``row_after`` the reads at its ends, ``row_after`` -1 where none came; ``end_us`` where
    it ends; ``missing`` reads that did not come; ``rule`` how it was filled, or why not (negative).
    """

    run: Ints
    row_before: Ints
    row_after: Ints
    end_us: Ints
    missing: Ints
    rule: NDArray[np.int8]


@dataclass(slots=True)
class Estimates:
    """Estimated reads, shapes (e,): the gap, the moment, the index, and its 90 % interval, all in counts."""

    gap: Ints
    at_us: Ints
    index: Ints
    low: Ints
    high: Ints


def cadence_of(reads: CheckedReads) -> Ints:
    """Return each run's usual time between two reads, 0 where fewer than three reads tell. [µs]

    Raises
    ------
    Never raises.

    Source
    ------
    The median, drawn to a whole cadence of the trade where it lies within a twentieth; our assumption.
    """
    cadence = np.zeros(len(reads.first) - 1, np.int64)
    _cadences(reads.first, reads.at_us, reads.before, cadence)
    return cadence


def find_gaps(reads: CheckedReads, cadence_us: Ints, until_us: Ints, rules: FillRules) -> Gaps:
    """Find what is missing in each run, by its own cadence or that of the reads around.

    Parameters
    ----------
    reads : CheckedReads
        Checked reads.
    cadence_us : int64, shape (runs,)
        From ``cadence_of``.
    until_us : int64, shape (runs,)
        Up to when reads of each run were to come. [µs]
    rules : FillRules
        How long an open end may be.

    Returns
    -------
    Gaps
        With rule ``NOTHING``: not yet filled.

    Raises
    ------
    Never raises.

    Notes
    -----
    A long step between stretches of reads that come as seldom as it lasts is no gap: the cadence changed.

    Source
    ------
    Our assumption: half a cadence over is late, more is missing.
    """
    args = (reads.first, reads.at_us, reads.before, cadence_us, until_us, rules.open_us)
    count = _gaps(*args, np.zeros((0, 5), np.int64))
    rows = np.zeros((count, 5), np.int64)
    _gaps(*args, rows)
    return Gaps(*(np.ascontiguousarray(rows[:, k]) for k in range(5)), np.full(count, NOTHING, np.int8))


def fill_gaps(
    reads: CheckedReads,
    gaps: Gaps,
    capacity: Ints,
    cadence_us: Ints,
    local: LocalTime,
    rules: FillRules,
    *,
    alarm_first: Ints,
    alarms_us: Ints,
) -> Estimates:
    """Fill gaps: a straight line up to two hours, like days beyond, scaled so that the known difference is met.

    Parameters
    ----------
    reads, gaps, cadence_us : CheckedReads, Gaps, int64 (runs,)
        As found; ``gaps.rule`` is filled in.
    capacity : int64, shape (runs,)
        What the index holds, 0 where not known. [counts]
    local : LocalTime
        For the kind of day and the hour.
    rules : FillRules
        How.
    alarm_first, alarms_us : int64
        Alarms of run k, in order, from ``alarm_first[k]`` to ``alarm_first[k + 1]``.

    Returns
    -------
    Estimates
        In order of gaps. The index never falls (but where it comes round), and the steps between the ends add up
        exactly. An estimate where a read stands that cannot be trusted is left out.

    Raises
    ------
    Never raises.

    Source
    ------
    ``CA-VEE`` section 4; ``WA-METERING-CODE`` for like days. The interval is our assumption: steps spread as those of
    the reference days do, drawn together by the known difference.
    """
    gaps.rule[gaps.end_us - reads.at_us[gaps.row_before] > rules.longest_us] = LEFT_LONG
    total = int(gaps.missing[gaps.rule != LEFT_LONG].sum())
    made = [np.zeros(total, np.int64) for _ in range(5)]
    count = _fill(
        reads.first, reads.at_us, reads.index, reads.before, reads.step, gaps.run, gaps.row_before, gaps.row_after,
        gaps.end_us, gaps.missing, gaps.rule, capacity, cadence_us, local.start_us, local.offset_us,
        rules.interpolate_us, rules.past_alarm, rules.reference_us, alarm_first, alarms_us, *made,
    )  # fmt: skip
    return Estimates(*(column[:count] for column in made))


@njit(cache=True, nogil=True)
def _whole_cadence(us):
    """Draw a time between reads to the nearest usual one within a twentieth."""
    for minutes in (1, 2, 5, 10, 15, 20, 30, 60, 120, 180, 240, 360, 480, 720, 1440, 10080):
        usual = np.int64(minutes) * 60_000_000
        if abs(us - usual) * 20 <= usual:
            return usual
    if 27 * DAY_US <= us <= 32 * DAY_US:
        return np.int64(MONTH_US)
    return us


@njit(cache=True, nogil=True)
def _cadences(first, at_us, before, cadence):
    for r in range(first.shape[0] - 1):
        steps, n = np.empty(first[r + 1] - first[r], np.int64), 0
        for i in range(first[r], first[r + 1]):
            if before[i] >= 0:
                steps[n] = at_us[i] - at_us[before[i]]
                n += 1
        if n >= 2:
            middle = (n - 1) // 2
            cadence[r] = max(_whole_cadence(np.partition(steps[:n], middle)[middle]), 1)


@njit(cache=True, nogil=True)
def _side_cadence(at_us, before, row, by, low, high):
    """Return the time between reads on one side of a step where most of them agree, 0 where they do not."""
    steps, n, i = np.empty(_SIDE, np.int64), 0, row
    while low <= i < high and n < _SIDE:
        if before[i] >= 0:
            steps[n] = at_us[i] - at_us[before[i]]
            n += 1
        i += by
    if n < 3:
        return np.int64(0)
    middle = np.sort(steps[:n])[(n - 1) // 2]
    agree = 0
    for k in range(n):
        agree += abs(steps[k] - middle) * 10 <= middle
    return _whole_cadence(middle) if agree * _SIDE >= _AGREE * n else np.int64(0)


@njit(cache=True, nogil=True)
def _gaps(first, at_us, before, cadence, until_us, open_us, rows):
    count = 0
    for r in range(first.shape[0] - 1):
        usual = cadence[r]
        if usual <= 0:
            continue
        low, high, last = first[r], first[r + 1], np.int64(-1)
        for i in range(low, high):
            if before[i] == -2:
                continue
            last = i
            if before[i] < 0:
                continue
            lasted = at_us[i] - at_us[before[i]]
            if 2 * lasted <= 3 * usual:
                continue
            one = _side_cadence(at_us, before, i - 1, -1, low, high)
            two = _side_cadence(at_us, before, i + 1, 1, low, high)
            here = max(one, two) if one > 0 and two > 0 else max(one, two, usual)
            if 2 * lasted <= 3 * here:
                continue
            here = min(one, two) if one > 0 and two > 0 else usual
            missing = max((2 * lasted + here) // (2 * here) - 1, 1)
            if rows.shape[0]:
                rows[count] = (r, before[i], i, at_us[i], missing)
            count += 1
        if last >= 0 and open_us > 0:
            until = min(until_us[r], at_us[last] + open_us)
            # Half a cadence over is late, not missing: as between two reads.
            missing = (until - at_us[last]) // usual if 2 * (until - at_us[last]) > 3 * usual else 0
            if missing > 0:
                if rows.shape[0]:
                    rows[count] = (r, last, -1, at_us[last] + missing * usual, missing)
                count += 1
    return count


@njit(cache=True, nogil=True)
def _alarmed(alarms_us, low, high, from_us, to_us):
    k = low + np.searchsorted(alarms_us[low:high], from_us)
    return k < high and alarms_us[k] <= to_us


@njit(cache=True, nogil=True)
def _share(total, weight, count, steps):
    """Share counts by weights, largest remainders first and the earlier first; returns in ``steps``."""
    whole = 0.0
    for k in range(count):
        whole += weight[k]
    rest, left = np.empty(count), total
    for k in range(count):
        exact = total * (weight[k] / whole) if whole > 0 else total / count
        floor = np.int64(np.floor(exact + 1e-9))
        steps[k] = floor
        rest[k] = floor - exact
        left -= floor
    if left > 0:
        order = np.argsort(rest, kind="mergesort")
        for k in range(left):
            steps[order[k % count]] += 1
    while left < 0:
        # A rounding of the last bit went up: take it back from the largest.
        k = np.argmax(steps[:count])
        taken = min(steps[k], -left)
        steps[k] -= taken
        left += taken


@njit(cache=True, nogil=True)
def _fill(
    first, at_us, index, before, step, gap_run, gap_before, gap_after, gap_end, gap_missing, gap_rule, capacity,
    cadence, local_start, offset_us, interpolate_us, past_alarm, reference_us, alarm_first, alarms_us,
    out_gap, out_at, out_index, out_low, out_high,
):  # fmt: skip
    made = 0
    rates, spread = np.zeros((KINDS + 1, SLOTS + 1)), np.zeros((KINDS + 1, SLOTS + 1))
    hits = np.zeros((KINDS + 1, SLOTS + 1), np.int64)
    width = np.int64(0)
    for g in range(gap_run.shape[0]):
        if gap_rule[g] != LEFT_LONG:
            width = max(width, gap_missing[g] + 1)
    weight, variance, steps = np.empty(width), np.empty(width), np.empty(width, np.int64)
    built_run, built_us, of_day, growth = np.int64(-1), np.int64(0), 0.0, 1.0
    reach_us = 2 * reference_us + 7 * DAY_US
    for g in range(gap_run.shape[0]):
        r, a, b = gap_run[g], gap_before[g], gap_after[g]
        begin, end, missing = at_us[a], gap_end[g], gap_missing[g]
        lasted = end - begin
        if gap_rule[g] == LEFT_LONG:
            continue
        week = begin // (7 * DAY_US) * 7 * DAY_US
        if built_run != r or built_us != week:
            built_run, built_us = r, week
            of_day, growth = spread_of(
                first[r], first[r + 1], at_us, before, step, week - reference_us, week + 7 * DAY_US + reference_us,
                cadence[r], local_start, offset_us, rates, spread, hits,
            )  # fmt: skip
        total = step[b] if b >= 0 else np.int64(0)
        count = missing + 1 if b >= 0 else missing
        span = lasted / count
        found = weights_of(
            begin, span, count, local_start, offset_us, rates, spread, hits, weight, variance
        )  # fmt: skip
        straight = False
        if b >= 0 and lasted <= interpolate_us + cadence[r] // 20:
            straight = past_alarm
            if not past_alarm:
                from_us = at_us[before[a]] if before[a] >= 0 else at_us[a]
                to_us = at_us[b + 1] if b + 1 < first[r + 1] else at_us[b]
                straight = not _alarmed(alarms_us, alarm_first[r], alarm_first[r + 1], from_us, to_us)
        if straight:
            gap_rule[g] = INTERPOLATED
        elif found == 0:
            gap_rule[g] = LIKE_DAYS
        elif found == 1:
            gap_rule[g] = OWN_HISTORY
        elif b >= 0:
            gap_rule[g] = EVEN
        else:
            gap_rule[g] = LEFT_OPEN
            continue
        expected, scatter = 0.0, 0.0
        for k in range(count):
            expected += weight[k]
            scatter += variance[k]
        if gap_rule[g] == INTERPOLATED or gap_rule[g] == EVEN:
            weight[:count] = 1.0
        by_hours = scatter / lasted * DAY_US
        scale = total / expected if expected > 0 and gap_rule[g] != INTERPOLATED else 1.0
        # Nothing to tell how it spreads by, or nothing like it seen: any course between the ends may be.
        blind = found == 2 or (expected <= 0 and total > 0)
        if b >= 0:
            _share(total, weight, count, steps)
        walked, own, own_spread = np.int64(0), 0.0, 0.0
        look = a + 1
        for k in range(missing):
            # Whole seconds after the read before, where the reads are no closer than that.
            whole = 1_000_000 if span >= 10_000_000 else 1
            t = begin + np.int64(np.round(span * (k + 1) / whole)) * whole
            own += weight[k]
            own_spread += variance[k]
            if b >= 0:
                walked += steps[k]
                shaped = own_spread / scatter if scatter > 0 else (k + 1) / count
                nearer = min(shaped, 1.0 - shaped)
                wide = spread_over(nearer * lasted, by_hours, of_day, growth) * (1.0 - nearer)
                half = total if blind else _Z90 * np.sqrt(wide * min(scale, 16.0))
                low = max(np.int64(np.floor(walked - half)), np.int64(0))
                high = min(np.int64(np.ceil(walked + half)), total)
            else:
                own = min(own, _MOST)
                walked = np.int64(np.floor(own + 0.5))
                wide = spread_over(t - begin, by_hours, of_day, growth)
                # The mean that is carried on is itself known from so many days only.
                wide += spread_over(reach_us, by_hours, of_day, growth) * ((t - begin) / reach_us) ** 2
                half = min(_Z90 * np.sqrt(wide), _MOST)
                low = max(np.int64(np.floor(walked - half)), np.int64(0))
                high = np.int64(np.ceil(walked + half))
            # A read that cannot be trusted stands here: it keeps its place, and gets no estimate.
            while look < first[r + 1] and at_us[look] < t - span / 2:
                look += 1
            if look < first[r + 1] and (b < 0 or look < b) and at_us[look] <= t + span / 2:
                continue
            out_gap[made], out_at[made] = g, t
            turn = capacity[r]
            out_index[made] = (index[a] + walked) % turn if turn > 0 else index[a] + walked
            out_low[made] = (index[a] + low) % turn if turn > 0 else index[a] + low
            out_high[made] = (index[a] + high) % turn if turn > 0 else index[a] + high
            made += 1
    return made
