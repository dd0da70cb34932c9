"""The compiled passes over days that rank the wet ones among the others; rows from ``begin`` to before ``end``."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from dialtrue.engine.scan_kernel import DAY_US

BASE_DAYS = 10
"""Days on either side whose dry ones are a day's base. Our assumption: a season does not change in three weeks."""
LEAST_AROUND = 3
"""Dry days that a base needs. Our assumption."""
WELL_ABOVE = 0.3
"""A wet day's root beyond its base that tells of damp, in shares of the mean's root. Our assumption."""


@njit(cache=True, nogil=True)
def fill_roots(walk, moved_us, start_us, level, fresh, begin, end):
    """Fill ``level`` (n, days), roots of daily volumes over the port's mean, and ``fresh``, which days have a volume.

    ``walk`` (n, days) is the index at each day's end; days that begin after ``moved_us`` (n,) are left out.
    """
    days = walk.shape[1]
    for f in range(begin, end):
        total, count = 0.0, 0
        for d in range(1, days):
            volume = walk[f, d] - walk[f, d - 1]
            if math.isnan(volume) or start_us + d * DAY_US > moved_us[f]:
                continue
            fresh[f, d] = True
            level[f, d] = max(volume, 0.0)
            total += level[f, d]
            count += 1
        mean = max(total / max(count, 1), 1e-9)
        for d in range(days):
            level[f, d] = math.sqrt(level[f, d] / mean)


@njit(cache=True, nogil=True)
def beyond_dry_days(level, fresh, known, dry, hourly, noise, residual, base, key, begin, end):
    """Fill ``base`` and ``residual``, each day's dry base and the level beyond it, and ``key`` to sort by.

    ``dry`` (2, days) says which days are dry for a port that sends once a day and for one that sends by the hour;
    ``hourly`` (n,) is 1 for the latter. Those filled hold the rows from ``begin`` on, (end - begin or more, days);
    ``key`` is infinite where there is no residual.
    """
    days = level.shape[1]
    counts = np.zeros(days + 1)
    totals = np.zeros(days + 1)
    for f in range(begin, end):
        row, kind = f - begin, hourly[f]
        for d in range(days):
            one = 1.0 if fresh[f, d] and known[d] and dry[kind, d] else 0.0
            counts[d + 1] = counts[d] + one
            totals[d + 1] = totals[d] + one * level[f, d]
        for d in range(days):
            low, high = max(d - BASE_DAYS, 0), min(d + BASE_DAYS + 1, days)
            # A dry day is no witness of itself.
            own = 1.0 if fresh[f, d] and known[d] and dry[kind, d] else 0.0
            count = counts[high] - counts[low] - own
            base[row, d] = (totals[high] - totals[low] - own * level[f, d]) / max(count, 1.0)
            if fresh[f, d] and known[d] and count >= LEAST_AROUND:
                residual[row, d] = level[f, d] - base[row, d]
                key[row, d] = residual[row, d] + noise[d]
            else:
                residual[row, d] = np.nan
                key[row, d] = np.inf


@njit(cache=True, nogil=True)
def put_ranks(order, residual, base, wet, rank, sums, begin, end):
    """Fill ``rank`` from the ``order`` (end - begin, days) of the keys, nan where none, and ``sums`` (n, 6).

    ``sums`` are days ranked, wet days ranked, volume of the wet ones and of their bases and volume beyond these, all in
    shares of the mean day's, and the first wet day well above its base (``days`` if none). The others hold
    the rows from ``begin`` on.
    """
    days = rank.shape[1]
    for f in range(begin, end):
        row = f - begin
        for i in range(days):
            d = order[row, i]
            rank[row, d] = np.nan if math.isnan(residual[row, d]) else i + 1.0
        sums[f, 5] = days
        for d in range(days):
            over = residual[row, d]
            if math.isnan(over):
                continue
            sums[f, 0] += 1.0
            if not wet[d]:
                continue
            sums[f, 1] += 1.0
            sums[f, 2] += max(base[row, d] + over, 0.0) ** 2
            sums[f, 3] += base[row, d] ** 2
            # Roots were ranked: (b + r)^2 - b^2 is the volume beyond the base, in shares of the mean.
            if over > 0.0:
                sums[f, 4] += over * (2.0 * base[row, d] + over)
            if over > WELL_ABOVE and sums[f, 5] == days:
                sums[f, 5] = d


@njit(cache=True, nogil=True)
def sum_wet_ranks(rank, wet, at_us, start_us, count, sums, begin, end):
    """Fill ``count`` and ``sums`` (n, 1 + spans): wet days ranked, and their ranks, from the onset on (``at_us``).

    ``rank`` holds the rows from ``begin`` on.
    """
    days = rank.shape[1]
    tail_count = np.zeros(days + 1)
    tail_rank = np.zeros(days + 1)
    for f in range(begin, end):
        for d in range(days - 1, -1, -1):
            tail_count[d] = tail_count[d + 1]
            tail_rank[d] = tail_rank[d + 1]
            if wet[d] and not math.isnan(rank[f - begin, d]):
                tail_count[d] += 1.0
                tail_rank[d] += rank[f - begin, d]
        for k in range(at_us.shape[1]):
            # The first day that begins at the onset or after; all of them where it began with the fitting.
            first = 0 if k == 0 else min(max(-((start_us - at_us[f, k]) // DAY_US), 0), days)
            count[f, k] = tail_count[first]
            sums[f, k] = tail_rank[first]
