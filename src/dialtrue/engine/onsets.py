"""When a count may have gone wrong: candidate moments for each port, with the index at each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dialtrue.engine.fleet import Fleet, Floats, Ints
from dialtrue.engine.scan import Scan
from dialtrue.engine.scan_kernel import DAY_US

SPREAD = 6
"""Evenly spaced candidates beside those that the series suggests. Our assumption."""
K_FIT, K_CHANGE, K_STILL, K_FREEZE, K_SPREAD = 0, 1, 2, 3, 4


@dataclass(slots=True)
class Onsets:
    """Candidate onsets.

    ``at_us``, ``index_l`` (n, 4 + SPREAD): the fitting, the best change of daily rate, the last move, the start of the
    longest standstill, then evenly spaced moments. ``change_gain`` (n,) log-likelihood gained by one change of daily
    rate [nat], ``change_log_ratio`` and ``change_sd`` (n,) its natural logarithm and standard error.
    ``rate_l_day`` (n,) mean daily volume on days with reads.
    """

    at_us: Ints
    index_l: Floats
    change_gain: Floats
    change_log_ratio: Floats
    change_sd: Floats
    rate_l_day: Floats


def filled_walk(scan: Scan) -> Floats:
    """Return the walk at each day's end with gaps bridged straight; nan before the first and after the last."""
    walk = scan.day_walk
    n, days = walk.shape
    known = ~np.isnan(walk)
    column = np.broadcast_to(np.arange(days), (n, days))
    left = np.maximum.accumulate(np.where(known, column, -1), axis=1)
    right = np.minimum.accumulate(np.where(known, column, days)[:, ::-1], axis=1)[:, ::-1]
    inner = (left >= 0) & (right < days)
    row = np.arange(n)[:, None]
    low = walk[row, np.maximum(left, 0)]
    high = walk[row, np.minimum(right, days - 1)]
    width = np.maximum(right - left, 1)
    return np.where(inner, low + (high - low) * (column - left) / width, np.nan)


def candidate_onsets(fleet: Fleet, scan: Scan, start_gap: Ints) -> Onsets:
    """Find candidate onsets of every port.

    The change of daily rate is the split of the daily volumes' square roots that gains most against one level, both
    sides at least five days; its gain uses the port's own scatter, with a correction for searching over the split.
    Cost O(n x days). Never raises.

    Source
    ------
    Two-segment least squares; the search penalty is the Bayesian information criterion's ln(days).
    """
    figures = scan.figures
    n, days = scan.day_walk.shape
    q = fleet.quantum_index_l
    walk = filled_walk(scan) * q[:, None]
    daily = np.diff(walk, axis=1, prepend=np.nan)
    valid = ~np.isnan(daily)
    # Days bridged over a gap are copies of one mean; they count once.
    fresh = valid & ~np.isnan(scan.day_walk)
    rate = np.nansum(np.where(fresh, daily, 0.0), axis=1) / np.maximum(fresh.sum(axis=1), 1)
    # The square root steadies a daily volume's scatter, and a day of nothing is no outlier on it.
    level = np.sqrt(np.maximum(np.where(fresh, daily, 0.0), 0.0) / np.maximum(np.abs(rate), 1e-9)[:, None])
    weight = fresh.astype(float)
    s0, s1, s2 = (np.cumsum(weight * level**p, axis=1) for p in (0, 1, 2))
    total0, total1, total2 = s0[:, -1:], s1[:, -1:], s2[:, -1:]
    with np.errstate(divide="ignore", invalid="ignore"):
        left_mean = s1 / s0
        right_mean = (total1 - s1) / (total0 - s0)
        between = s0 * (total0 - s0) / np.maximum(total0, 1) * (right_mean - left_mean) ** 2
    ok = (s0 >= 5) & (total0 - s0 >= 5)
    between = np.where(ok, between, -1.0)
    best = np.argmax(between, axis=1) if days else np.zeros(n, np.int64)
    row = np.arange(n)
    b = np.maximum(between[row, best], 0.0)
    count = np.maximum(total0[:, 0], 1)
    scatter = total2[:, 0] - total1[:, 0] ** 2 / count
    inner = np.maximum((scatter - b) / np.maximum(count - 2, 1), 0.02)
    found = between[row, best] > 0
    # Days follow each other: not quite half of them are independent (our assumption).
    gain = np.where(found, 0.45 * b / (2 * inner) - 0.8 * np.log(np.maximum(count, 2)), 0.0)
    n1 = np.maximum(s0[row, best], 1)
    n2 = np.maximum(count - n1, 1)
    # The logarithm's error is twice the square root's, in shares of the level.
    change_sd = 2 * np.sqrt(inner * (1 / n1 + 1 / n2) * 2.2)
    with np.errstate(divide="ignore", invalid="ignore"):
        before_l = np.where(
            found, np.nansum(np.where(fresh & (np.arange(days) <= best[:, None]), daily, 0), axis=1) / n1, 0
        )
        after_l = np.where(
            found, np.nansum(np.where(fresh & (np.arange(days) > best[:, None]), daily, 0), axis=1) / n2, 0
        )
        ratio = np.log(np.maximum(after_l, 1e-9) / np.maximum(before_l, 1e-9))
    start_us = scan.calendar.start_us
    end_us = figures["last_us"]
    at = np.zeros((n, K_SPREAD + SPREAD), np.int64)
    at[:, K_FIT] = np.minimum(fleet.fit_us, figures["first_us"])
    at[:, K_CHANGE] = np.where(found, start_us + (best + 1) * DAY_US, at[:, K_FIT])
    at[:, K_STILL] = np.where(figures["n"] > 1, figures["moved_us"], at[:, K_FIT])
    at[:, K_FREEZE] = np.where(figures["longest_us"] > 0, figures["longest_from_us"], at[:, K_FIT])
    # Where the index falls again and again, the first fall is the better guess.
    at[:, K_FREEZE] = np.where(figures["backs"] >= 5, scan.back[:, 0, 0], at[:, K_FREEZE])
    shares = (np.arange(SPREAD) + 1) / (SPREAD + 1)
    at[:, K_SPREAD:] = at[:, :1] + ((end_us - at[:, 0])[:, None] * shares).astype(np.int64)
    index_l = walk_at(at, walk, start_us, figures, q) + (start_gap * q)[:, None]
    index_l[:, K_FIT] = 0.0
    return Onsets(at, index_l, gain, ratio, change_sd, rate)


def walk_at(at_us: Ints, walk_l: Floats, start_us: int, figures: np.ndarray, q: Floats) -> Floats:
    """Return the walk in litres at given moments, in a straight line between the days' last reads."""
    n, days = walk_l.shape
    x = (at_us - start_us) / DAY_US - 1.0
    low = np.clip(np.floor(x).astype(np.int64), 0, days - 1)
    high = np.clip(low + 1, 0, days - 1)
    row = np.arange(n)[:, None]
    a, b = walk_l[row, low], walk_l[row, high]
    a = np.where(np.isnan(a), np.where(np.isnan(b), 0.0, b), a)
    b = np.where(np.isnan(b), a, b)
    value = a + (b - a) * np.clip(x - low, 0.0, 1.0)
    value = np.where(at_us <= figures["first_us"][:, None], 0.0, value)
    return np.where(at_us >= figures["moved_us"][:, None], (figures["walk"] * q)[:, None], value)
