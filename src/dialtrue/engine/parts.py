"""Work on many ports in parts, one for each core: compiled loops let go of the interpreter, so threads are enough."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from typing import TypeVar

WORTH_A_THREAD = 2000
"""Ports from which a second thread pays for itself. Our assumption, measured on two cores."""
MOST_SIDE_BY_SIDE = 100_000
"""Ports up to which jobs run side by side; beyond it the room that their arrays take together counts more than what the
second core would save between compiled loops, which use all cores by themselves. Our assumption."""
_Result = TypeVar("_Result")


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


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
    count = min(_cores(), max(size // worth, 1))
    if count == 1:
        job(0, size)
        return
    edges = [size * part // count for part in range(count + 1)]
    with ThreadPoolExecutor(count) as pool:
        for done in [pool.submit(job, begin, end) for begin, end in pairwise(edges)]:
            done.result()


def side_by_side(jobs: Sequence[Callable[[], _Result]], size: int) -> Iterator[_Result]:
    """Run jobs that do not touch each other's arrays, as many at once as there are cores.

    Parameters
    ----------
    jobs : sequence of callable
    size : int
        Ports that each looks at. [0 or more]

    Yields
    ------
    What the jobs return, in their order.

    Raises
    ------
    Whatever a job raises.

    Source
    ------
    Definition.
    """
    count = min(_cores(), len(jobs))
    if count == 1 or not WORTH_A_THREAD <= size <= MOST_SIDE_BY_SIDE:
        for job in jobs:
            yield job()
        return
    with ThreadPoolExecutor(count) as pool:
        for doing in [pool.submit(job) for job in jobs]:
            yield doing.result()
