"""Wet days against dry ones by rank: how far counts rise or fall with the rain, whatever they clump into.

Counts of damp come in clumps, so a Poisson figure would be far too sure. The rank of the days is honest: if nine wet
days of thirty hold the nine highest counts, chance does that once in C(30, 9) = 14,307,150 draws.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln, log_ndtr

from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.fleet import Floats
from dialtrue.engine.onsets import Onsets
from dialtrue.engine.scan_kernel import DAY_US

WET_PART = 0.4
"""A day with this part of its hours wet is a wet day. Our assumption."""
BASE_DAYS = 10
"""Days on either side whose dry ones are a day's base. Our assumption: a season does not change in three weeks."""
TOWN_PORTS = 40
"""Ports from which the town's own day is taken out. Our assumption."""
LEAST_WET, LEAST_DRY = 3, 8
"""Days of each kind needed. Our assumption."""
INDEPENDENT = 0.6
"""Share of days that are draws of their own: wet days come in spells. Our assumption."""
HABIT_NAT, FAULT_REACH_NAT = 0.15, 4.0
"""Spread of a natural rise or fall of use with rain, and how far damp may raise the counts, any size as likely. Our
assumption. [nat]"""
ODD_SHARE = 0.05
"""Share of sound places whose use follows the rain by itself: car washes, wet boots, sump pumps fed by the tap. Our
assumption."""


@dataclass(slots=True)
class RainDays:
    """``rank`` (n, days) of each day's residual among the port's, nan where none; ``residual`` (n, days) over the dry
    base ``base`` (n, days), in shares of the mean's root; ``wet`` (days,) wet, ``known`` (days,) weather known."""

    rank: Floats
    residual: Floats
    base: Floats
    wet: NDArray[np.bool_]
    known: NDArray[np.bool_]


def chance_of_order(wet_days: int, dry_days: int) -> float:
    """Return the chance that every wet day lies above every dry day by accident. [-]

    Parameters
    ----------
    wet_days, dry_days : int
        [0 or more]

    Returns
    -------
    float

    Raises
    ------
    Never raises.

    Source
    ------
    One order of C(wet + dry, wet), all equally likely.

    Examples
    --------
    >>> round(1 / chance_of_order(9, 21))
    14307150
    """
    return 1.0 / math.comb(wet_days + dry_days, wet_days)


def wet_part(case: Case) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the part of each day's hours that are wet, and where the weather is known; (days,)."""
    wet = case.scan.calendar.wet.reshape(-1, 24)
    known = (wet >= 0).mean(axis=1) > 0.8
    return np.where(known, (wet == 1).mean(axis=1), 0.0), known


def day_roots(case: Case) -> tuple[Floats, NDArray[np.bool_]]:
    """Return roots of daily volumes over each port's mean, the town's day taken out, and which are known; (n, days).

    Days after the last count are left out, for nothing speaks of the weather there.
    """
    scan = case.scan
    walk = scan.day_walk
    daily = np.diff(walk, axis=1, prepend=np.nan)
    days = daily.shape[1]
    start = scan.calendar.start_us + np.arange(days) * DAY_US
    fresh = ~np.isnan(daily) & (start[None, :] <= scan.figures["moved_us"][:, None])
    volume = np.where(fresh, np.maximum(daily, 0.0), 0.0)
    mean = volume.sum(axis=1) / np.maximum(fresh.sum(axis=1), 1)
    level = np.sqrt(volume / np.maximum(mean, 1e-9)[:, None])
    step = max(len(level) // 3000, 1)
    sample, seen = level[::step], fresh[::step]
    enough = seen.sum(axis=0) >= TOWN_PORTS
    if enough.any():
        town = np.ones(days)
        town[enough] = np.nanmedian(np.where(seen, sample, np.nan)[:, enough], axis=0)
        middle = max(float(np.median(town[enough])), 1e-6)
        level = level / np.where(enough, np.clip(town / middle, 0.6, 1.7), 1.0)
    return level, fresh


def rank_days(case: Case) -> RainDays:
    """Rank each port's days by what they hold beyond the dry days around them, the town's own day taken out."""
    level, fresh = day_roots(case)
    part, known = wet_part(case)
    hourly = case.scan.day_steps.sum(axis=1) > 0
    before = np.concatenate((part[:1], part[:-1]))
    # A day's one read at breakfast tells mostly of the day before.
    wet_of = np.where(hourly[:, None], part[None, :], 0.5 * (part + before)[None, :])
    fresh = fresh & known[None, :]
    dry = fresh & (wet_of < 0.5 * WET_PART)
    days = level.shape[1]
    low = np.maximum(np.arange(days) - BASE_DAYS, 0)
    high = np.minimum(np.arange(days) + BASE_DAYS + 1, days)

    def around(x: Floats) -> Floats:
        total = np.concatenate((np.zeros((len(x), 1)), np.cumsum(x, axis=1)), axis=1)
        return np.asarray(total[:, high] - total[:, low])

    count, total = around(dry.astype(float)), around(np.where(dry, level, 0.0))
    # A dry day is no witness of itself.
    count, total = count - dry, total - np.where(dry, level, 0.0)
    usable = fresh & (count >= 3)
    base = total / np.maximum(count, 1)
    residual = np.where(usable, level - base, np.nan)
    # Coarse pulses tie: the day's number breaks ties by no rule that rain knows.
    noise = ((np.arange(days) * 0.618034) % 1.0) * 1e-6
    order = np.argsort(np.where(usable, residual + noise, np.inf), axis=1)
    rank = np.empty_like(order)
    np.put_along_axis(rank, order, np.broadcast_to(np.arange(1, days + 1), order.shape), axis=1)
    wet = np.where(hourly.any(), part, 0.5 * (part + before)) >= WET_PART
    return RainDays(np.where(usable, rank, np.nan), residual, base, wet, known)


def rank_gain(days: RainDays, case: Case, onsets: Onsets) -> tuple[Floats, Floats]:
    """Weigh wet days above, and below, the others from each onset on.

    Returns
    -------
    above : float64, shape (n, 1 + SPANS)
        Log-likelihood of more counts in the wet since the onset against no part of the rain. [nat]
    below : float64, shape (n,)
        The same of fewer counts, from the first day on. [nat]

    Raises
    ------
    Never raises.

    Source
    ------
    Rank sum of the wet days (Wilcoxon) as a normal deviate, its spread widened for days that follow each other; under
    an effect any deviate up to the greatest that the ranks allow is as likely.
    """
    n, width = days.rank.shape
    usable = ~np.isnan(days.rank)
    total = usable.sum(axis=1).astype(float)
    day_us = case.scan.calendar.start_us + np.arange(width) * DAY_US
    wet = usable & days.wet[None, :]
    wet_rank = np.where(wet, days.rank, 0.0)
    tail_rank = np.concatenate((np.cumsum(wet_rank[:, ::-1], axis=1)[:, ::-1], np.zeros((n, 1))), axis=1)
    tail_count = np.concatenate((np.cumsum(wet[:, ::-1], axis=1)[:, ::-1], np.zeros((n, 1))), axis=1)
    first = np.searchsorted(day_us, onsets.at_us.ravel()).reshape(onsets.at_us.shape)
    first[:, 0] = 0
    first = np.minimum(first, width)
    row = np.arange(n)[:, None]
    count, sums = tail_count[row, first], tail_rank[row, first]
    others = total[:, None] - count
    mean = count * (total[:, None] + 1) / 2
    spread = np.sqrt(np.maximum(count * others * (total[:, None] + 1) / 12, 1e-9))
    z = np.sqrt(INDEPENDENT) * (sums - mean) / spread
    most = np.sqrt(INDEPENDENT) * count * others / 2 / spread
    enough = (count >= LEAST_WET) & (others >= LEAST_DRY)

    def told(deviate: Floats) -> Floats:
        # Mean of exp(m z - m^2 / 2) over effects m from nothing to the most: the ratio of normal densities.
        reach = np.maximum(most, 0.5)
        mass = np.exp(log_ndtr(reach - deviate)) - np.exp(log_ndtr(-deviate))
        return 0.5 * deviate**2 + 0.919 + np.log(np.maximum(mass, 1e-30)) - np.log(reach)

    # All wet days above all others: chance does that once in so many orders, far seldomer than the deviate says.
    whole = enough & (sums >= count * (2 * total[:, None] - count + 1) / 2 - 0.5)
    orders = gammaln(total[:, None] + 1) - gammaln(count + 1) - gammaln(others + 1)
    value = np.where(enough, told(z), 0.0)
    value = np.where(whole, np.maximum(value, INDEPENDENT * orders - 1.2), value)
    # Use that follows the rain by itself does so a little; what doubles in the wet is no habit.
    size, error = wet_over_dry(days)
    wide = np.hypot(HABIT_NAT, error)
    habit = 0.4 * FAULT_REACH_NAT / wide * np.exp(-0.5 * (size / wide) ** 2)
    odd = np.log(ODD_SHARE) + np.log(np.maximum(habit, 1e-12))
    above = value - np.logaddexp(np.log(1 - ODD_SHARE), odd + value[:, 0])[:, None]
    below = np.where(enough[:, 0], told(-z)[:, 0], 0.0)
    return above, below - np.logaddexp(np.log(1 - ODD_SHARE), odd + below)


def wet_over_dry(days: RainDays) -> tuple[Floats, Floats]:
    """Return the log of wet days' volume over their dry base, and its error; (n,) [nat]."""
    wet = ~np.isnan(days.residual) & days.wet[None, :]
    count = wet.sum(axis=1)
    volume = np.where(wet, np.maximum(days.base + np.nan_to_num(days.residual), 0.0) ** 2, 0.0).sum(axis=1)
    base = np.where(wet, days.base**2, 0.0).sum(axis=1)
    size = np.log((volume + 0.02 * count + 1e-6) / (base + 0.02 * count + 1e-6))
    return size, 0.5 / np.sqrt(np.maximum(count, 1))


def wet_excess(days: RainDays, case: Case) -> Floats:
    """Return the share of the volume that wet days hold beyond their dry base, nan where not known; (n,) [-]."""
    wet = ~np.isnan(days.residual) & days.wet[None, :]
    # Roots were ranked: (b + r)^2 - b^2 is the volume beyond the base, in shares of the mean.
    over = np.maximum(np.nan_to_num(days.residual), 0.0)
    beyond = np.where(wet, over * (2 * days.base + over), 0.0)
    count = (~np.isnan(days.residual)).sum(axis=1)
    return np.where(count > 0, beyond.sum(axis=1) / np.maximum(count, 1), np.nan)
