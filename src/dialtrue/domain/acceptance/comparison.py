"""Groups held against each other, exactly: how often chance alone parts two counts so far, and where it keeps one."""

from __future__ import annotations

import math
from collections.abc import Sequence

from dialtrue.domain.acceptance.chance import at_most, counts_fit


def two_sided_chance(bad: int, inspected: int, other_bad: int, other_inspected: int) -> float:
    """Return how often two groups of one common share part at least as far as these, either way.

    Parameters
    ----------
    bad, inspected, other_bad, other_inspected : int
        Bad units and units looked at in each group. [units]

    Returns
    -------
    float
        Sum of the chances of every split of the bad units that is no likelier than this one. [-, 0..1]

    Raises
    ------
    MoreDefectsThanInspected

    Source
    ------
    ``FISHER-EXACT``.

    Examples
    --------
    >>> round(two_sided_chance(9, 60, 3, 180), 5), round(two_sided_chance(3, 60, 0, 60), 2)
    (0.00027, 0.24)
    """
    ways = _splits(bad, inspected, other_bad, other_inspected)
    return sum(each for each in ways.values() if each <= ways[bad]) / sum(ways.values())


def stratified_chance(strata: Sequence[tuple[int, int, int, int]]) -> float:
    """Return the same with kinds of site held apart: each group is held only against others of its own kind.

    Parameters
    ----------
    strata : sequence of (int, int, int, int)
        For each kind: bad and inspected of the group, bad and inspected of the others. [units]

    Returns
    -------
    float
        Given the bad units of each kind, the sum of the chances of every number of bad units of the group, all kinds
        together, that is no likelier than this one. With one kind it is ``two_sided_chance``. [-, 0..1]

    Raises
    ------
    MoreDefectsThanInspected

    Source
    ------
    ``FISHER-EXACT``, its distribution added up over the kinds.

    Examples
    --------
    >>> round(stratified_chance([(9, 60, 3, 180)]), 5), round(stratified_chance([(9, 30, 3, 10), (0, 30, 0, 170)]), 2)
    (0.00027, 1.0)
    """
    ways, found = {0: 1}, 0
    for bad, inspected, other_bad, other_inspected in strata:
        found += bad
        here = _splits(bad, inspected, other_bad, other_inspected)
        added: dict[int, int] = {}
        for before, count in ways.items():
            for k, each in here.items():
                added[before + k] = added.get(before + k, 0) + count * each
        ways = added
    return sum(each for each in ways.values() if each <= ways[found]) / sum(ways.values())


def _splits(bad: int, inspected: int, other_bad: int, other_inspected: int) -> dict[int, int]:
    """Return in how many ways the bad units of two groups fall so that the first has each number of them."""
    counts_fit(bad, inspected)
    counts_fit(other_bad, other_inspected)
    total = bad + other_bad
    return {
        k: math.comb(inspected, k) * math.comb(other_inspected, total - k)
        for k in range(max(0, total - other_inspected), min(inspected, total) + 1)
    }


def limits(inspected: int, share: float, *, outside: float) -> tuple[float, float]:
    """Return between which shares a group of ``inspected`` lies, if its true share is ``share``.

    Parameters
    ----------
    inspected : int
        Units looked at. [units, >= 1]
    share : float
        Common share of bad units. [-, 0..1]
    outside : float
        Chance of lying outside, both sides together. [-, 0 < outside < 1]

    Returns
    -------
    tuple
        Lower and upper limit, set between whole counts by the exact chances so that a curve of them is smooth.

    Raises
    ------
    Never raises.

    Source
    ------
    ``FUNNEL-PLOT``: exact binomial limits, interpolated.

    Examples
    --------
    >>> [round(end, 3) for end in limits(60, 0.05, outside=0.05)]
    [0.0, 0.104]
    """
    if share <= 0.0 or share >= 1.0:
        return share, share
    ends = []
    for tail in (outside / 2.0, 1.0 - outside / 2.0):
        count = _quantile(inspected, share, tail)
        here, before = at_most(count, inspected, share), at_most(count - 1, inspected, share)
        ends.append(min(1.0, max(0.0, (count - (here - tail) / (here - before)) / inspected)))
    return ends[0], ends[1]


def _quantile(size: int, share: float, tail: float) -> int:
    """Return the least count whose chance of not being passed reaches ``tail``."""
    low, high = 0, size
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if at_most(middle, size, share) >= tail else (middle + 1, high)
    return low
