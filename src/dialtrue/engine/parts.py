"""Work on many ports in parts, one for each core: compiled loops let go of the interpreter, so threads are enough."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise

WORTH_A_THREAD = 2000
"""Ports from which a second thread pays for itself. Our assumption, measured on two cores."""


def over_parts(size: int, job: Callable[[int, int], None], *, worth: int = WORTH_A_THREAD) -> None:
    """Run ``job(begin, end)`` over the rows 0 to ``size`` in as many parts as there are cores.

    Parameters
    ----------
    size : int
        Rows. [0 or more]
    job : callable
        Works on the rows from ``begin`` to before ``end``, and touches no others.
    worth : int
        Rows from which a further thread pays for itself. [1 or more]

    Returns
    -------
    None

    Raises
    ------
    Whatever ``job`` raises.

    Source
    ------
    Definition.
    """
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    count = min(cores, max(size // worth, 1))
    if count == 1:
        job(0, size)
        return
    edges = [size * part // count for part in range(count + 1)]
    with ThreadPoolExecutor(count) as pool:
        for done in [pool.submit(job, begin, end) for begin, end in pairwise(edges)]:
            done.result()
