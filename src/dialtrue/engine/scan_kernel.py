"""The compiled loop of the scan: each read is looked at once and never again."""

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


@njit(cache=True, nogil=True)
def _gcd(a, b):
    # Once the divisor is known, nearly every step is a multiple of it: one look settles those.
    if a == 1:
        return a
    if a > 0 and b % a == 0:
        return a
    while b:
        a, b = b, a % b
    return a


@njit(cache=True, nogil=True)
def _size_class(d, weight):
    pulses = np.rint(d / weight) if weight > 1.0 else float(d)
    most, size = 0.0, 0
    while pulses > most and size < SIZES - 1:
        most = max(2.0 * most, 1.0)
        size += 1
    return size


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
def count_batch(
    channel, at_us, index, flag,
    fit_first, fit_order, dial_first, dial_us, pointer,
    fit_us, removed_us, capacity, limit_per_us, weight_counts,
    fig, back, freeze, day_walk, day_least, day_zero, day_steps, day_granule,
    hour_moves, hour_steps, step_sizes, wet_counts, wet_hours, cold_zero, cold_steps,
    pair_before, pair_after,
    start_us, hour_local, wet, cold,
):  # fmt: skip
    """Fold one batch of reads into the figures; see ``Scan`` for shapes and meanings."""
    hours = hour_local.shape[0]
    days = day_walk.shape[1]
    for i in range(channel.shape[0]):
        c = channel[i]
        if c < 0:
            continue
        t = at_us[i]
        x = index[i]
        for k in range(fit_first[c], fit_first[c + 1]):
            f = fit_order[k]
            if t < fit_us[f] or t > removed_us[f]:
                continue
            g = fig[f]
            if flag[i] == FLAG_ESTIMATED:
                g.estimated += 1
                continue
            if flag[i] == FLAG_REPEATED:
                g.repeated += 1
                continue
            if capacity[f] > 0 and x >= capacity[f]:
                g.beyond += 1
                continue
            if g.n == 0:
                g.n = 1
                g.first_us = g.last_us = g.before_us = g.moved_us = t
                g.first_count = g.last_count = g.before_count = x
                while pointer[f] < dial_first[f + 1] and dial_us[pointer[f]] < t:
                    j = pointer[f]
                    pair_after[j, 0] = t
                    pair_after[j, 1] = 0
                    pair_after[j, 2] = x
                    pointer[f] += 1
                day = (t - start_us) // DAY_US
                if 0 <= day < days:
                    day_walk[f, day] = 0.0
                continue
            dt = t - g.last_us
            if dt < 0:
                g.disorder += 1
                continue
            if dt == 0:
                if x != g.last_count:
                    g.clashes += 1
                continue
            d = x - g.last_count
            limit = limit_per_us[f] * dt + weight_counts[f] + 1.0
            cap = capacity[f]
            if d < 0:
                if (
                    g.last_step > 1.5 * limit
                    and x >= g.before_count
                    and (x - g.before_count <= limit_per_us[f] * (t - g.before_us) + weight_counts[f] + 1.0)
                ):
                    # One absurd read between two that agree: take the spike back and go on from before it.
                    g.spikes += 1
                    g.walk -= g.last_step
                    g.forward -= 1
                    g.over -= 1
                    d = x - g.before_count
                elif cap > 0:
                    turned = d + cap
                    if turned <= max(limit, BURST * g.fastest * dt) and turned * 2 < cap:
                        d = turned
                        g.rolls += 1
            elif cap > 0 and d > limit and cap - d <= weight_counts[f] + 1.0:
                d -= cap
            if d < 0:
                if g.backs < BACK_KEPT:
                    back[f, g.backs, 0] = g.last_us
                    back[f, g.backs, 1] = t
                    back[f, g.backs, 2] = g.last_count
                    back[f, g.backs, 3] = x
                g.backs += 1
                g.back_total += d
            elif d > 0:
                g.forward += 1
                g.granule = _gcd(g.granule, d)
                if weight_counts[f] >= 1.0 and round(d / weight_counts[f]) % 2 == 1:
                    g.odd += 1
                if d > limit:
                    g.over += 1
                    share = d / limit
                    if share > g.over_worst:
                        g.over_worst = share
            if d > 0 and dt >= 600_000_000:
                if d / dt > g.fastest:
                    g.fastest = d / dt
                if g.last_us - g.moved_us < FREEZE_US and d / dt > g.busiest:
                    g.busiest = d / dt
            if d != 0:
                still = g.last_us - g.moved_us
                if still >= FREEZE_US:
                    g.freezes += 1
                    g.frozen_us += still
                    _keep_freeze(freeze[f], g.moved_us, t, d, dt)
                    if d > g.jump:
                        g.jump = d
                        g.jump_from_us = g.moved_us
                        g.jump_to_us = t
                        g.jump_step_us = dt
                    if still > g.longest_us:
                        g.longest_us = still
                        g.longest_from_us = g.moved_us
                        g.longest_jump = d
                g.moved_us = t
            g.walk += d
            while pointer[f] < dial_first[f + 1] and dial_us[pointer[f]] <= t:
                j = pointer[f]
                pair_before[j, 0] = g.last_us
                pair_before[j, 1] = g.walk - d
                pair_before[j, 2] = g.last_count
                pair_after[j, 0] = t
                pair_after[j, 1] = g.walk
                pair_after[j, 2] = x
                pointer[f] += 1
            g.before_us = g.last_us
            g.before_count = g.last_count
            g.last_us = t
            g.last_count = x
            g.last_step = d
            g.n += 1
            g.step_us_total += dt
            day = (t - start_us) // DAY_US
            inside = 0 <= day < days
            if inside:
                day_walk[f, day] = g.walk
                if 0 < d <= MOST_INT32:
                    day_granule[f, day] = _gcd(np.int64(day_granule[f, day]), d)
            if dt <= SHORT_STEP_US:
                g.short_steps += 1
                if d == 0:
                    g.zero_steps += 1
                if d >= 0:
                    step_sizes[f, _size_class(d, weight_counts[f])] += 1
                hour = (t - dt // 2 - start_us) // HOUR_US
                if inside and 0 <= hour < hours:
                    if day_steps[f, day] < MOST_INT8:
                        day_steps[f, day] += 1
                    if d == 0 and day_zero[f, day] < MOST_INT8:
                        day_zero[f, day] += 1
                    rate = np.float32(d * HOUR_US / dt)
                    if np.isnan(day_least[f, day]) or rate < day_least[f, day]:
                        day_least[f, day] = rate
                    local = hour_local[hour]
                    period = hour // (24 * PERIOD_DAYS)
                    if hour_steps[f, period, local] < MOST_INT16:
                        hour_steps[f, period, local] += 1
                    if d > 0 and hour_moves[f, period, local] < MOST_INT16:
                        hour_moves[f, period, local] += 1
                    if wet[hour] >= 0:
                        wet_counts[f, local, wet[hour]] += max(d, 0)
                        wet_hours[f, local, wet[hour]] += 1
                    if cold[hour] >= 0:
                        cold_steps[f, local, cold[hour]] += 1
                        if d == 0:
                            cold_zero[f, local, cold[hour]] += 1


@njit(cache=True, nogil=True)
def close_pairs(pointer, dial_first, fig, pair_before):
    """Give dial reads after the last index read that read as their only neighbour."""
    for f in range(fig.shape[0]):
        while pointer[f] < dial_first[f + 1]:
            j = pointer[f]
            if fig[f].n > 0:
                pair_before[j, 0] = fig[f].last_us
                pair_before[j, 1] = fig[f].walk
                pair_before[j, 2] = fig[f].last_count
            pointer[f] += 1
