"""Density of use after over use before, if a fault multiplies it: at given ratios, or at any of a range."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from scipy.special import ndtr

from dialtrue.engine.fleet import Floats

MOVE_SHARE, MOVE_SPREAD = 0.03, 1.0
"""Share of places whose use is no longer what it was, and by how much [nat]. Our assumption."""
ROOT_2PI = math.sqrt(2 * math.pi)


@njit(cache=True, nogil=True)
def at_ratios(z, s, log_ratio, share):
    """Return the density of each log ratio ``z`` (n,), spread ``s`` (n,), if the use is times one of the ratios."""
    out = np.zeros(z.shape[0])
    for i in range(z.shape[0]):
        wide = math.hypot(s[i], MOVE_SPREAD)
        for k in range(log_ratio.shape[0]):
            near, far = (z[i] - log_ratio[k]) / s[i], (z[i] - log_ratio[k]) / wide
            if far * far < 80.0:
                here = MOVE_SHARE * math.exp(-0.5 * far * far) / wide
                if near * near < 80.0:
                    here += (1.0 - MOVE_SHARE) * math.exp(-0.5 * near * near) / s[i]
                out[i] += share[k] * here / ROOT_2PI
    return out


def _mixed(parts: Floats, moved: Floats) -> Floats:
    mixed: Floats = (1.0 - MOVE_SHARE) * parts + MOVE_SHARE * moved
    return mixed


def over_logs(z: Floats, s: Floats, low: float, high: float) -> Floats:
    """Return the density if the log ratio is anywhere from ``low`` to ``high``, evenly.

    Source
    ------
    Convolution of a normal with a uniform density.
    """

    def one(sd: Floats) -> Floats:
        even: Floats = (ndtr((z - low) / sd) - ndtr((z - high) / sd)) / (high - low)
        return even

    return _mixed(one(s), one(np.hypot(s, MOVE_SPREAD)))


def over_shares(z: Floats, s: Floats, low: float, high: float) -> Floats:
    """Return the density if the ratio itself is anywhere from ``low`` to ``high``, evenly.

    Source
    ------
    Convolution of a normal with the density exp(m) / (high - low) of the log ratio m; completing the square.
    """

    def one(sd: Floats) -> Floats:
        a, b = np.log(low), np.log(high)
        tilt = np.exp(np.minimum(z + 0.5 * sd**2, 50.0)) / (high - low)
        even: Floats = tilt * (ndtr((b - z - sd**2) / sd) - ndtr((a - z - sd**2) / sd))
        return even

    return _mixed(one(s), one(np.hypot(s, MOVE_SPREAD)))
