"""Days in whole-array passes that several blocks make: what the town does on each, and the span each falls in."""

from __future__ import annotations

import numpy as np
from numba import njit

from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.onsets import SPANS, Onsets
from dialtrue.engine.parts import over_parts
from dialtrue.engine.scan_kernel import DAY_US

LEAST_FACTOR, MOST_FACTOR = 0.6, 1.7
"""What a day of the whole town may be of its usual day. Our assumption."""


def town_days(level: Floats, fresh: np.ndarray, *, least_ports: int, every: int) -> Floats:
    """Return what each day is in the town over the usual day, 1 where too few ports tell; (days,) [-].

    Parameters
    ----------
    level : float64, shape (n, days)
        Roots of daily volumes over each port's mean. [-, >= 0]
    fresh : bool, shape (n, days)
        Where a level is known.
    least_ports : int
        Ports that a day needs. [1 or more]
    every : int
        One port in so many is asked. [1 or more]

    Returns
    -------
    float64, shape (days,)

    Raises
    ------
    Never raises.

    Source
    ------
    Median of the ports over the median day; the bounds are our assumption.
    """
    sample, seen = level[::every], fresh[::every]
    enough = seen.sum(axis=0) >= least_ports
    town = np.ones(level.shape[1])
    if not enough.any():
        return town
    sample, seen = np.ascontiguousarray(sample.T), np.ascontiguousarray(seen.T)
    over_parts(len(town), lambda begin, end: _medians(sample, seen, enough, town, begin, end), worth=50)
    middle = max(float(np.median(town[enough])), 1e-6)
    return np.where(enough, np.clip(town / middle, LEAST_FACTOR, MOST_FACTOR), 1.0)


@njit(cache=True, nogil=True)
def _medians(value, seen, wanted, out, begin, end):
    """Fill ``out`` (rows,) with the median of each wanted row's seen values, for rows from ``begin`` to ``end``."""
    for d in range(begin, end):
        if wanted[d]:
            out[d] = np.median(value[d][seen[d]])


def day_spans(first_us: Ints, onsets: Onsets, days: int) -> Ints:
    """Return the span (0 to SPANS - 1) in which each day begins, -1 outside; (n, days).

    Parameters
    ----------
    first_us : int64, shape (n,)
        When each port's first day begins. [µs]
    onsets : Onsets
    days : int
        [0 or more]

    Returns
    -------
    int64, shape (n, days)

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.
    """
    out = np.empty((len(first_us), days), np.int64)
    edge = np.ascontiguousarray(onsets.edge_us)
    over_parts(len(out), lambda begin, end: _spans(first_us, edge, out, begin, end))
    return out


@njit(cache=True, nogil=True)
def _spans(first_us, edge_us, out, begin, end):
    """Fill the rows from ``begin`` to before ``end`` of ``out`` (n, days)."""
    for f in range(begin, end):
        length = max(edge_us[f, -1] - edge_us[f, 0], 1) / SPANS
        for d in range(out.shape[1]):
            span = np.int64(np.floor((first_us[f] - edge_us[f, 0] + d * DAY_US) / length))
            out[f, d] = span if 0 <= span < SPANS else -1
