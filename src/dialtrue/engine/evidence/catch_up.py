"""What ends a standstill: the first draw after it, or all that passed meanwhile in one step."""

from __future__ import annotations

import numpy as np

from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.evidence.pauses import Pace, grain_of, negative_binomial
from dialtrue.engine.fleet import Floats
from dialtrue.engine.scan_kernel import DAY_US, SHORT_STEP_US, SIZES

SEASON = 0.2
"""Spread of a place's use from one week to another [nat]. Our assumption."""
BROAD_SHARE = 0.003
"""Share of first draws that are like nothing before: a pool filled, a hydrant. Our assumption."""
PART_SHARE = 0.35
"""Share of first days after a pause that hold only a part of a day's use. Our assumption."""
LEAST_CAUGHT = 0.3
"""Least part of what passed that a late index makes up in one step. Our assumption: the rest may lie in the read before
it or after it."""
_LOW = np.array([0, 1, 2, *(2**k + 1 for k in range(1, SIZES - 2))], float)
_WIDTH = np.array([1, 1, 1, *(2**k for k in range(1, SIZES - 2))], float)


def _broad(pulses: Floats) -> Floats:
    """Return a density that is even over the logarithm of ten thousandfold. [1/pulse]"""
    return 1.0 / (np.maximum(pulses, 1.0) * np.log(1e4))


def log_first_draw(pulses: Floats, step_days: Floats, case: Case, pace: Pace) -> Floats:
    """Return the log-probability of the step that ended each standstill, were nothing made up in it; (n, m) [nat].

    Short steps are compared with the port's own short steps by size (the step itself left out), longer ones with its
    pace.
    """
    sizes = case.scan.step_sizes.astype(float)
    size = np.clip(np.searchsorted(_LOW, pulses, side="right") - 1, 1, SIZES - 1)
    row = np.arange(len(sizes))[:, None]
    short = step_days * DAY_US <= SHORT_STEP_US
    own = np.maximum(sizes[row, size] - 1.0, 0.0)
    smaller = np.where(size >= 2, sizes[row, np.maximum(size - 1, 1)], 0.0)
    much_smaller = np.where(size >= 3, sizes[row, np.maximum(size - 2, 1)], 0.0)
    # A size not seen yet is a rare one: a part of what the next smaller sizes were.
    weight = own + 0.1 * smaller + 0.01 * much_smaller + 0.01
    total = sizes[:, 1:].sum(axis=1)[:, None] * 1.11 + 0.01 * SIZES
    width = np.where(size == SIZES - 1, np.maximum(pulses, _LOW[-1]) ** 2 / _LOW[-1], _WIDTH[size])
    seen = np.minimum(weight / total, 1.0) / width
    mean = pace.per_day[:, None] * step_days
    shape = 1.0 / (1.0 / (pace.shape[:, None] * np.maximum(step_days, 1e-3)) + SEASON**2)
    paced = np.exp(negative_binomial(pulses, np.maximum(mean, 1e-6), np.maximum(shape, 1e-3)))
    # People come back in the course of a day, or a visitor opens one tap: any part of the day's pace is as likely.
    part = np.where(pulses <= mean + 1, 1.0 / (mean + 1), 0.0)
    paced = (1 - PART_SHARE) * paced + PART_SHARE * part
    draw = np.where(short, seen, paced)
    out: Floats = np.log((1 - BROAD_SHARE) * draw + BROAD_SHARE * _broad(pulses))
    return out


def log_all_at_once(pulses: Floats, pause_days: Floats, step_days: Floats, pace: Pace) -> Floats:
    """Return the log-probability of the step that ended each standstill, were it all that passed; (n, m) [nat].

    Source
    ------
    Gamma-Poisson predictive of the port's mean pace over the standstill and the step.
    """
    over = np.maximum(pause_days + step_days, 1e-3)
    mean = pace.mean_per_day[:, None] * over
    shape = 1.0 / (1.0 / (pace.shape[:, None] * over) + SEASON**2)
    told = np.exp(negative_binomial(pulses, mean, shape))
    some = np.where((pulses >= LEAST_CAUGHT * mean) & (pulses <= 3 * mean), 1.0 / (2.7 * mean + 1), 1e-9)
    out: Floats = np.log(0.9 * told + 0.1 * some)
    return out


def pulses_of(counts: Floats, case: Case) -> Floats:
    """Return counts of the index as whole pulses, one at the least; (n, m)."""
    out: Floats = np.maximum(np.rint(counts / grain_of(case)[:, None]), 1.0)
    return out
