"""The compiled look at when in the day the counts come: water that never stops runs at night too."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from dialtrue.engine.fleet import Floats

NIGHT_HOURS = 5
"""Hours of the town's quietest stretch. Our assumption."""
SHARES = np.concatenate((np.linspace(0.004, 0.06, 6), np.linspace(0.08, 0.3, 6)))
"""Parts of a place's moving hours that fall in the night. [-]"""
ADDED = np.array([0.2, 0.5, 0.85])
"""Parts of the moving hours that water without pause makes. Our assumption: equally likely."""
ODD_SHARE = 0.05
"""Share of places that work at night or have no night: any part is as likely there. Our assumption."""
OWN = 0.3
"""Share of moving hours that are draws of their own: one visit or one bad night makes several. Our assumption."""
REPAIRED_SHARE = 0.3
"""Share of leaks that end within the watch. Our assumption."""
TOWN_PORTS = 40
"""Ports from which the town's own nights are learned. Our assumption."""
USUAL_MEAN, USUAL_WEIGHT = 0.06, 12.0
"""Part of the moving hours at night in a home, and the weight of a beta about it, where the town is too small to tell.
Our assumption from household series."""


def quiet_hours(moves: Floats, steps: Floats) -> NDArray[np.bool_]:
    """Return the town's quietest stretch of local hours, (24,) bool; one to six in the morning in a small town.

    ``moves`` and ``steps`` (n, 24) are hours with a count and hours heard.
    """
    night = np.zeros(24, bool)
    night[1 : 1 + NIGHT_HOURS] = True
    share = moves.sum(axis=1) / np.maximum(steps.sum(axis=1), 1)
    lively = (steps.sum(axis=1) > 24 * 14) & (share > 0.03) & (share < 0.85)
    if lively.sum() < TOWN_PORTS:
        return night
    shape = (moves[lively] / np.maximum(moves[lively].sum(axis=1, keepdims=True), 1)).mean(axis=0)
    stretch = np.array([np.roll(shape, -h)[:NIGHT_HOURS].sum() for h in range(24)])
    best = int(np.argmin(stretch))
    night = np.zeros(24, bool)
    night[(best + np.arange(NIGHT_HOURS)) % 24] = True
    return night


def usual_shares(night: Floats, total: Floats) -> Floats:
    """Return the log-probabilities (shares,) of a sound place's part of moving hours at night, learned from the town.

    A beta by the moments of the ports below the town's 94th percentile (the others may leak), and a few odd places.
    """
    mean, weight = USUAL_MEAN, USUAL_WEIGHT
    enough = total >= 60
    if enough.sum() >= TOWN_PORTS:
        part = np.sort(night[enough] / total[enough])
        part = part[: max(int(0.94 * len(part)), 2)]
        mean = float(np.clip(part.mean(), 0.005, 0.25))
        variance = max(float(part.var()), 2e-5)
        weight = float(np.clip(mean * (1 - mean) / variance - 1.0, 4.0, 200.0))
    a, b = mean * weight, (1 - mean) * weight
    log_beta = (a - 1) * np.log(SHARES) + (b - 1) * np.log1p(-SHARES)
    width = np.gradient(SHARES)
    beta = np.exp(log_beta - log_beta.max()) * width
    odd = width / width.sum()
    told: Floats = np.log((1 - ODD_SHARE) * beta / beta.sum() + ODD_SHARE * odd)
    return told


@njit(cache=True, nogil=True)
def sum_nights(moves, quiet, night, total, begin, end):
    """Fill ``night`` and ``total`` (n, periods): moving hours in the ``quiet`` (24,) hours and in all.

    ``moves`` (n, periods, 24); rows from ``begin`` to before ``end`` are looked at.
    """
    for f in range(begin, end):
        for j in range(moves.shape[1]):
            for h in range(24):
                total[f, j] += moves[f, j, h]
                if quiet[h]:
                    night[f, j] += moves[f, j, h]


@njit(cache=True, nogil=True)
def weigh_nights(night, total, uniform, log_share, shares, added, out, onset_period, begin, end):
    """Fill ``out`` (n, 1 + spans): water without pause from each onset on, against a place without it [nat].

    ``night``, ``total`` (n, periods) moving hours at night and in all; ``uniform`` the part of night hours in a day;
    ``onset_period`` (n, 1 + spans) the first period that is wholly or mostly after the onset. Rows from
    ``begin`` to before ``end`` are looked at.
    """
    periods = night.shape[1]
    grid, kinds = shares.shape[0], added.shape[0]
    table = np.zeros((kinds + 1, grid, 2))
    for x in range(kinds + 1):
        for g in range(grid):
            p = shares[g] if x == kinds else (1.0 - added[x]) * shares[g] + added[x] * uniform
            table[x, g, 0] = math.log(p)
            table[x, g, 1] = math.log(1.0 - p)
    # Ends of a mended leak are tried four to a window.
    step = max(periods // 4, 1)
    sums = np.zeros((kinds + 1, grid, periods + 1))
    value = np.zeros((periods + 1, periods + 1))
    for f in range(begin, end):
        seen = 0.0
        for j in range(periods):
            seen += total[f, j]
        if seen < 30:
            out[f, :] = 0.0
            continue
        for x in range(kinds + 1):
            for g in range(grid):
                sums[x, g, 0] = 0.0
                for j in range(periods):
                    a, b = night[f, j], total[f, j] - night[f, j]
                    sums[x, g, j + 1] = sums[x, g, j] + OWN * (a * table[x, g, 0] + b * table[x, g, 1])
        top = -1e30
        for g in range(grid):
            top = max(top, log_share[g] + sums[kinds, g, periods])
        plain = 0.0
        for g in range(grid):
            plain += math.exp(log_share[g] + sums[kinds, g, periods] - top)
        plain = top + math.log(plain)
        for j0 in range(periods):
            for j1 in range(j0 + step, periods + step, step):
                j1 = min(j1, periods)
                total_value = 0.0
                for x in range(kinds):
                    for g in range(grid):
                        inside = sums[x, g, j1] - sums[x, g, j0]
                        outside = sums[kinds, g, periods] - sums[kinds, g, j1] + sums[kinds, g, j0]
                        total_value += math.exp(min(log_share[g] + inside + outside - plain, 60.0))
                value[j0, j1] = math.log(total_value / kinds + 1e-30)
        for k in range(out.shape[1]):
            j0 = onset_period[f, k]
            if j0 >= periods:
                out[f, k] = 0.0
                continue
            ongoing = value[j0, periods]
            mended = 0.0
            ends = 0
            for j1 in range(j0 + step, periods, step):
                mended += math.exp(value[j0, j1])
                ends += 1
            if ends:
                mixed = (1.0 - REPAIRED_SHARE) * math.exp(ongoing) + REPAIRED_SHARE * mended / ends
                ongoing = math.log(mixed + 1e-30)
            out[f, k] = min(max(ongoing, -8.0), 16.0)
