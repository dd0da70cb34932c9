"""The compiled loop of the scan: each read is looked at once and never again.

Reads come in runs: stretches of reads of one channel. All that a fitting carries from read to read stands in local
variables during a run and goes back to the arrays at its end, so that the usual read - on time, not below the last, no
faster than the meter - costs a few nanoseconds. Nothing here makes an array or a view of one: with the counting of
references switched off (``_nrt``) two threads do not wait for each other's counts, and what the loop calls is written
into it (``inline``), since handing forty arrays over costs more than a day of reads.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from dialtrue.engine.scan_hours import (
    busiest_of,
    divisor,
    divisor_of,
    moved_before,
    spread_hours,
    usual_hours,
    wide_divisor,
)
from dialtrue.engine.scan_measures import (
    BACK_KEPT,
    BURST,
    DAY_US,
    FEW_HOURS,
    FLAG_ESTIMATED,
    FREEZE_US,
    FREEZES_KEPT,
    HOUR_US,
    MOST_INT8,
    MOST_INT16,
    MOST_INT32,
    NEVER_US,
    PERIOD_DAYS,
    RATED_US,
    SHORT_STEP_US,
    SIZE_OF,
    SIZES,
    SMALL_STEPS,
    UNKNOWN_SLOT,
)

__all__ = [
    "BACK_KEPT",
    "BURST",
    "DAY_US",
    "FREEZES_KEPT",
    "FREEZE_US",
    "HOUR_US",
    "PERIOD_DAYS",
    "SHORT_STEP_US",
    "SIZES",
    "UNKNOWN_SLOT",
    "close_pairs",
    "count_runs",
]


@njit(cache=True, nogil=True, _nrt=False)
def _keep_freeze(kept, f, from_us, to_us, d, dt):
    # Longest first; an equal one that came earlier stays before.
    place = FREEZES_KEPT
    while place > 0 and to_us - dt - from_us > (kept[f, place - 1, 1] - kept[f, place - 1, 3] - kept[f, place - 1, 0]):
        place -= 1
    if place == FREEZES_KEPT:
        return
    for k in range(FREEZES_KEPT - 1, place, -1):
        for column in range(4):
            kept[f, k, column] = kept[f, k - 1, column]
    kept[f, place, 0] = from_us
    kept[f, place, 1] = to_us
    kept[f, place, 2] = d
    kept[f, place, 3] = dt


@njit(cache=True, nogil=True, _nrt=False)
def _close_freeze(g, kept, f, moved_us, last_us, t, d, dt):
    """Fold a standstill that a step has ended into the figures."""
    still = last_us - moved_us
    g.freezes += 1
    g.frozen_us += still
    _keep_freeze(kept, f, moved_us, t, d, dt)
    if d > g.jump:
        g.jump = d
        g.jump_from_us = moved_us
        g.jump_to_us = t
        g.jump_step_us = dt
    if still > g.longest_us:
        g.longest_us = still
        g.longest_from_us = moved_us
        g.longest_jump = d


@njit(cache=True, nogil=True, _nrt=False)
def _add_hours(
    first, last, tally, hour_local, wet_slot, cold_slot, f, period, hour_steps, wet_hours, cold_steps
):  # fmt: skip
    """Add one step for each calendar hour in [first, last), all of one period."""
    if last - first > FEW_HOURS:
        for k in range(24):
            added = np.int64(hour_steps[f, period, k]) + tally[last, k] - tally[first, k]
            hour_steps[f, period, k] = min(added, MOST_INT16)
        for k in range(48):
            wet_hours[f, k] += tally[last, 24 + k] - tally[first, 24 + k]
            cold_steps[f, k] += tally[last, 72 + k] - tally[first, 72 + k]
        return
    for hour in range(first, last):
        k = hour_local[hour]
        if hour_steps[f, period, k] < MOST_INT16:
            hour_steps[f, period, k] += 1
        if wet_slot.shape[0] and wet_slot[hour] != UNKNOWN_SLOT:
            wet_hours[f, wet_slot[hour]] += 1
        if cold_slot.shape[0] and cold_slot[hour] != UNKNOWN_SLOT:
            cold_steps[f, cold_slot[hour]] += 1


@njit(cache=True, nogil=True, _nrt=False, error_model="numpy")
def count_runs(
    first, channel, at_us, index, flag,
    fit_first, fit_order, dial_first, dial_us, pointer, fit_us, removed_us, capacity, limit_per_us, weight_counts,
    fig, back, freeze, day_walk, day_least, day_zero, day_steps, day_granule,
    hour_moves, hour_steps, step_sizes, wet_counts, wet_hours, cold_zero, cold_steps,
    pair_before, pair_after,
    start_us, hour_local, wet_slot, cold_slot, tally, steps, pulses_of,
):  # fmt: skip
    """Fold runs of reads into the figures of every fitting that listens; see ``Scan`` for shapes and meanings.

    Run r is the rows [``first[r]``, ``first[r + 1]``), all of ``channel[r]`` (-1: nobody listens).
    """
    hours = hour_local.shape[0]
    days = day_walk.shape[1]
    flagged = flag.shape[0] > 0
    for r in range(channel.shape[0]):
        c = channel[r]
        low, high = first[r], first[r + 1]
        if c < 0:
            continue
        for place in range(fit_first[c], fit_first[c + 1]):
            f = fit_order[place]
            fitted, removed, cap = fit_us[f], removed_us[f], capacity[f]
            most_count = cap if cap > 0 else NEVER_US
            per_us, weight = limit_per_us[f], weight_counts[f]
            hour_limit = per_us * HOUR_US + weight + 1.0
            most_hourly = np.int64(hour_limit) if hour_limit < MOST_INT32 else MOST_INT32
            pulsed, parity = weight >= 1.0, 1 if weight >= 1.0 else 0
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
            # The day in hand; its figures go to the arrays when it ends.
            day, day_end, inside = -1, np.iinfo(np.int64).min, False
            d_zero, d_steps, d_granule, d_least = 0, 0, np.int64(0), np.inf
            # Calendar hours that have had one step each, not yet added up.
            hour_from, hour_to, period, period_end = 0, 0, 0, 0
            # Whether the last read was an hour's and counted in its hour; up to when nothing but reads can happen.
            steady, stop_us = False, np.int64(0)
            next_try = low
            i = low - 1
            while i + 1 < high:
                i += 1
                if steady and i >= next_try and at_us[i - 1] == last_us and index[i - 1] == last_count:
                    # The usual reads: an hour after each other, within a day, amounts that any hour may bring. They are
                    # looked at together first, in vector instructions.
                    turns = last_us + HOUR_US >= day_end
                    until = min(day_end + DAY_US if turns else day_end, stop_us)
                    many = min((until - last_us - 1) // HOUR_US, period_end - hour_to, high - i, 24)
                    if many >= FEW_HOURS and not (turns and day + 1 >= days):
                        if usual_hours(at_us, index, flag, i, many, most_hourly, most_count, steps):
                            if turns:
                                granule = _end_day(
                                    f, day, walk, d_zero, d_steps + quick - quick_before, d_granule, d_least, granule,
                                    day_walk, day_zero, day_steps, day_granule, day_least,
                                )  # fmt: skip
                                day += 1
                                day_end += DAY_US
                                d_zero, d_steps, d_granule, d_least = 0, 0, np.int64(0), np.inf
                                quick_before = quick
                            pause_us = last_us - moved_us
                            still, single, top, least, odd_here, rest, ends, pause_h = spread_hours(
                                steps, many, pause_us // HOUR_US, weight, pulses_of,
                                hour_to, hour_local, wet_slot, cold_slot,
                                f, period, hour_moves, wet_counts, cold_zero, step_sizes,
                            )  # fmt: skip
                            if single:
                                d_granule = np.int64(1)
                            elif d_granule != 1 and (d_granule != whole_weight or d_granule == 0 or rest != 0):
                                d_granule = divisor_of(d_granule, steps, many)
                            if top > calm:
                                calm = busiest_of(steps, many, pause_us, calm)
                                busiest, fastest = max(busiest, calm / HOUR_US), max(fastest, top / HOUR_US)
                            k = 0
                            while ends:
                                if ends & 1:
                                    before = moved_before(steps, k, last_us, pause_us)
                                    _close_freeze(
                                        g, freeze, f, before, at_us[i + k - 1], at_us[i + k], steps[k], HOUR_US
                                    )  # fmt: skip
                                ends >>= 1
                                k += 1
                            last = i + many - 1
                            if still < many:
                                moved_us = at_us[last] - pause_h * HOUR_US
                            zero += still
                            d_zero += still
                            forward += many - still
                            odd += odd_here * parity
                            walk += index[last] - last_count
                            d_least = min(d_least, float(least))
                            hour_to += many
                            quick += many
                            before_us, before_count = at_us[last - 1], index[last - 1]
                            last_us, last_count, last_step = at_us[last], index[last], steps[many - 1]
                            i = last
                            continue
                        next_try = i + FEW_HOURS
                t = at_us[i]
                x = index[i]
                dt = t - last_us
                d = x - last_count
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
                        granule = _end_day(
                            f, day, walk, d_zero, d_steps + quick - quick_before, d_granule, d_least, granule,
                            day_walk, day_zero, day_steps, day_granule, day_least,
                        )  # fmt: skip
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
                                d_granule = divisor(d_granule, d)
                        else:
                            granule = wide_divisor(granule, d)
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
                        _close_freeze(g, freeze, f, moved_us, last_us, t, d, dt)
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
                        step_sizes[f, SIZE_OF[min(pulses, SMALL_STEPS + 1)]] += 1
                    middle = t - (dt >> 1) - start_us
                    hour = np.int64(np.uint64(middle) // np.uint64(HOUR_US)) if middle >= 0 else hours
                    if inside and hour < hours:
                        d_steps += 1
                        rate = float(d) if hourly else d * HOUR_US / dt
                        d_least = min(d_least, rate)
                        if hour == hour_to - 1 and hour >= hour_from:
                            # Another step in the hour of the last.
                            if hour_steps[f, period, hour_local[hour]] < MOST_INT16:
                                hour_steps[f, period, hour_local[hour]] += 1
                            if wet_slot.shape[0] and wet_slot[hour] != UNKNOWN_SLOT:
                                wet_hours[f, wet_slot[hour]] += 1
                            if cold_slot.shape[0] and cold_slot[hour] != UNKNOWN_SLOT:
                                cold_steps[f, cold_slot[hour]] += 1
                        elif hour != hour_to or hour >= period_end:
                            if hour_to > hour_from:
                                _add_hours(hour_from, hour_to, tally, hour_local, wet_slot, cold_slot,
                                           f, period, hour_steps, wet_hours, cold_steps)  # fmt: skip
                            hour_from = hour
                            period = hour // (24 * PERIOD_DAYS)
                            period_end = (period + 1) * 24 * PERIOD_DAYS
                        hour_to = hour + 1
                        if d > 0:
                            if hour_moves[f, period, hour_local[hour]] < MOST_INT16:
                                hour_moves[f, period, hour_local[hour]] += 1
                            if wet_slot.shape[0] and wet_slot[hour] != UNKNOWN_SLOT:
                                wet_counts[f, wet_slot[hour]] += d
                        elif d == 0:
                            d_zero += 1
                            if cold_slot.shape[0] and cold_slot[hour] != UNKNOWN_SLOT:
                                cold_zero[f, cold_slot[hour]] += 1
                        if hourly:
                            steady = True
                            stop_us = min(next_dial, removed + 1 if removed < NEVER_US else removed)
                before_us, before_count = last_us, last_count
                last_us, last_count, last_step = t, x, d
                n += 1
            if inside:
                granule = _end_day(
                    f, day, walk, d_zero, d_steps + quick - quick_before, d_granule, d_least, granule,
                    day_walk, day_zero, day_steps, day_granule, day_least,
                )  # fmt: skip
            if hour_to > hour_from:
                _add_hours(hour_from, hour_to, tally, hour_local, wet_slot, cold_slot,
                           f, period, hour_steps, wet_hours, cold_steps)  # fmt: skip
            step_sizes[f, 0] += zero
            n += quick
            g.n, g.walk, g.forward, g.odd, g.granule = n, walk, forward, odd, granule
            g.last_us, g.last_count, g.last_step = last_us, last_count, last_step
            g.before_us, g.before_count, g.moved_us = before_us, before_count, moved_us
            g.fastest, g.busiest = fastest, busiest
            g.short_steps += short + quick
            g.zero_steps += zero
            g.step_us_total += last_us - began_us


@njit(inline="always", cache=True, nogil=True, _nrt=False, error_model="numpy")
def _end_day(
    f, day, walk, zero, steps, day_divisor, least, divisor, day_walk, day_zero, day_steps, day_granule, day_least
):  # fmt: skip
    """Fold a day, or the part of it that has come, into the daily table; return the divisor of all steps so far."""
    day_walk[f, day] = walk
    day_zero[f, day] = min(day_zero[f, day] + zero, MOST_INT8)
    day_steps[f, day] = min(day_steps[f, day] + steps, MOST_INT8)
    if day_divisor > 0:
        day_granule[f, day] = wide_divisor(np.int64(day_granule[f, day]), day_divisor)
    if steps and not day_least[f, day] <= np.float32(least):
        day_least[f, day] = np.float32(least)
    return wide_divisor(divisor, day_divisor)


@njit(cache=True, nogil=True, _nrt=False)
def close_pairs(pointer, dial_first, fig, pair_before):
    """Give dial reads after the last index read that read as their only neighbour."""
    for f in range(fig.shape[0]):
        for j in range(pointer[f], dial_first[f + 1]):
            if fig[f].n > 0:
                pair_before[j, 0] = fig[f].last_us
                pair_before[j, 1] = fig[f].walk
                pair_before[j, 2] = fig[f].last_count
