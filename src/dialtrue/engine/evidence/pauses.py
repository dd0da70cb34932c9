"""How long a sound place pauses: its volume as a gamma process, absences of its people, and the odd irregular user.

A pause is a stretch in which the index does not move. Rates are per day, lengths in days.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit
from scipy.special import gammainc, gammaln

from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.fleet import Floats
from dialtrue.engine.parts import over_parts
from dialtrue.engine.scan_kernel import DAY_US

ABSENCE = ((1 / 90.0, 1.0, 1.2), (1 / 900.0, 2.0, 4.0))
"""Absences of a home: rate [1/day], shape and scale of a gamma length [day]. A night or a weekend away each quarter; in
one place of nine a holiday of eight days in the mean each quarter. Our assumption."""
NIGHT_DAYS = 0.33
"""A pause this long is a night's sleep. Our assumption."""
MOST_STARTS = 6.0
"""Pauses that can start in a day at the most. Our assumption: a home has a handful of busy spells."""
UNKNOWN_USE_L_DAY = 300.0
"""Use of a place of which nothing is known, for an index that never moved. Our assumption."""
LOOSE = 0.7
"""Share of the day-to-day steadiness that is trusted: weeks differ more than days do. Our assumption."""


@dataclass(slots=True)
class Pace:
    """``per_day`` pulses a day while in use, ``mean_per_day`` over all days, ``shape`` of a day's gamma volume (n,).

    ``step_days`` (n,) is the usual time between reads, ``days`` (n,) the time watched.
    """

    per_day: Floats
    mean_per_day: Floats
    shape: Floats
    step_days: Floats
    days: Floats


def pace_of(case: Case) -> Pace:
    """Return each port's own pace, from its history where the index never moved.

    The scatter is that of neighbouring days' square roots, which one catch-up or one holiday hardly touches.
    """
    fleet, scan, figures = case.fleet, case.scan, case.scan.figures
    grain = grain_of(case)
    days = np.maximum(case.days, 0.05)
    step = figures["step_us_total"] / np.maximum(figures["n"] - 1, 1) / DAY_US
    pulses = np.maximum(np.abs(figures["walk"]), figures["forward"]) / grain
    kept = np.maximum(scan.freeze[:, :, 1] - scan.freeze[:, :, 3] - scan.freeze[:, :, 0], 0).sum(axis=1) / DAY_US
    still = (figures["last_us"] - figures["moved_us"]) / DAY_US
    moving = np.maximum(days - kept - np.where(still > 0.5, still, 0.0), np.maximum(0.05 * days, 0.3))
    with np.errstate(divide="ignore", invalid="ignore"):
        expected = np.where(np.isnan(fleet.use_l_day), UNKNOWN_USE_L_DAY, fleet.use_l_day) / fleet.weight_set_l
    expected = np.where(np.isfinite(expected) & (expected > 0), expected, 1.0)
    never = pulses <= 0
    per_day = np.where(never, expected, pulses / moving)
    mean = np.where(never, expected, pulses / days)
    jumps, pairs = np.zeros(len(mean)), np.zeros(len(mean))
    data = (scan.day_walk, np.maximum(mean * grain, 1e-9), jumps, pairs)
    over_parts(len(mean), lambda begin, end: _day_jumps(*data, begin, end))
    # Few pulses a day scatter by their own grain, which is none of the water's.
    told = np.minimum(mean / 4.0, 1.0)
    count = pairs * told
    # Ten days' worth of a home's usual scatter (a third of its mean) steadies a short series.
    spread = 2 * (jumps * told / 1.128 + 10 * 0.17) / (count + 10)
    shape = np.clip(1.0 / spread**2, 0.4, 8.0)
    return Pace(np.maximum(per_day, 1e-3), np.maximum(mean, 1e-3), np.where(never, 0.6, shape), step, days)


@njit(cache=True, nogil=True)
def _day_jumps(walk, mean, jumps, pairs, begin, end):
    """Fill ``jumps`` (n,), the sum of steps between neighbouring days' roots over the mean's, and their number.

    ``walk`` (n, days) is the index at each day's end; rows from ``begin`` to before ``end`` are looked at.
    """
    for f in range(begin, end):
        last = np.nan
        for d in range(1, walk.shape[1]):
            volume = walk[f, d] - walk[f, d - 1]
            root = math.sqrt(max(volume, 0.0) / mean[f]) if not math.isnan(volume) else np.nan
            if not math.isnan(root) and not math.isnan(last):
                jumps[f] += abs(root - last)
                pairs[f] += 1.0
            last = root


def grain_of(case: Case) -> Floats:
    """Return counts of the index a pulse, 1 at the least. [count/pulse]"""
    with np.errstate(divide="ignore", invalid="ignore"):
        grain = case.fleet.weight_set_l / case.fleet.quantum_index_l
    return np.where(np.isfinite(grain), np.maximum(grain, 1.0), 1.0)


def no_pulse(length_days: Floats, pace: Pace) -> Floats:
    """Return the chance that a place in use draws less than one pulse in a time; shapes (n,) or (n, m). [-]

    Source
    ------
    Definition of the gamma process: volume over L days is gamma with shape k·L and mean r·L, so the chance is the
    regularised incomplete gamma function P(k·L, k/r). That volumes are gamma is our assumption.
    """
    shape, per_day = LOOSE * pace.shape, pace.per_day
    if length_days.ndim == 2:
        shape, per_day = shape[:, None], per_day[:, None]
    awake = np.maximum(length_days - NIGHT_DAYS, 0.02)
    return np.asarray(gammainc(shape * awake, shape / per_day))


def starts(pace: Pace) -> Floats:
    """Return pauses that start in a day of use. [1/day]"""
    return np.minimum(pace.per_day, MOST_STARTS)


def longer(length_days: Floats, pace: Pace) -> Floats:
    """Return the rate of a sound place's pauses longer than a time, absences included; (n,) or (n, m). [1/day]"""
    rate = starts(pace)
    own = (rate[:, None] if length_days.ndim == 2 else rate) * no_pulse(length_days, pace)
    return own + absent_longer(length_days) + 1e-12


def absent_longer(length_days: Floats) -> Floats:
    """Return the rate of absences longer than a time. [1/day]"""
    (short, _, short_mean), (long, _, scale) = ABSENCE
    x = length_days / scale
    out: Floats = short * np.exp(-length_days / short_mean) + long * (1.0 + x) * np.exp(-x)
    return out


def density(length_days: Floats, pace: Pace) -> Floats:
    """Return the rate of pauses of just this length, by the slope of ``longer``. [1/day²]"""
    width = np.maximum(0.02 * length_days, 0.01)
    slope = (longer(length_days, pace) - longer(length_days + width, pace)) / width
    return np.maximum(slope, 1e-12)


def negative_binomial(count: Floats, mean: Floats, shape: Floats) -> Floats:
    """Return the log-probability of a count whose rate is gamma with this mean and shape. [nat]

    Parameters
    ----------
    count : float64
        Whole pulses. [pulse, >= 0]
    mean, shape : float64
        Mean count and the gamma's shape. [pulse, > 0; -, > 0]

    Returns
    -------
    float64
        The Gamma-Poisson predictive.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition; held against ``scipy.stats.nbinom`` by the tests.

    Examples
    --------
    >>> round(float(negative_binomial(np.array(0.0), np.array(2.0), np.array(1.0))), 4)
    -1.0986
    """
    out: Floats = (
        gammaln(count + shape) - gammaln(shape) - gammaln(count + 1)
        + shape * np.log(shape / (shape + mean)) + count * np.log(mean / (shape + mean))
    )  # fmt: skip
    return out
