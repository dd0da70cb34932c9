"""Reads and estimates of the same runs laid into one order of port and time."""

from __future__ import annotations

import numpy as np
from numba import njit

from dialtrue.engine.fleet import Ints


def places_of(first: Ints, at_us: Ints, run: Ints, moment_us: Ints) -> tuple[Ints, Ints]:
    """Return where each read and each estimate stands among all, shapes (m,) and (e,).

    Parameters
    ----------
    first, at_us : int64
        Reads in runs, each in order of time.
    run, moment_us : int64, shape (e,)
        Run and moment of each estimate, in order of both.

    Returns
    -------
    tuple
        A read stands before an estimate of the same moment.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.
    """
    of_reads, of_others = np.empty(len(at_us), np.int64), np.empty(len(run), np.int64)
    _merge(first, at_us, run, moment_us, of_reads, of_others)
    return of_reads, of_others


@njit(cache=True, nogil=True)
def _merge(first, at_us, run, moment_us, of_reads, of_others):
    place, e = 0, 0
    for r in range(first.shape[0] - 1):
        for i in range(first[r], first[r + 1]):
            while e < run.shape[0] and run[e] == r and moment_us[e] < at_us[i]:
                of_others[e] = place
                e += 1
                place += 1
            of_reads[i] = place
            place += 1
        while e < run.shape[0] and run[e] == r:
            of_others[e] = place
            e += 1
            place += 1
