"""The compiled loop of the scan: each read is looked at once and never again.

Reads come in runs: stretches of reads of one channel. All that a fitting carries from read to read stands in local
variables during a run and goes back to the arrays at its end, so that the usual read - on time, not below the last, no
faster than the meter - costs a few nanoseconds.
"""

from __future__ import annotations

import numpy as np
from numba import njit

HOUR_US = 3_600_000_000
DAY_US = 24 * HOUR_US
BACK_KEPT = 4
"""Backward steps kept with their values. Our assumption: four tell a reset from interleaved curves."""
SHORT_STEP_US = 3 * HOUR_US
"""A step this short can speak of an hour of the day. Our assumption: three hours, so that two lost reads do not
empty the profile."""
FREEZE_US = 6 * HOUR_US
"""A standstill counted as a freeze. Our assumption: most homes draw within six waking hours."""
FREEZES_KEPT = 4
"""Longest standstills kept with what ended them. Our assumption: four tell a habit from an event."""
PERIOD_DAYS = 28
"""Days over which the hours of the day are added up. Our assumption: four whole weeks, short enough to see a clock
that changed in mid-course."""
SIZES = 12
"""Classes of step size: 0, 1, 2, 3-4, 5-8, ... pulses; the last is open."""
FLAG_ESTIMATED = 1
FLAG_REPEATED = 2
MOST_INT8 = 127
MOST_INT16 = 2**15 - 1
MOST_INT32 = 2**31 - 1
BURST = 20.0
"""A roll-over step may be this many times the fastest step seen so far, where settings multiply the flow.
Our assumption: twenty, one decade and a factor of two."""
RATED_US = 600_000_000
"""Shorter steps say nothing of the pace: the pulse's own size is too large beside them. Our assumption: ten minutes."""
NEVER_US = np.iinfo(np.int64).max
_SMALL_STEPS = 2 ** (SIZES - 3)
SIZE_OF = np.array([0, 1, *(2 + int(p - 1).bit_length() - 1 for p in range(2, _SMALL_STEPS + 1))], np.int8)
"""Class of a step of so many pulses; larger ones are of the last class."""
_FEW_HOURS = 6


@njit(cache=True, nogil=True, error_model="numpy")
def _gcd(a, b):
    # Once the divisor is known, nearly every step is a multiple of it: one look settles those.
    if a == 1:
        return a
    if a > 0 and np.uint32(b) % np.uint32(a) == 0:
        return a
    while b:
        a, b = b, a % b
    return a


@njit(cache=True, nogil=True, error_model="numpy")
def _wide_gcd(a, b):
    while b:
        a, b = b, a % b
    return a


@njit(cache=True, nogil=True)
def _keep_freeze(kept, from_us, to_us, d, dt):
    # Longest first; an equal one that came earlier stays before.
    place = FREEZES_KEPT
    while place > 0 and to_us - dt - from_us > kept[place - 1, 1] - kept[place - 1, 3] - kept[place - 1, 0]:
        place -= 1
    if place == FREEZES_KEPT:
        return
    for k in range(FREEZES_KEPT - 1, place, -1):
        for column in range(4):
            kept[k, column] = kept[k - 1, column]
    kept[place, 0] = from_us
    kept[place, 1] = to_us
    kept[place, 2] = d
    kept[place, 3] = dt


@njit(cache=True, nogil=True)
def _close_freeze(g, kept, moved_us, last_us, t, d, dt):
    """Fold a standstill that a step has ended into the figures."""
    still = last_us - moved_us
    g.freezes += 1
    g.frozen_us += still
    _keep_freeze(kept, moved_us, t, d, dt)
    if d > g.jump:
        g.jump = d
        g.jump_from_us = moved_us
        g.jump_to_us = t
        g.jump_step_us = dt
    if still > g.longest_us:
        g.longest_us = still
        g.longest_from_us = moved_us
        g.longest_jump = d


@njit(cache=True, nogil=True)
def _add_hours(first, last, tally, hour_local, wet_slot, cold_slot, steps, wet_hours, cold_steps):
    """Add one step for each calendar hour in [first, last), all of one period."""
    if last - first > _FEW_HOURS:
        for k in range(24):
            steps[k] = min(np.int64(steps[k]) + tally[last, k] - tally[first, k], MOST_INT16)
        for k in range(48):
            wet_hours[k] += tally[last, 24 + k] - tally[first, 24 + k]
            cold_steps[k] += tally[last, 72 + k] - tally[first, 72 + k]
        return
    for hour in range(first, last):
        k = hour_local[hour]
        if steps[k] < MOST_INT16:
            steps[k] += 1
        if wet_slot[hour] >= 0:
            wet_hours[wet_slot[hour]] += 1
        if cold_slot[hour] >= 0:
            cold_steps[cold_slot[hour]] += 1


@njit(cache=True, nogil=True, error_model="numpy")
def count_run(
    f, low, high, at_us, index, flag,
    dial_first, dial_us, pointer, fit_us, removed_us, capacity, limit_per_us, weight_counts,
    fig, back, freeze, day_walk, day_least, day_zero, day_steps, day_granule,
    hour_moves, hour_steps, step_sizes, wet_counts, wet_hours, cold_zero, cold_steps,
    pair_before, pair_after,
    start_us, hour_local, wet_slot, cold_slot, tally,
):  # fmt: skip
    """Fold the reads [low, high), all of the channel that fitting ``f`` listens to, into its figures."""
    hours = hour_local.shape[0]
    days = day_walk.shape[1]
    flagged = flag.shape[0] > 0
    fitted, removed, cap = fit_us[f], removed_us[f], capacity[f]
    most_count = cap if cap > 0 else NEVER_US
    per_us, weight = limit_per_us[f], weight_counts[f]
    hour_limit = per_us * HOUR_US + weight + 1.0
    most_hourly = np.int64(hour_limit) if hour_limit < MOST_INT32 else MOST_INT32
    pulsed = weight >= 1.0
    whole_weight = np.int64(weight) if weight == np.rint(weight) and 1.0 <= weight < MOST_INT32 else 0
    g = fig[f]
    n, walk, forward, odd, granule = g.n, g.walk, g.forward, g.odd, g.granule
    last_us, last_count, last_step = g.last_us, g.last_count, g.last_step
    before_us, before_count, moved_us = g.before_us, g.before_count, g.moved_us
    fastest, busiest = g.fastest, g.busiest
    # A step of an hour up to so many counts raises neither: busiest is never above fastest.
    calm = np.int64(busiest * HOUR_US) - 2
    began_us = last_us
    short, zero, quick, quick_before = 0, 0, 0, 0
    next_dial = dial_us[pointer[f]] if pointer[f] < dial_first[f + 1] else NEVER_US
    sizes, moves = step_sizes[f], hour_moves[f, 0]
    counts_by_wet, zero_by_cold = wet_counts[f], cold_zero[f]
    # The day in hand; its figures go to the arrays when it ends.
    day, day_end, inside = -1, np.iinfo(np.int64).min, False
    d_zero, d_steps, d_granule, d_least = 0, 0, np.int64(0), np.inf
    # Calendar hours that have had one step each, not yet added up.
    hour_from, hour_to, period, period_end = 0, 0, 0, 0
    # Whether the last read was an hour's and counted in its hour; up to when nothing but reads can happen.
    steady, stop_us = False, np.int64(0)
    for i in range(low, high):
        t = at_us[i]
        x = index[i]
        dt = t - last_us
        d = x - last_count
        if (
            steady
            and dt == HOUR_US
            and 0 <= d <= most_hourly
            and t < stop_us
            and x < most_count
            and hour_to < period_end
            and (not flagged or flag[i] <= 0)
        ):
            # The usual read: an hour after the last, in the same day, an amount that any hour may bring.
            if d == 0:
                zero += 1
                d_zero += 1
                d_least = min(d_least, 0.0)
                if cold_slot[hour_to] >= 0:
                    zero_by_cold[cold_slot[hour_to]] += 1
            else:
                forward += 1
                pulses = d
                if pulsed:
                    if weight != 1.0:
                        pulses = np.int64(np.rint(d / weight))
                    odd += pulses & 1
                if d_granule != 1 and (d_granule != whole_weight or pulses * whole_weight != d):
                    d_granule = _gcd(d_granule, d)
                if d > calm:
                    pace = d / dt
                    if pace > fastest:
                        fastest = pace
                    if pace > busiest and last_us - moved_us < FREEZE_US:
                        busiest = pace
                        calm = d
                if last_us - moved_us >= FREEZE_US:
                    _close_freeze(g, freeze[f], moved_us, last_us, t, d, dt)
                moved_us = t
                walk += d
                sizes[SIZE_OF[pulses] if pulses <= _SMALL_STEPS else SIZES - 1] += 1
                d_least = min(d_least, float(d))
                local = hour_local[hour_to]
                if moves[local] < MOST_INT16:
                    moves[local] += 1
                if wet_slot[hour_to] >= 0:
                    counts_by_wet[wet_slot[hour_to]] += d
            hour_to += 1
            quick += 1
            before_us, before_count = last_us, last_count
            last_us, last_count, last_step = t, x, d
            continue
        if t < fitted or t > removed:
            continue
        if flagged and flag[i] > 0:
            if flag[i] == FLAG_ESTIMATED:
                g.estimated += 1
            else:
                g.repeated += 1
            continue
        if x >= most_count:
            g.beyond += 1
            continue
        if n == 0:
            n = 1
            g.first_us = began_us = last_us = before_us = moved_us = t
            g.first_count = last_count = before_count = x
            while pointer[f] < dial_first[f + 1] and dial_us[pointer[f]] < t:
                j = pointer[f]
                pair_after[j, 0] = t
                pair_after[j, 1] = 0
                pair_after[j, 2] = x
                pointer[f] += 1
            next_dial = dial_us[pointer[f]] if pointer[f] < dial_first[f + 1] else NEVER_US
            that = (t - start_us) // DAY_US
            if 0 <= that < days:
                day_walk[f, that] = 0.0
            continue
        if dt <= 0:
            if dt < 0:
                g.disorder += 1
            elif d != 0:
                g.clashes += 1
            continue
        if t >= day_end:
            if inside:
                _end_day(f, day, walk, d_zero, d_steps + quick - quick_before, d_granule, d_least,
                         day_walk, day_zero, day_steps, day_granule, day_least)  # fmt: skip
                granule = _wide_gcd(granule, d_granule)
            day = (t - start_us) // DAY_US
            day_end = start_us + (day + 1) * DAY_US
            inside = 0 <= day < days
            d_zero, d_steps, d_granule, d_least = 0, 0, np.int64(0), np.inf
            quick_before = quick
        steady = False
        hourly = dt == HOUR_US
        limit = hour_limit if hourly else per_us * dt + weight + 1.0
        if d < 0 or d > limit:
            if d < 0:
                if (
                    last_step > 1.5 * limit
                    and x >= before_count
                    and (x - before_count <= per_us * (t - before_us) + weight + 1.0)
                ):
                    # One absurd read between two that agree: take the spike back and go on from before it.
                    g.spikes += 1
                    walk -= last_step
                    that = (last_us - start_us) // DAY_US
                    if 0 <= that < days:
                        day_walk[f, that] = walk
                    forward -= 1
                    g.over -= 1
                    d = x - before_count
                elif cap > 0:
                    turned = d + cap
                    if turned <= max(limit, BURST * fastest * dt) and turned * 2 < cap:
                        d = turned
                        g.rolls += 1
            elif cap > 0 and cap - d <= weight + 1.0:
                d -= cap
            if d < 0:
                if g.backs < BACK_KEPT:
                    back[f, g.backs, 0] = last_us
                    back[f, g.backs, 1] = t
                    back[f, g.backs, 2] = last_count
                    back[f, g.backs, 3] = x
                g.backs += 1
                g.back_total += d
            elif d > limit:
                g.over += 1
                share = d / limit
                if share > g.over_worst:
                    g.over_worst = share
        pulses = d
        if d != 0:
            if d > 0:
                forward += 1
                if inside and d <= MOST_INT32:
                    if d_granule != 1:
                        d_granule = _gcd(d_granule, d)
                else:
                    granule = _wide_gcd(granule, d)
                if pulsed:
                    if weight != 1.0:
                        pulses = np.int64(np.rint(d / weight))
                    odd += pulses & 1
                if not hourly:
                    if dt >= RATED_US:
                        pace = d / dt
                        if pace > fastest:
                            fastest = pace
                        if pace > busiest and last_us - moved_us < FREEZE_US:
                            busiest = pace
                            calm = np.int64(busiest * HOUR_US) - 2
                elif d > calm:
                    pace = d / dt
                    if pace > fastest:
                        fastest = pace
                    if pace > busiest and last_us - moved_us < FREEZE_US:
                        busiest = pace
                        calm = d
            if last_us - moved_us >= FREEZE_US:
                _close_freeze(g, freeze[f], moved_us, last_us, t, d, dt)
            moved_us = t
            walk += d
        while t >= next_dial:
            j = pointer[f]
            pair_before[j, 0] = last_us
            pair_before[j, 1] = walk - d
            pair_before[j, 2] = last_count
            pair_after[j, 0] = t
            pair_after[j, 1] = walk
            pair_after[j, 2] = x
            pointer[f] += 1
            next_dial = dial_us[pointer[f]] if pointer[f] < dial_first[f + 1] else NEVER_US
        if dt <= SHORT_STEP_US:
            short += 1
            if d == 0:
                zero += 1
            elif d > 0:
                sizes[SIZE_OF[pulses] if pulses <= _SMALL_STEPS else SIZES - 1] += 1
            middle = t - (dt >> 1) - start_us
            hour = np.int64(np.uint64(middle) // np.uint64(HOUR_US)) if middle >= 0 else hours
            if inside and hour < hours:
                d_steps += 1
                rate = float(d) if hourly else d * HOUR_US / dt
                d_least = min(d_least, rate)
                if hour != hour_to or hour >= period_end:
                    if hour_to > hour_from:
                        _add_hours(hour_from, hour_to, tally, hour_local, wet_slot, cold_slot,
                                   hour_steps[f, period], wet_hours[f], cold_steps[f])  # fmt: skip
                    hour_from = hour
                    period = hour // (24 * PERIOD_DAYS)
                    period_end = (period + 1) * 24 * PERIOD_DAYS
                    moves = hour_moves[f, period]
                hour_to = hour + 1
                if d > 0:
                    if moves[hour_local[hour]] < MOST_INT16:
                        moves[hour_local[hour]] += 1
                    if wet_slot[hour] >= 0:
                        counts_by_wet[wet_slot[hour]] += d
                elif d == 0:
                    d_zero += 1
                    if cold_slot[hour] >= 0:
                        zero_by_cold[cold_slot[hour]] += 1
                if hourly:
                    steady = True
                    stop_us = min(day_end, next_dial)
                    if removed < stop_us:
                        stop_us = removed + 1
        before_us, before_count = last_us, last_count
        last_us, last_count, last_step = t, x, d
        n += 1
    if inside:
        _end_day(f, day, walk, d_zero, d_steps + quick - quick_before, d_granule, d_least,
                 day_walk, day_zero, day_steps, day_granule, day_least)  # fmt: skip
        granule = _wide_gcd(granule, d_granule)
    if hour_to > hour_from:
        _add_hours(hour_from, hour_to, tally, hour_local, wet_slot, cold_slot,
                   hour_steps[f, period], wet_hours[f], cold_steps[f])  # fmt: skip
    sizes[0] += zero
    n += quick
    g.n, g.walk, g.forward, g.odd, g.granule = n, walk, forward, odd, granule
    g.last_us, g.last_count, g.last_step = last_us, last_count, last_step
    g.before_us, g.before_count, g.moved_us = before_us, before_count, moved_us
    g.fastest, g.busiest = fastest, busiest
    g.short_steps += short + quick
    g.zero_steps += zero
    g.step_us_total += last_us - began_us


@njit(cache=True, nogil=True, error_model="numpy")
def _end_day(f, day, walk, zero, steps, granule, least, day_walk, day_zero, day_steps, day_granule, day_least):
    """Fold a day, or the part of it that has come, into the daily table."""
    day_walk[f, day] = walk
    day_zero[f, day] = min(day_zero[f, day] + zero, MOST_INT8)
    day_steps[f, day] = min(day_steps[f, day] + steps, MOST_INT8)
    if granule > 0:
        day_granule[f, day] = _wide_gcd(np.int64(day_granule[f, day]), granule)
    if steps and not day_least[f, day] <= np.float32(least):
        day_least[f, day] = np.float32(least)


@njit(cache=True, nogil=True)
def close_pairs(pointer, dial_first, fig, pair_before):
    """Give dial reads after the last index read that read as their only neighbour."""
    for f in range(fig.shape[0]):
        for j in range(pointer[f], dial_first[f + 1]):
            if fig[f].n > 0:
                pair_before[j, 0] = fig[f].last_us
                pair_before[j, 1] = fig[f].walk
                pair_before[j, 2] = fig[f].last_count
