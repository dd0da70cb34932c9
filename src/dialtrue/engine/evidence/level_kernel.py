"""The compiled look at a daily series for one change of level: how well each span explains it, and by how much."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

LEAST_SIDE = 4
"""Days that either side of a change must have. Our assumption."""
HABIT_SHARE, HABIT_NAT = 0.15, 0.3
"""Share of sound ports whose level changes once by what guests or weather do, and its spread [nat]. Our assumption."""
SEASON_NAT = 1.1
"""Spread of what the season of a garden does to a level [nat]. Our assumption."""
FLOOR_LEVEL = 0.03
"""A level of nothing counts as this share of the mean's root, a thousandth of the mean. Our assumption."""
MODEL_NAT = 0.1
"""Spread of a change's size about its rule, for the place does not stand still meanwhile [nat]. Our assumption."""
ROOT_2PI = math.sqrt(2 * math.pi)
ROOT_2 = math.sqrt(2.0)


@njit(cache=True, nogil=True)
def day_levels(walk, day_walk, begin_us, moved_us, paused_from_us, paused_to_us, level, fresh, begin, end):
    """Fill ``level`` and ``fresh`` (n, days) for the rows from ``begin`` to before ``end``.

    ``walk`` (n, days) is the index at each day's end with gaps bridged, ``day_walk`` the same where a read stands;
    ``begin_us`` (days,) the start of each day. Days after the last move and days that touch the longest pause (none
    where ``paused_to_us`` is 0) are left out. Levels are square roots of daily volumes over the mean of those kept.
    """
    days = walk.shape[1]
    day_us = begin_us[1] - begin_us[0] if days > 1 else 1
    for f in range(begin, end):
        total = 0.0
        count = 0
        for d in range(1, days):
            step = walk[f, d] - walk[f, d - 1]
            good = not math.isnan(step) and not math.isnan(day_walk[f, d]) and begin_us[d] <= moved_us[f]
            if paused_to_us[f] > 0 and begin_us[d] + day_us > paused_from_us[f] and begin_us[d] <= paused_to_us[f]:
                good = False
            fresh[f, d] = good
            if good:
                level[f, d] = max(step, 0.0)
                total += level[f, d]
                count += 1
        if total > 0.0:
            for d in range(1, days):
                level[f, d] = math.sqrt(level[f, d] * count / total)


@njit(cache=True, nogil=True)
def change_of_level(level, fresh, day_span, independent, gain, log_ratio, spread, best_day):
    """Fill one port's rows (spans,): gain of a change in the span [nat], log ratio after over before, its error.

    ``level`` (days,) square roots of daily volumes over their mean, ``fresh`` (days,) bool, ``day_span`` (days,) the
    span (0 to spans - 1) of a change just before that day, -1 outside; ``independent`` the share of days that are draws
    of their own. The gain is the log of the ratio of residual sums with the scatter unknown, so one odd day gains
    little; the best day of a span speaks for it. Returns the days looked at.
    """
    days = level.shape[0]
    n = 0
    s1 = 0.0
    s2 = 0.0
    for d in range(days):
        if fresh[d]:
            n += 1
            s1 += level[d]
            s2 += level[d] * level[d]
    gain[:] = 0.0
    log_ratio[:] = 0.0
    spread[:] = 10.0
    best_day[:] = -1
    if n < 2 * LEAST_SIDE:
        return 0
    before = np.zeros(gain.shape[0], np.int64)
    rss0 = max(s2 - s1 * s1 / n, 1e-9)
    floor = 0.004 * n
    a0 = 0
    a1 = 0.0
    a2 = 0.0
    for d in range(days):
        if not fresh[d]:
            continue
        k = day_span[d]
        if k >= 0 and a0 >= LEAST_SIDE and n - a0 >= LEAST_SIDE:
            b0 = n - a0
            b1 = s1 - a1
            ra = max(a2 - a1 * a1 / a0, 0.0)
            rb = max(s2 - a2 - b1 * b1 / b0, 0.0)
            if best_day[k] < 0 or ra + rb < gain[k]:
                # Until all days are seen: the least sum of residuals, and for its day the figures of the side before.
                gain[k] = ra + rb
                log_ratio[k] = a1
                spread[k] = a2
                best_day[k] = d
                before[k] = a0
        a0 += 1
        a1 += level[d]
        a2 += level[d] * level[d]
    for k in range(gain.shape[0]):
        if best_day[k] < 0:
            continue
        a0, a1, a2 = before[k], log_ratio[k], spread[k]
        b0, b1, b2 = n - a0, s1 - a1, s2 - a2
        ma, mb = a1 / a0, b1 / b0
        ra, rb = max(a2 - a1 * ma, 0.0), max(b2 - b1 * mb, 0.0)
        gain[k] = independent * 0.5 * n * math.log((rss0 + floor) / (ra + rb + floor))
        low = max(ma, FLOOR_LEVEL)
        high = max(mb, FLOOR_LEVEL)
        log_ratio[k] = 2.0 * math.log(high / low)
        va = (ra + 0.02 * a0) / (a0 * a0 * low * low)
        vb = (rb + 0.02 * b0) / (b0 * b0 * high * high)
        spread[k] = 2.0 * math.sqrt((va + vb) / independent)
    return n


@njit(cache=True, inline="always")
def _below(x):
    # So far out the function is one to the last digit, or nothing beside the 1e-30 that its share is held against.
    if x > 8.5:
        return 1.0
    if x < -13.0:
        return 0.0
    return 0.5 * math.erfc(-x / ROOT_2)


@njit(cache=True, inline="always")
def _normal_log(rho, s, width):
    """Log of the mean of exp(-z^2 / 2) over log ratios spread normally about nothing."""
    total = s * s + width * width
    return 0.5 * math.log(s * s / total) - 0.5 * rho * rho / total


@njit(cache=True, nogil=True)
def weigh_levels(
    level, fresh, day_span, independent, season, log_ratios, log_shares, ratio_code, piece_low, piece_high, piece_share,
    piece_code, out, best_day, best_gain, best_ratio, begin, end,
):  # fmt: skip
    """Fill ``out`` (codes, n, 1 + spans) with the log-likelihood of a change in each span against a sound port's.

    ``season`` (n,) is the share of sound ports like this one whose garden begins or ends its season in the window;
    ``ratio_code`` (m,) says which code each of the exact ``log_ratios`` (m,) belongs to, ``log_shares`` (m,) its share;
    ``piece_code`` (p,) which code each piece of evenly spread log ratios belongs to, ``piece_share`` (p,) its share.
    Rows from ``begin`` to before ``end`` are looked at.
    """
    codes, spans = out.shape[0], out.shape[2] - 1
    gain = np.zeros(spans)
    rho = np.zeros(spans)
    spread = np.zeros(spans)
    day = np.zeros(spans, np.int64)
    sums = np.zeros(codes)
    # Pieces share edges: each edge is looked at once a span.
    edges = np.unique(np.concatenate((piece_low, piece_high)))
    low_edge, high_edge = np.searchsorted(edges, piece_low), np.searchsorted(edges, piece_high)
    under = np.zeros(edges.shape[0])
    for f in range(begin, end):
        known = change_of_level(level[f], fresh[f], day_span[f], independent[f], gain, rho, spread, day)
        best_day[f] = -1
        best_gain[f] = 0.0
        best_ratio[f] = 0.0
        if known == 0:
            continue
        # What a sound port would show: mostly no change, sometimes one of habit or season at any time.
        habit = 0.0
        for k in range(spans):
            if day[k] < 0:
                habit += HABIT_SHARE + season[f]
                continue
            s = math.hypot(spread[k], MODEL_NAT)
            habit += HABIT_SHARE * math.exp(min(gain[k] + _normal_log(rho[k], s, HABIT_NAT), 300.0))
            habit += season[f] * math.exp(min(gain[k] + _normal_log(rho[k], s, SEASON_NAT), 300.0))
            if gain[k] > best_gain[f]:
                best_gain[f] = gain[k]
                best_ratio[f] = rho[k]
                best_day[f] = day[k]
        plain = math.log(1.0 - HABIT_SHARE - season[f] + habit / spans)
        for k in range(spans):
            if day[k] < 0:
                for c in range(codes):
                    out[c, f, 1 + k] = -plain
                continue
            s = math.hypot(spread[k], MODEL_NAT)
            sums[:] = 0.0
            for i in range(ratio_code.shape[0]):
                z = (rho[k] - log_ratios[i]) / s
                if z * z < 200.0:
                    sums[ratio_code[i]] += math.exp(log_shares[i] - 0.5 * z * z)
            for i in range(edges.shape[0]):
                under[i] = _below((edges[i] - rho[k]) / s)
            for i in range(piece_code.shape[0]):
                share = under[high_edge[i]] - under[low_edge[i]]
                sums[piece_code[i]] += piece_share[i] * share * ROOT_2PI * s / (piece_high[i] - piece_low[i])
            for c in range(codes):
                out[c, f, 1 + k] = gain[k] + math.log(sums[c] + 1e-30) - plain
