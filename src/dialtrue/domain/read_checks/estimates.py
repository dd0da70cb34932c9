"""The arithmetic of checks and estimates, one figure at a time: what the arrays of the engine are held against."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Final

LIKE_DAYS: Final = (0, 1, 1, 1, 2, 3, 4)
"""Kind of day by weekday, Monday first: Tuesday to Thursday stand in for each other. Source: ``WA-METERING-CODE``."""


def spike(highest: Fraction | int, third: Fraction | int, *, ratio: Fraction | float = Fraction(9, 5)) -> bool:
    """Say whether the highest use of a period fails the spike check.

    Parameters
    ----------
    highest, third : Fraction or int
        The highest and the third-highest use of the period. [one unit, >= 0]
    ratio : Fraction or float
        Greatest (highest - third) / third that passes. [-, > 0]

    Returns
    -------
    bool
        False where the third is zero: nothing can be told.

    Raises
    ------
    Never raises.

    Source
    ------
    ``CA-VEE``, spike check.

    Examples
    --------
    >>> spike(9, 3), spike(Fraction(42, 5), 3)
    (True, False)
    """
    return third > 0 and highest - third > third * Fraction(ratio).limit_denominator(10**9)


def sums_agree(intervals: Fraction, register: Fraction, *, unit: Fraction, units: Fraction | int = 2) -> bool:
    """Say whether the sum of the intervals and the difference of the register agree.

    Parameters
    ----------
    intervals, register : Fraction
        Sum of the interval uses, and what the register moved. [one unit]
    unit : Fraction
        One register unit. [same unit, > 0]
    units : Fraction or int
        Register units by which they may differ. [-, >= 0]

    Returns
    -------
    bool

    Raises
    ------
    Never raises.

    Source
    ------
    ``CA-VEE``, sum check: one to two register units.

    Examples
    --------
    >>> sums_agree(Fraction(1190), Fraction(1000), unit=Fraction(100))
    True
    """
    return abs(intervals - register) <= unit * Fraction(units)


def shared(total: int, weights: Sequence[Fraction | int]) -> list[int]:
    """Share whole counts out by weights so that the shares are whole and their sum is exact.

    Parameters
    ----------
    total : int
        Counts to share. [>= 0]
    weights : sequence of Fraction or int
        One for each share; all zero counts as all alike. [>= 0]

    Returns
    -------
    list of int
        Each the exact share rounded down, the rest one by one to the largest remainders, the earlier first.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition (largest remainders).

    Examples
    --------
    >>> shared(12, [1, 1, 1, 1]), shared(10, [1, 1, 1, 1])
    ([3, 3, 3, 3], [3, 3, 2, 2])
    """
    if not weights:
        return []
    exact = [Fraction(weight) for weight in weights]
    whole = sum(exact, Fraction(0))
    if whole <= 0:
        exact, whole = [Fraction(1)] * len(exact), Fraction(len(exact))
    shares = [total * weight / whole for weight in exact]
    counts = [share.__floor__() for share in shares]
    order = sorted(range(len(shares)), key=lambda k: (counts[k] - shares[k], k))
    for k in order[: total - sum(counts)]:
        counts[k] += 1
    return counts


def between(before: int, after: int, missing: int) -> list[int]:
    """Return the reads on a straight line between two reads.

    Parameters
    ----------
    before, after : int
        The reads at the two ends. [counts, after >= before]
    missing : int
        Reads missing between them, evenly spaced. [>= 0]

    Returns
    -------
    list of int

    Raises
    ------
    Never raises.

    Source
    ------
    ``CA-VEE``, section 4: point-to-point linear interpolation.

    Examples
    --------
    >>> between(100, 112, 3)
    [103, 106, 109]
    """
    reads, at = [], before
    for step in shared(after - before, [1] * (missing + 1))[:-1]:
        at += step
        reads.append(at)
    return reads
