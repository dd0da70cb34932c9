"""Quantiles of mixtures of normal distributions, one row after another in one compiled pass."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

HALVINGS = 44
"""Halvings of the bracket: ten spreads wide, the quantile is found to a part in 10^12."""


@njit(cache=True, nogil=True)
def mixture_quantiles(share, middle, sd, targets, found, begin, end):
    """Write the quantiles of each row's mixture into ``found`` (n, targets); rows of ``share`` (n, k) sum to 1.

    Rows from ``begin`` to before ``end`` are looked at.
    """
    k = share.shape[1]
    root = 1.0 / math.sqrt(2.0)
    for f in range(begin, end):
        bottom, top = np.inf, -np.inf
        for j in range(k):
            bottom = min(bottom, middle[f, j] - 5.0 * sd[f, j])
            top = max(top, middle[f, j] + 5.0 * sd[f, j])
        for t in range(targets.shape[0]):
            low, high = bottom, top
            for _ in range(HALVINGS):
                guess = 0.5 * (low + high)
                below = 0.0
                for j in range(k):
                    if share[f, j] > 0.0:
                        below += share[f, j] * 0.5 * math.erfc(-(guess - middle[f, j]) / sd[f, j] * root)
                if below < targets[t]:
                    low = guess
                else:
                    high = guess
                if high - low <= 1e-9 * (abs(high) + abs(low)):
                    break
            found[f, t] = 0.5 * (low + high)
