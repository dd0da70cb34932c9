"""The compiled look at still hours, day by day: what water that never stops leaves of them, and what more use does.

Water at a steady r pulses an hour leaves 1 - r of the still hours, none where r is one or more; random counts leave
exp(-r) of them. People who use more leave fewer too, but more than a leak of the same volume does, for they use it in
hours that were not still. Settings (a weight, a second edge) change the volume and leave the hours as they are.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

LEAST_IN, LEAST_OUT = 3, 4
"""Days that a window and its outside must have. Our assumption."""
LEAST_HOURS = 12
"""Hours that a day must have been heard in. Our assumption."""
HABIT_SHARE = 0.15
"""Share of sound places whose use changes once in a season. Our assumption."""
WORTH_DAYS = 14
"""A cistern that ran for less and was mended is part of any home's life. Our assumption. [day]"""
SHORT_SHARE = 0.12
"""Share of sound places with such a one. Our assumption."""
REPAIRED_SHARE = 0.3
"""Share of leaks that end within the watch. Our assumption."""
SPREAD_POWERS = (0.4, 0.65, 0.9)
"""More use spreads into still hours as one of these powers of its ratio: part of it comes in hours in use already. Our
assumption."""
MOST_POWER = 100.0
"""Most that an empty house that is lived in again spreads its use. Our assumption."""
LEAST_SHARE = 0.01
"""Still hours that remain whatever runs: lost reads and clocks. Our assumption."""
MOST_NAT, WORST_NAT = 16.0, -8.0
"""Most that still hours say for and against [nat]. Our assumption."""
INDEPENDENT_DAY = 0.45
"""Share of days that are draws of their own. Our assumption, as in ``level_change``."""
STEADY, RANDOM, USE = 0, 1, 2


WHOLE_DAY = 20
"""Hours that a day must have been heard in to say that none of it was still. Our assumption."""


@njit(cache=True, nogil=True)
def fill_volumes(walk, grain, out, begin, end):
    """Fill ``out`` (n, days) with the pulses of each day, nan where none of its own; rows ``begin`` to ``end``."""
    for f in range(begin, end):
        out[f, :1] = np.nan
        for d in range(1, walk.shape[1]):
            out[f, d] = (walk[f, d] - walk[f, d - 1]) / grain[f]


@njit(cache=True, nogil=True)
def sum_days(day_heard, day_still, day_least, volume, out, begin, end):
    """Fill ``out`` (n, 5): days heard, days without a still hour, days with a volume, its sum [pulse], least hour.

    The last is the median of ``day_least`` (n, days) over the days without a still hour, nan where there is none. Rows
    from ``begin`` to before ``end`` are looked at.
    """
    days = day_heard.shape[1]
    least = np.zeros(days)
    for f in range(begin, end):
        known = 0
        for d in range(days):
            if day_heard[f, d] >= WHOLE_DAY:
                out[f, 0] += 1.0
                if day_still[f, d] == 0:
                    out[f, 1] += 1.0
                    if not math.isnan(day_least[f, d]):
                        least[known] = day_least[f, d]
                        known += 1
            if not math.isnan(volume[f, d]):
                out[f, 2] += 1.0
                out[f, 3] += volume[f, d]
        out[f, 4] = np.median(least[:known]) if known else np.nan


@njit(cache=True, inline="always")
def _log(p):
    return math.log(min(max(p, 1e-4), 1.0 - 1e-4))


@njit(cache=True, inline="always")
def _hours(still, heard, p):
    return still * _log(p) + (heard - still) * _log(1.0 - p)


@njit(cache=True, inline="always")
def _add(a, b):
    top = max(a, b)
    return top + math.log(math.exp(a - top) + math.exp(b - top))


@njit(cache=True, nogil=True)
def _window(z_in, s_in, z_out, s_out, v_in, v_out, days_in, days_out, law):
    """Return the log-likelihood of the still hours for one window, given how the volume changed in it."""
    p0 = (z_out + 0.5) / (s_out + 1.0)
    rate_in, rate_out = v_in / days_in, v_out / days_out
    total = _hours(z_out, s_out, p0)
    if law == USE:
        log_ratio, log_p0 = math.log(max(rate_in, 0.02) / max(rate_out, 0.02)), math.log(p0)
        best = -1e30
        for spread in SPREAD_POWERS:
            power = min(max(math.exp(spread * log_ratio), 1.0 / MOST_POWER), MOST_POWER)
            best = max(best, _hours(z_in, s_in, math.exp(power * log_p0)))
        return total + best - 1.1
    r = (rate_in - rate_out) / 24.0
    if r <= 0.0:
        return total + _hours(z_in, s_in, p0) - 20.0
    best = -1e30
    for factor in (0.6, 0.85, 1.15):
        # The level itself is known to a few tenths only.
        if law == STEADY:
            left = max(1.0 - factor * r, LEAST_SHARE)
        else:
            left = max(math.exp(-factor * r), LEAST_SHARE)
        best = max(best, _hours(z_in, s_in, p0 * left))
    return total + best - 1.1


@njit(cache=True, inline="always")
def _level_gain(u1, u2, i0, i1, m, rss0):
    """Return what a level of its own within days i0 to i1 explains of the volumes' square roots [nat]."""
    inside, outside = i1 - i0, m - (i1 - i0)
    a1, a2 = u1[i1] - u1[i0], u2[i1] - u2[i0]
    b1, b2 = u1[m] - a1, u2[m] - a2
    rss = max(a2 - a1 * a1 / inside, 0.0) + max(b2 - b1 * b1 / outside, 0.0) + 0.05 * m
    return INDEPENDENT_DAY * 0.5 * m * math.log(rss0 / rss) - 1.0


@njit(cache=True, nogil=True)
def weigh_still_hours(day_still, day_heard, day_volume, day_span, spans, out, gain, left_share, window_day, begin, end):
    """Fill ``out`` (3, n, 1 + spans): steady water, random counts or more use from each span on, against a sound port.

    ``day_still``, ``day_heard`` (n, days) hours; ``day_volume`` (n, days) pulses, nan where no day of its own;
    ``day_span`` (n, days) span of each day. ``gain`` (n,) gets the best window's gain for steady water [nat],
    ``left_share`` (n,) the part of still hours left in it, ``window_day`` (n, 2) its first day and the day after. Rows
    from ``begin`` to before ``end`` are looked at.
    """
    days = day_still.shape[1]
    z = np.zeros(days + 1)
    s = np.zeros(days + 1)
    v = np.zeros(days + 1)
    u1 = np.zeros(days + 1)
    u2 = np.zeros(days + 1)
    place = np.zeros(days + 1, np.int64)
    first = np.zeros(spans + 2, np.int64)
    total_of = np.zeros(2)
    for f in range(begin, end):
        m = 0
        last_still = -1.0
        jumps = 0.0
        spread = 0.0
        for d in range(days):
            if day_heard[f, d] < LEAST_HOURS or np.isnan(day_volume[f, d]) or day_span[f, d] < 0:
                continue
            if day_still[f, d] == day_heard[f, d]:
                # Nobody there, or nothing counted: the standstills speak of such days.
                continue
            share = day_still[f, d] / day_heard[f, d]
            if last_still >= 0.0:
                jumps += (share - last_still) ** 2
            last_still = share
            place[m] = d
            z[m + 1] = z[m] + day_still[f, d]
            s[m + 1] = s[m] + day_heard[f, d]
            volume = max(day_volume[f, d], 0.0)
            v[m + 1] = v[m] + volume
            root = math.sqrt(volume)
            u1[m + 1] = u1[m] + root
            u2[m + 1] = u2[m] + volume
            m += 1
        gain[f] = 0.0
        left_share[f] = np.nan
        window_day[f, 0] = -1
        window_day[f, 1] = -1
        for law in range(3):
            for k in range(spans + 1):
                out[law, f, k] = 0.0
        if m < LEAST_IN + LEAST_OUT + 1:
            continue
        # Hours of one day go together: the scatter from day to day says how many of them are draws of their own.
        mean = z[m] / s[m]
        spread = max(jumps / (2.0 * (m - 1)), 1e-4)
        own = min(max(mean * (1.0 - mean) / 24.0 / spread, 0.12), 0.5)
        pooled = own * _hours(z[m], s[m], (z[m] + 0.5) / (s[m] + 1.0))
        rss0 = max(u2[m] - u1[m] ** 2 / m, 1e-6) + 0.05 * m
        k_next = 0
        for k in range(spans + 1):
            while k_next < m and day_span[f, place[k_next]] < k:
                k_next += 1
            first[k] = k_next
        first[spans + 1] = m
        habit = 0.0
        level_habit = 0.0
        for k in range(spans):
            # Span k + 1 of the onset is span k of the days.
            i0 = first[k]
            ok = m - i0 >= LEAST_IN and i0 >= LEAST_OUT
            for law in range(3):
                if not ok:
                    out[law, f, k + 1] = pooled
                    continue
                out[law, f, k + 1] = own * _window(
                    z[m] - z[i0], s[m] - s[i0], z[i0], s[i0], v[m] - v[i0], v[i0], m - i0, i0, law
                )
            habit += math.exp(min(out[USE, f, k + 1] - pooled, 50.0))
            level_habit += math.exp(min(_level_gain(u1, u2, i0, m, m, rss0), 50.0)) if ok else 1.0
            if ok and out[STEADY, f, k + 1] - pooled > gain[f]:
                gain[f] = out[STEADY, f, k + 1] - pooled
                left_share[f] = ((z[m] - z[i0]) / (s[m] - s[i0])) / max(z[i0] / s[i0], 1e-3)
                window_day[f, 0] = place[i0]
                window_day[f, 1] = days
        for law in range(3):
            out[law, f, 0] = pooled
        # The level of a sound place may change once too: what two changes explain beyond that is the leak's.
        level_plain = math.log(1.0 - HABIT_SHARE + HABIT_SHARE * level_habit / spans)
        short, shorts = 0.0, 0
        # A leak that was mended: still hours and volume are outside as they were before.
        for k in range(-1, spans - 1):
            i0 = 0 if k < 0 else first[k]
            total_of[:] = -1e30
            count = 0
            for e in range(k + 1, spans):
                i1 = first[e]
                inside, outside = i1 - i0, m - (i1 - i0)
                if inside < LEAST_IN or outside < LEAST_OUT or m - i1 < LEAST_IN:
                    continue
                brief = place[i1] - place[i0] < WORTH_DAYS
                if brief:
                    shorts += 1
                else:
                    count += 1
                # A window of more water must first be one in the volumes; most are not, and are done with here.
                if (v[i1] - v[i0]) * outside <= (v[m] - v[i1] + v[i0]) * inside:
                    continue
                level = _level_gain(u1, u2, i0, i1, m, rss0) - level_plain
                if level < 0.0:
                    continue
                for law in range(1 if brief else 2):
                    value = level + own * _window(
                        z[i1] - z[i0], s[i1] - s[i0], z[m] - z[i1] + z[i0], s[m] - s[i1] + s[i0],
                        v[i1] - v[i0], v[m] - v[i1] + v[i0], inside, outside, law,
                    )  # fmt: skip
                    if brief:
                        short += math.exp(min(value - pooled, 200.0))
                        continue
                    total_of[law] = value if total_of[law] < -1e29 else _add(total_of[law], value)
                    if law == STEADY and value - pooled > gain[f] + 2.0:
                        gain[f] = value - pooled
                        left_share[f] = ((z[i1] - z[i0]) / (s[i1] - s[i0])) / max(
                            (z[m] - z[i1] + z[i0]) / (s[m] - s[i1] + s[i0]), 1e-3
                        )
                        window_day[f, 0] = place[i0]
                        window_day[f, 1] = place[i1]
            for law in range(2):
                if count and total_of[law] > -1e29:
                    total = total_of[law] - math.log(count)
                    kept = out[law, f, k + 1] + math.log(1.0 - REPAIRED_SHARE)
                    out[law, f, k + 1] = _add(kept, total + math.log(REPAIRED_SHARE))
        mended = short / shorts if shorts else 1.0
        plain = math.log(1.0 - HABIT_SHARE - SHORT_SHARE + HABIT_SHARE * habit / spans + SHORT_SHARE * mended)
        top = 0.0
        for law in range(3):
            for k in range(spans + 1):
                out[law, f, k] -= pooled + plain
                if law != USE:
                    top = max(top, out[law, f, k])
        # Beyond the most that is believed the best moment and the better law still stand out.
        excess = max(top - MOST_NAT, 0.0)
        for law in range(3):
            for k in range(spans + 1):
                less = excess if law != USE else 0.0
                out[law, f, k] = min(max(out[law, f, k] - less, WORST_NAT), MOST_NAT)
