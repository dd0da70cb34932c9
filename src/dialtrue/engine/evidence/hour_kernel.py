"""The compiled look at the hours of the day in which counts too many fell, and how they clump.

In each hour of the day a place moves in some share of the hours, and brings some counts. Counts by a clock fill still
hours one by one; a train that rocks about its contact, or damp, fills few hours with many; a share doubled leaves still
hours still; a machine fills the hours in which it runs.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

HOURS = 24
STEADY, BACKFLOW, EXTRA, WET, DOUBLE, TRUE = range(6)
INDEPENDENT_HOUR = 0.5
"""Share of the hours of the day that speak for themselves: neighbours in time go together. Our assumption."""
OWN_DRAW = 0.3
"""Share of watched hours that are draws of their own. Our assumption, as for nights."""
ODD_HOUR, ODD_SHIFT, ODD_SPREAD = 0.1, 0.5, 1.5
"""Share of hours of the day in which a place does something of its own (a garden, a shift), and what that does to the
level [nat]. Our assumption."""
LEVELS = np.linspace(-3.0, 4.0, 22)
"""Levels of a place's hour about the town's that are averaged over. [nat]"""
LOOSE_LEVEL = 0.12
"""How well a mean of counts is told at best [share]. Our assumption."""
RESTLESS = 0.1
"""Share of places in which water runs by day and night, and how much of it. Our assumption from ``EPA-LEAK``."""
RUNNING = np.array([0.1, 0.25, 0.5])
REGULAR = 0.0
"""Mark of a law by which counts come one an hour."""
TRANSMITTED, AT_RANDOM, BURSTS, MACHINE = 0.3, 0.3, 0.05, 0.35
"""Steady counts by their law: one in each transmission, at random, in bursts, in a machine's hours. Our assumption."""
AT_FIXED_HOURS = 0.4
"""Share of transmissions that come every few hours and not every hour; and how many hours apart. Our assumption."""
SENT_APART = np.array([2, 3, 4, 6, 12])
MACHINE_HOURS = np.array([2, 3, 4, 6, 8, 10])
ROCKING, REVERSED_AT_NIGHT, REVERSED = 0.65, 0.25, 0.1
"""Reverse flow by its law: the train rocks about its contact while nobody draws, or water runs back for hours of the
night or of the day. Our assumption."""
ROCKING_CLUMPS = np.array([1.0, 1.6, 2.5, 4.0, 7.0])
AT_NIGHT = np.array([1.0, 2.2, 5.0])
"""How much likelier rocking is in a still hour of the night than of the day: the pressure is high then, or rests. Our
assumption: one as likely as another."""
BACK_HOURS = np.array([3, 5, 7])
WITH_FLOW, WITH_DRAWS, IN_HOURS = 0.4, 0.35, 0.25
"""Doubled counts by their law: with the volume, with the draws, with the volume in some hours. Our assumption."""
SHAKEN_HOURS = np.array([3, 6, 9])
WET_CLUMPS = np.array([1.5, 3.0, 6.0])
WET_TIME = 0.2
"""Part of the time in which damp counts. Our assumption."""


@njit(cache=True, inline="always")
def _add(a, b):
    top = max(a, b)
    return top + math.log(math.exp(a - top) + math.exp(b - top))


@njit(cache=True)
def hour_log(count, share, watched, usual, spread, grain, active, added, clump, times, draws):
    """Log-likelihood of one hour of the day: ``count`` a watched hour and the ``share`` of them that moved.

    ``usual`` is what the place would count by the town's day, uncertain by ``spread`` [nat]; ``grain`` the counts of
    one draw. While it is ``active`` (a share of the time) the fault adds ``added`` counts in clumps of ``clump``, or
    one an hour where that is ``REGULAR``, and multiplies the place's own by ``times`` without moving more hours.
    ``draws`` is what each moving hour brings more.
    """
    own = OWN_DRAW * watched
    still = 1.0 - share
    total = 0.0
    weight = 0.0
    top = -1e300
    value = np.empty(LEVELS.shape[0])
    for i in range(LEVELS.shape[0]):
        z = LEVELS[i] / spread
        y = (LEVELS[i] - ODD_SHIFT) / ODD_SPREAD
        prior = (1.0 - ODD_HOUR) * math.exp(-0.5 * z * z) / spread + ODD_HOUR * math.exp(-0.5 * y * y) / ODD_SPREAD
        weight += prior
        base = usual * math.exp(LEVELS[i])
        quiet = math.exp(-base / grain)
        if clump == REGULAR:
            kept = max(1.0 - added, 0.0)
        else:
            kept = math.exp(-added / clump)
        left = min(max(quiet * (1.0 - active + active * kept), 0.004), 0.996)
        mean = base * (1.0 + active * (times - 1.0)) + active * (added + draws * (1.0 - quiet)) + 1e-6
        step = 1.0 + max(grain, clump) + draws
        sd = math.sqrt(LOOSE_LEVEL * LOOSE_LEVEL + 2.0 * step / (own * max(mean, 1e-4) + 1.0))
        x = (math.log(count + 0.5 / watched) - math.log(mean + 0.5 / watched)) / sd
        log = -0.5 * min(x * x, 60.0) - math.log(sd)
        log += own * (still * math.log(left) + share * math.log(1.0 - left))
        value[i] = log + math.log(prior + 1e-30)
        top = max(top, value[i])
    for i in range(LEVELS.shape[0]):
        total += math.exp(value[i] - top)
    return top + math.log(total / weight)


@njit(cache=True)
def _block(inside, outside, start, hours):
    """Return the log-likelihood of a day whose hours from ``start`` on follow one law and whose others another."""
    total = 0.0
    for h in range(HOURS):
        total += inside[h] if (h - start) % HOURS < hours else outside[h]
    return INDEPENDENT_HOUR * total


@njit(cache=True)
def _proportional(count, share, watched, town, spread, grain, use, active, times):
    """Log-likelihood of a place that counts ``times`` its water while ``active``, at rest at night or not."""
    told = -1e300
    for k in range(RUNNING.shape[0] + 1):
        running = 0.0 if k == 0 else RUNNING[k - 1]
        weight = 1.0 - RESTLESS if k == 0 else RESTLESS / RUNNING.shape[0]
        total = 0.0
        for h in range(HOURS):
            u = use * ((1.0 - running) * town[h] + running / HOURS)
            total += hour_log(count[h], share[h], watched[h], u, spread[h], grain, active, 0.0, 1.0, times, 0.0)
        told = _add(told, INDEPENDENT_HOUR * total + math.log(weight))
    return told


@njit(cache=True)
def _weigh_place(count, share, watched, town, spread, g, quiet, use, e, a, plain, law, told):
    """Fill ``told`` (6,) with the log-likelihoods of one place whose draws bring ``g`` counts each."""
    more = e / max(use, 1e-6)
    for h in range(HOURS):
        # Hours that a machine or reverse flow leaves as they are.
        u = use * town[h]
        plain[h] = hour_log(count[h], share[h], watched[h], u, spread[h], g, a, 0.0, 1.0, 1.0, 0.0)
    data = (count, share, watched, town, spread, g)
    # What was counted is all water, and the looks that say otherwise are wrong.
    told[TRUE] = _proportional(*data, use + e * a, a, 1.0)
    flow = _proportional(*data, use, a, 1.0 + more)
    told[DOUBLE] = flow
    # Steady counts.
    steady = -1e300
    for weight, clump in ((TRANSMITTED * (1.0 - AT_FIXED_HOURS), REGULAR), (AT_RANDOM, 1.0), (BURSTS, 3.0)):
        total = 0.0
        for h in range(HOURS):
            u = use * town[h]
            total += hour_log(count[h], share[h], watched[h], u, spread[h], g, a, e / HOURS, clump, 1.0, 0.0)
        steady = _add(steady, INDEPENDENT_HOUR * total + math.log(weight))
    for hours in MACHINE_HOURS:
        for h in range(HOURS):
            u = use * town[h]
            law[h] = hour_log(count[h], share[h], watched[h], u, spread[h], g, a, e / hours, 1.2, 1.0, 0.0)
        for start in range(HOURS):
            weight = MACHINE / (MACHINE_HOURS.shape[0] * HOURS)
            steady = _add(steady, _block(law, plain, start, hours) + math.log(weight))
    for apart in SENT_APART:
        for h in range(HOURS):
            u = use * town[h]
            law[h] = hour_log(count[h], share[h], watched[h], u, spread[h], g, a, e * apart / HOURS, REGULAR, 1.0, 0.0)
        for start in range(apart):
            total = 0.0
            for h in range(HOURS):
                total += law[h] if h % apart == start else plain[h]
            weight = TRANSMITTED * AT_FIXED_HOURS / (SENT_APART.shape[0] * apart)
            steady = _add(steady, INDEPENDENT_HOUR * total + math.log(weight))
    told[STEADY] = steady
    # Reverse flow.
    back = -1e300
    for night in AT_NIGHT:
        idle = 0.0
        for h in range(HOURS):
            idle += math.exp(-use * town[h] / g) * (night if quiet[h] else 1.0)
        for clump in ROCKING_CLUMPS:
            total = 0.0
            for h in range(HOURS):
                u = use * town[h]
                part = math.exp(-u / g) * (night if quiet[h] else 1.0) / max(idle, 1e-9)
                total += hour_log(count[h], share[h], watched[h], u, spread[h], g, a, e * part, clump, 1.0, 0.0)
            weight = ROCKING / (AT_NIGHT.shape[0] * ROCKING_CLUMPS.shape[0])
            back = _add(back, INDEPENDENT_HOUR * total + math.log(weight))
    for hours in BACK_HOURS:
        for h in range(HOURS):
            u = use * town[h]
            law[h] = hour_log(count[h], share[h], watched[h], u, spread[h], g, a, e / hours, 1.5, 1.0, 0.0)
        for start in range(HOURS):
            middle = int(start + hours // 2) % HOURS
            weight = REVERSED_AT_NIGHT / 7.0 if quiet[middle] or quiet[(middle + 1) % HOURS] else 0.0
            weight = (weight + REVERSED / HOURS) / BACK_HOURS.shape[0]
            back = _add(back, _block(law, plain, start, hours) + math.log(weight))
    told[BACKFLOW] = back
    # A share counted twice or more.
    extra = flow + math.log(WITH_FLOW)
    moving = 0.0
    for h in range(HOURS):
        moving += 1.0 - math.exp(-use * town[h] / g)
    total = 0.0
    for h in range(HOURS):
        u = use * town[h]
        total += hour_log(count[h], share[h], watched[h], u, spread[h], g, a, 0.0, 1.0, 1.0, e / max(moving, 1e-3))
    extra = _add(extra, INDEPENDENT_HOUR * total + math.log(WITH_DRAWS))
    for hours in SHAKEN_HOURS:
        for start in range(HOURS):
            inside = 0.0
            for k in range(hours):
                inside += town[(start + k) % HOURS]
            times = 1.0 + more / max(inside, 1e-3)
            if times > 3.0:
                continue
            total = 0.0
            for h in range(HOURS):
                u = use * town[h]
                if (h - start) % HOURS < hours:
                    total += hour_log(count[h], share[h], watched[h], u, spread[h], g, a, 0.0, 1.0, times, 0.0)
                else:
                    total += plain[h]
            weight = IN_HOURS / (SHAKEN_HOURS.shape[0] * HOURS)
            extra = _add(extra, INDEPENDENT_HOUR * total + math.log(weight))
    told[EXTRA] = extra
    # Damp.
    wet = -1e300
    for clump in WET_CLUMPS:
        total = 0.0
        for h in range(HOURS):
            u = use * town[h]
            total += hour_log(
                count[h], share[h], watched[h], u, spread[h], g, a * WET_TIME, e / HOURS / WET_TIME, clump,
                1.0, 0.0,
            )  # fmt: skip
        wet = _add(wet, INDEPENDENT_HOUR * total - math.log(WET_CLUMPS.shape[0]))
    told[WET] = wet


@njit(cache=True, nogil=True)
def weigh_hours(
    count, share, watched, town, spread, grain, grain_log_share, quiet, use, rate, active, out, begin, end
):  # fmt: skip
    """Fill ``out`` (n, 5): steady, backflow, extra, wet and double counts against a place that counts true [nat].

    ``count``, ``share``, ``watched`` (n, 24) are counts a watched hour, the share that moved, and their number by local
    hour; ``town``, ``spread`` (24,) the town's day (sums to 1) and how places differ from it; ``grain`` (n, m) counts
    of one draw, with the log shares (m,) of places; ``quiet`` (24,) the night; ``use`` (n,) counts a day of the water,
    ``rate`` (n,) those too many while ``active`` (n,), a share of the time. Rows from ``begin`` to before ``end`` are
    looked at.
    """
    plain, law, told = np.zeros(HOURS), np.zeros(HOURS), np.zeros(TRUE + 1)
    for f in range(begin, end):
        true = -1e300
        out[f, :] = -1e300
        for k in range(grain.shape[1]):
            _weigh_place(
                count[f], share[f], watched[f], town, spread, grain[f, k], quiet, use[f], rate[f], active[f], plain,
                law, told,
            )  # fmt: skip
            true = _add(true, told[TRUE] + grain_log_share[k])
            for c in range(TRUE):
                out[f, c] = _add(out[f, c], told[c] + grain_log_share[k])
        for c in range(TRUE):
            out[f, c] -= true
