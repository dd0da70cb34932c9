"""How well the index of one channel follows the dial of another meter: the compiled likelihood of a match."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from dialtrue.engine.evidence.falls import own_start_density
from dialtrue.engine.evidence.pair_kernel import ROOT_2PI, SLIP_SHARE, noise_l, pair_density, spread_l
from dialtrue.engine.scan_kernel import DAY_US

WITHIN_DAY, WITHIN_ROUND = 0.15, 0.35
"""Spread of the index inside a day of which only its end is kept, in days of use: where reads come by the hour, and
where they come once a day or less and at any hour. Our assumption."""
MEMORY_DAYS, DRIFT_DAYS = 0.4, 7.0
"""Memory of demand, and of its level, between two days that were read. Our assumption, as for a port's own pairs."""
WIRES, RECORDS = 0, 1
LEAST_LOG_USE = -7.0
"""A rate so far under the use before says no more [nat]. Our assumption."""


@njit(cache=True, nogil=True)
def index_at(day_walk, start_us, read_us, at_us, first_us, last_us, last_walk, pace, within):
    """Return the walk of a port at a moment and its spread [count, count].

    ``read_us`` is the time of day at which the day's last read comes; ``pace`` the counts a day, for times before the
    first and after the last read; ``within`` is one of the spreads inside a day.
    """
    if at_us <= first_us:
        ahead = pace * (first_us - at_us) / DAY_US
        return -ahead, 0.8 * ahead + within * pace
    if at_us >= last_us:
        past = pace * (at_us - last_us) / DAY_US
        return last_walk + past, 0.8 * past + within * pace
    days = day_walk.shape[0]
    day = int((at_us - read_us - start_us) // DAY_US)
    low = min(day, days - 1)
    while low >= 0 and np.isnan(day_walk[low]):
        low -= 1
    high = max(day + 1, 0)
    while high < days and np.isnan(day_walk[high]):
        high += 1
    if low >= 0:
        left_us, left = float(start_us + low * DAY_US + read_us), day_walk[low]
    else:
        left_us, left = float(first_us), 0.0
    if high < days:
        right_us, right = float(start_us + high * DAY_US + read_us), day_walk[high]
    else:
        right_us, right = float(last_us), last_walk
    span = max(right_us - left_us, 1.0)
    f = min(max((at_us - left_us) / span, 0.0), 1.0)
    gap = span / DAY_US
    step = right - left
    bridge = abs(step) * math.sqrt(f * (1.0 - f) / (1.0 + gap / MEMORY_DAYS))
    drift = 0.5 * abs(step) * f * (1.0 - f) * (1.0 - math.exp(-gap / DRIFT_DAYS))
    return left + step * f, math.sqrt(bridge * bridge + drift * drift + (within * pace) ** 2)


@njit(cache=True, nogil=True)
def followed_looks(
    first, last, at_us, dial_l, misread, usable, own, anchored, fit_us, qd, wm,
    day_walk, start_us, read_us, first_us, last_us, last_walk, pace, ws, qe, gap, gap_sd,
):  # fmt: skip
    """Log density of a meter's looks if another channel counts its pulses, less that if its own does.

    ``gap`` is what that channel moved from the meter's fitting to its own first read [count]. Looks that the channel
    cannot speak of count for neither. Returns the difference and the number of looks that spoke.
    """
    scale = wm / ws * qe
    base, base_sd, looks = 0.0, 0.0, 0
    started = anchored
    within = WITHIN_DAY if read_us == DAY_US else WITHIN_ROUND
    moved_l, noise, at = np.zeros(last - first), np.zeros(last - first), np.zeros(last - first, np.int64)
    for j in range(first, last):
        if not usable[j] or at_us[j] > last_us + 8 * DAY_US:
            continue
        moved, sd = index_at(day_walk, start_us, read_us, at_us[j], first_us, last_us, last_walk, pace, within)
        if not started:
            if j > first:
                break
            base, base_sd, started = moved, sd, True
            continue
        moved_l[looks] = (moved - base + (gap if anchored else 0.0)) * scale
        noise[looks] = noise_l(1.0, qd, wm, qe * wm / ws, math.hypot(sd, base_sd) * scale)
        at[looks] = j
        looks += 1
    # What the channel moved before its first read is one unknown for all looks.
    shift, cost = 0.0, 0.0
    if anchored and gap_sd * scale > 0.0 and looks > 0:
        wide = gap_sd * scale
        for _ in range(3):
            top, bottom = 0.0, 1.0 / (wide * wide)
            for k in range(looks):
                z = (moved_l[k] + shift - dial_l[at[k]]) / noise[k]
                weight = 1.0 / (noise[k] * noise[k] * (1.0 + 0.25 * z * z))
                top += weight * (dial_l[at[k]] - moved_l[k])
                bottom += weight
            shift = top / bottom
        cost = -0.5 * (shift / wide) ** 2 - 0.5 * math.log(bottom * wide * wide)
    total = cost
    for k in range(looks):
        j, x = at[k], moved_l[k] + shift
        told = pair_density(x - dial_l[j], noise[k], misread[j], spread_l(dial_l[j], x, noise[k], qd + wm))
        total += told - own[j]
    return total, looks


@njit(cache=True, nogil=True)
def usual_use(z, s):
    """Log density of a log ratio of use after to use before [1/nat], people who move apart."""
    wide = math.hypot(s, 1.0)
    here = 0.92 * math.exp(-0.5 * (z / s) ** 2) / s + 0.08 * math.exp(-0.5 * (z / wide) ** 2) / wide
    return math.log(here / math.sqrt(2 * math.pi) + 1e-6)


@njit(cache=True, nogil=True)
def weigh_edges(
    row, by, fit_us, anchored, qd, qe, wm, ws, start, capacity, log_use, use_spread, log_rate,
    first, at_us, dial_l, index_l, bridge_l, misread, usable, own, own_first,
    day_walk, start_us, read_us, first_us, last_us, first_count, last_walk, pace, pace_due,
    out, looks,
):  # fmt: skip
    """Fill ``out`` (edges, 2): what wires or records crossed so add to row's evidence over its own channel's [nat].

    ``out`` compares how row's dial, its use before the fitting and, for crossed records, its start index suit the
    channel of ``by`` with how they suit its own. ``looks`` (edges,) is the number of dial looks that speak.
    """
    for e in range(row.shape[0]):
        r, a = row[e], by[e]
        if not (wm[r] > 0 and ws[a] > 0 and qe[a] > 0 and qd[r] > 0):
            out[e, 0] = out[e, 1] = -40.0
            continue
        use = 0.0
        if not math.isnan(log_use[r]) and not math.isnan(log_rate[a]) and not math.isnan(log_rate[r]):
            mine = max(log_rate[r] - log_use[r], LEAST_LOG_USE)
            theirs = max(log_rate[a] + math.log(wm[r] / ws[a]) - log_use[r], LEAST_LOG_USE)
            use = usual_use(theirs, use_spread[r]) - usual_use(mine, use_spread[r])
        # Wires: the channel begins at its own keyed start; records: at the start that was keyed for this meter.
        late = max((first_us[a] - fit_us[r]) / DAY_US, 0.0)
        expected = late * pace[a]
        for kind in range(2):
            gap, gap_sd, began = expected, 0.8 * expected + 1.0, 0.0
            if kind == RECORDS:
                if start[r] < 0:
                    out[e, kind] = -40.0
                    continue
                # The start of this meter in counts of the other index.
                there = start[r] * qe[r] / qe[a]
                density = own_start_density(
                    first_count[a], there, capacity[a], late * pace_due[r] * qe[r] / qe[a] + 1.0
                )
                began = math.log(density + 1e-4 / capacity[a]) - own_first[r]
                moved = first_count[a] - there
                if density > 1e-3 / capacity[a] and moved >= 0.0:
                    gap, gap_sd = moved, 0.5
            elif start[a] >= 0:
                moved = first_count[a] - start[a]
                if 0.0 <= moved <= 10.0 * expected + 50.0:
                    gap, gap_sd = moved, 0.5
            told, spoke = followed_looks(
                first[r], first[r + 1], at_us, dial_l, misread, usable, own, anchored[r] == 1, fit_us[r], qd[r], wm[r],
                day_walk[a], start_us, read_us[a], first_us[a], last_us[a], last_walk[a], pace[a], ws[a], qe[a],
                gap, gap_sd,
            )  # fmt: skip
            looks[e] = spoke
            out[e, kind] = told + use + began


@njit(cache=True, nogil=True)
def own_evidence(
    fitting, qd, qe, w, dial_l, index_l, bridge_l, misread, slip, usable, start, first_count, capacity, first_due,
    looks, began,
):  # fmt: skip
    """Fill each look's log density (m,) and each port's of its own first read (n,), if it counts true."""
    for j in range(fitting.shape[0]):
        if usable[j]:
            f = fitting[j]
            sd = noise_l(1.0, qd[f], w[f], qe[f], bridge_l[j])
            wide = spread_l(dial_l[j], index_l[j], sd, qd[f] + w[f])
            z = (index_l[j] - dial_l[j]) / sd
            good = math.exp(-0.5 * z * z) / (sd * ROOT_2PI) if z * z < 900 else 0.0
            bad = (1.0 - SLIP_SHARE) / wide + SLIP_SHARE * slip[j]
            looks[j] = math.log((1 - misread[j]) * good + misread[j] * bad)
    for f in range(start.shape[0]):
        if start[f] >= 0:
            density = own_start_density(first_count[f], start[f], capacity[f], first_due[f])
            began[f] = math.log(density + 1e-4 / capacity[f])


__all__ = ["RECORDS", "WIRES", "index_at", "own_evidence", "usual_use", "weigh_edges"]
