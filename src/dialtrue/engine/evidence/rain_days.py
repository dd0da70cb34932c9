"""Wet days against dry ones by rank: how far counts rise or fall with the rain, whatever they clump into.

Counts of damp come in clumps, so a Poisson figure would be far too sure. The rank of the days is honest: if nine wet
days of thirty hold the nine highest counts, chance does that once in C(30, 9) = 14,307,150 draws.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln, log_ndtr

from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.evidence.rain_kernel import beyond_dry_days, fill_roots, put_ranks, sum_wet_ranks
from dialtrue.engine.evidence.town_days import town_days
from dialtrue.engine.fleet import Floats
from dialtrue.engine.onsets import Onsets
from dialtrue.engine.parts import over_parts

WET_PART = 0.4
"""A day with this part of its hours wet is a wet day. Our assumption."""
RAIN_PART = 0.125
"""A day in this part of whose hours rain fell is a day of rain: three hours. Our assumption."""
TOWN_PORTS = 40
"""Ports from which the town's own day is taken out. Our assumption."""
LEAST_WET, LEAST_DRY = 3, 8
"""Days of each kind needed. Our assumption."""
INDEPENDENT = 0.6
"""Share of days that are draws of their own: wet days come in spells. Our assumption."""
HABIT_NAT, FAULT_REACH_NAT = 0.15, 4.0
"""Spread of a natural rise or fall of use with rain, and how far damp may raise the counts, any size as likely. Our
assumption. [nat]"""
AT_ONCE = 256
"""Ports whose days are ranked at once."""
ODD_SHARE = 0.05
"""Share of sound places whose use follows the rain by itself: car washes, wet boots, sump pumps fed by the tap. Our
assumption."""


@dataclass(slots=True)
class RainDays:
    """``sums`` (n, 6) are those of ``put_ranks``; ``count`` and ``ranks`` (n, 1 + SPANS) the wet days ranked from each
    onset on, and the sum of their ranks; ``wet`` (days,) wet, ``known`` (days,) weather known. ``fall`` is the same of
    the days on which rain fell: a splice that dries within hours knows nothing of the days after. None where the hours
    of rain are not known, or are the same days."""

    sums: Floats
    count: Floats
    ranks: Floats
    wet: NDArray[np.bool_]
    known: NDArray[np.bool_]
    fall: RainDays | None = None


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
    walk, moved_us = case.scan.day_walk, np.ascontiguousarray(case.scan.figures["moved_us"])
    level, fresh = np.zeros(walk.shape), np.zeros(walk.shape, np.bool_)
    data = (walk, moved_us, case.scan.calendar.start_us, level, fresh)
    over_parts(len(walk), lambda begin, end: fill_roots(*data, begin, end))
    level /= town_days(level, fresh, least_ports=TOWN_PORTS, every=max(len(level) // 3000, 1))
    return level, fresh


def rank_days(case: Case, onsets: Onsets) -> RainDays:
    """Rank each port's days by what they hold beyond the dry days around them, the town's own day taken out."""
    level, fresh = day_roots(case)
    part, known = wet_part(case)
    hourly = case.scan.day_steps.sum(axis=1) > 0
    before = np.concatenate((part[:1], part[:-1]))
    # A day's one read at breakfast tells mostly of the day before.
    wet_of = np.stack((0.5 * (part + before), part))
    dry = wet_of < 0.5 * WET_PART
    wet = wet_of[int(hourly.any())] >= WET_PART
    raining = _rain_days(case)
    falls = None if raining is None or (raining == wet).all() or raining.sum() < LEAST_WET else raining
    n, days = level.shape
    # Coarse pulses tie: the day's number breaks ties by no rule that rain knows.
    noise = ((np.arange(days) * 0.618034) % 1.0) * 1e-6
    at_us, start_us = np.ascontiguousarray(onsets.at_us), case.scan.calendar.start_us
    sums, count, ranks = np.zeros((n, 6)), np.empty(at_us.shape), np.empty(at_us.shape)
    of_fall = None if falls is None else (np.zeros((n, 6)), np.empty(at_us.shape), np.empty(at_us.shape))
    per_hour = hourly.view(np.int8)

    def rows(begin: int, end: int) -> None:
        # A few hundred ports at a time stay in the processor's own memory.
        residual, base, key, rank = (np.empty((AT_ONCE, days)) for _ in range(4))
        for first in range(begin, end, AT_ONCE):
            last = min(first + AT_ONCE, end)
            beyond_dry_days(level, fresh, known, dry, per_hour, noise, residual, base, key, first, last)
            order = np.argsort(key[: last - first], axis=1)
            put_ranks(order, residual, base, wet, rank, sums, first, last)
            sum_wet_ranks(rank, wet, at_us, start_us, count, ranks, first, last)
            if of_fall is not None:
                put_ranks(order, residual, base, falls, rank, of_fall[0], first, last)
                sum_wet_ranks(rank, falls, at_us, start_us, *of_fall[1:], first, last)

    over_parts(n, rows)
    fall = None if of_fall is None or falls is None else RainDays(*of_fall, falls, known)
    return RainDays(sums, count, ranks, wet, known, fall)


def _rain_days(case: Case) -> NDArray[np.bool_] | None:
    """Return the days on which rain fell for some hours; (days,)."""
    raining = case.scan.calendar.raining
    return None if raining is None else (raining.reshape(-1, 24) == 1).mean(axis=1) >= RAIN_PART


def rank_gain(days: RainDays) -> tuple[Floats, Floats]:
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
    if days.fall is not None:
        # Nobody knows how fast a splice dries: both kinds of day are as likely to be what it follows.
        long, short = (rank_gain(each) for each in (dataclasses.replace(days, fall=None), days.fall))
        both = [np.logaddexp(one, other) - np.log(2.0) for one, other in zip(long, short, strict=True)]
        return both[0], both[1]
    size, error = wet_over_dry(days)
    above, below = np.empty(days.count.shape), np.empty(len(days.count))

    def rows(begin: int, end: int) -> None:
        part = slice(begin, end)
        told = _gain(days.sums[part, 0], days.count[part], days.ranks[part], size[part], error[part])
        above[part], below[part] = told

    over_parts(len(below), rows)
    return above, below


def _gain(total: Floats, count: Floats, sums: Floats, size: Floats, error: Floats) -> tuple[Floats, Floats]:
    """Return ``above`` and ``below`` of ``rank_gain`` for ``total`` ranks of which ``count`` wet ones make ``sums``."""
    others = total[:, None] - count
    mean = count * (total[:, None] + 1) / 2
    spread = np.sqrt(np.maximum(count * others * (total[:, None] + 1) / 12, 1e-9))
    z = np.sqrt(INDEPENDENT) * (sums - mean) / spread
    most = np.sqrt(INDEPENDENT) * count * others / 2 / spread
    enough = (count >= LEAST_WET) & (others >= LEAST_DRY)

    def told(deviate: Floats, most: Floats) -> Floats:
        # Mean of exp(m z - m^2 / 2) over effects m from nothing to the most: the ratio of normal densities.
        reach = np.maximum(most, 0.5)
        mass = np.exp(log_ndtr(reach - deviate)) - np.exp(log_ndtr(-deviate))
        return 0.5 * deviate**2 + 0.919 + np.log(np.maximum(mass, 1e-30)) - np.log(reach)

    # All wet days above all others: chance does that once in so many orders, far seldomer than the deviate says.
    whole = enough & (sums >= count * (2 * total[:, None] - count + 1) / 2 - 0.5)
    value = np.where(enough, told(z, most), 0.0)
    if whole.any():
        wet, rest = count[whole], others[whole]
        orders = gammaln(wet + rest + 1) - gammaln(wet + 1) - gammaln(rest + 1)
        value[whole] = np.maximum(value[whole], INDEPENDENT * orders - 1.2)
    # Use that follows the rain by itself does so a little; what doubles in the wet is no habit.
    wide = np.hypot(HABIT_NAT, error)
    habit = 0.4 * FAULT_REACH_NAT / wide * np.exp(-0.5 * (size / wide) ** 2)
    odd = np.log(ODD_SHARE) + np.log(np.maximum(habit, 1e-12))
    above = value - np.logaddexp(np.log(1 - ODD_SHARE), odd + value[:, 0])[:, None]
    below = np.where(enough[:, 0], told(-z[:, 0], most[:, 0]), 0.0)
    return above, below - np.logaddexp(np.log(1 - ODD_SHARE), odd + below)


def wet_over_dry(days: RainDays) -> tuple[Floats, Floats]:
    """Return the log of wet days' volume over their dry base, and its error; (n,) [nat]."""
    count, volume, base = days.sums[:, 1], days.sums[:, 2], days.sums[:, 3]
    size = np.log((volume + 0.02 * count + 1e-6) / (base + 0.02 * count + 1e-6))
    return size, 0.5 / np.sqrt(np.maximum(count, 1))


def wet_excess(days: RainDays) -> Floats:
    """Return the share of the volume that wet days hold beyond their dry base, nan where not known; (n,) [-]."""
    count, beyond = days.sums[:, 0], days.sums[:, 4]
    return np.where(count > 0, beyond / np.maximum(count, 1), np.nan)
