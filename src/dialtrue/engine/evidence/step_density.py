"""How likely a step of the index is, given the pace of the place: one density for every block that meets one."""

from __future__ import annotations

import math

from numba import njit

STEP_NAT = 0.7
"""Spread of the use in one span against the port's mean [nat]. Our assumption, from household days and weeks."""
WILD_SHARE = 0.2
"""Share of spans in which the use is of another order: away, a pool, a wrong setting. Our assumption."""
ROOT_2PI = math.sqrt(2 * math.pi)


@njit(cache=True, nogil=True)
def step_density(counts, expected):
    """Return the density of a forward step of ``counts`` where ``expected`` > 0 were due [1/count]; 0 if negative.

    A log-normal about what was due, and a tail that falls with the square for spans unlike the others.
    """
    if counts < 0.0:
        return 0.0
    e = max(expected, 1.0)
    s = counts + 0.5
    z = math.log(s / e) / STEP_NAT
    usual = math.exp(-0.5 * z * z) / (s * STEP_NAT * ROOT_2PI)
    return (1.0 - WILD_SHARE) * usual + WILD_SHARE * e / ((e + counts) * (e + counts))


@njit(cache=True, nogil=True)
def near_density(counts, scale):
    """Return the density of a step that is small against ``scale`` but may be any [1/count]; 0 if negative."""
    if counts < 0.0:
        return 0.0
    e = max(scale, 1.0)
    return e / ((e + counts) * (e + counts))
