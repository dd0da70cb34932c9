"""Chances of a sample, exact: what a plan lets pass, how few must be looked at, how wide the interval of a share is."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction
from typing import Final

from dialtrue.domain.errors.sample import BadShare, MoreDefectsThanInspected

_HALVINGS: Final = 60
"""Halvings of an interval of length one: the bound is then true to the last digits of a float."""


def acceptance_chance(lot_size: int, bad: int, *, size: int, accept: int) -> float:
    """Return the chance that a lot is accepted.

    Parameters
    ----------
    lot_size, bad : int
        Units in the lot and bad ones among them. [units, 0 <= bad <= lot_size]
    size, accept : int
        Units drawn, and the greatest number of bad ones to accept. A sample beyond the lot is the lot. [units, >= 0]

    Returns
    -------
    float
        Hypergeometric, from whole numbers, rounded once. [-, 0..1]

    Raises
    ------
    MoreDefectsThanInspected
        ``bad`` exceeds the lot.

    Source
    ------
    Definition: drawing without putting back.

    Examples
    --------
    >>> round(acceptance_chance(500, 20, size=50, accept=1), 2)
    0.39
    """
    if not 0 <= bad <= lot_size:
        raise MoreDefectsThanInspected(bad=bad, inspected=lot_size)
    size = min(size, lot_size)
    least = max(0, size - (lot_size - bad))
    ways = sum(
        math.comb(bad, found) * math.comb(lot_size - bad, size - found)
        for found in range(least, min(accept, bad, size) + 1)
    )
    return ways / math.comb(lot_size, size)


def bad_at_chance(lot_size: int, *, size: int, accept: int, chance: float) -> int:
    """Return the least number of bad units at which a lot is accepted no more often than ``chance``; see the above.

    Never raises for a plan of this package. The chance falls as the number rises, so that halving finds it.

    Source
    ------
    Definition.

    Examples
    --------
    >>> bad_at_chance(500, size=50, accept=1, chance=0.10)
    37
    """
    low, high = 0, lot_size
    while low < high:
        middle = (low + high) // 2
        if acceptance_chance(lot_size, middle, size=size, accept=accept) <= chance:
            high = middle
        else:
            low = middle + 1
    return low


def zero_plan_size(lot_size: int | None, share: Fraction, *, confidence: Fraction = Fraction(95, 100)) -> int:
    """Return how many units must be found good so that fewer than a share of the lot are bad.

    Parameters
    ----------
    lot_size : int or None
        Units in the lot; None for one without end. [units, >= 1]
    share : Fraction
        Share to stay below. [-, 0 < share < 1]
    confidence : Fraction
        How sure to be: the chance of a clean sample from a lot with that share is at most the rest. [-, 0 < c < 1]

    Returns
    -------
    int
        At most ``lot_size``.

    Raises
    ------
    BadShare
        ``share``, ``confidence`` or ``lot_size`` out of range.

    Source
    ------
    Definition: hypergeometric chance of no bad unit; binomial for a lot without end.

    Examples
    --------
    >>> [zero_plan_size(500, Fraction(percent, 100)) for percent in (5, 2, 1)]
    [56, 129, 225]
    >>> [zero_plan_size(None, Fraction(percent, 100)) for percent in (5, 2, 1)]
    [59, 149, 299]
    """
    for what, value in (("the share to prove", share), ("the confidence", confidence)):
        if not 0 < value < 1:
            raise BadShare(what=what, value=value, expected="a share above 0 and below 100 %")
    if lot_size is None:
        size = max(1, math.floor(math.log(1 - confidence) / math.log(1 - share)) - 1)
        while (1 - share) ** size > 1 - confidence:
            size += 1
        return size
    if lot_size < 1:
        raise BadShare(what="the size of the lot", value=lot_size, expected="a whole number from 1")
    bad = math.ceil(share * lot_size)
    low, high = 1, min(lot_size, zero_plan_size(None, share, confidence=confidence))  # without end asks for most
    while low < high:
        middle = (low + high) // 2
        clean = Fraction(math.comb(lot_size - bad, middle), math.comb(lot_size, middle))
        low, high = (low, middle) if clean <= 1 - confidence else (middle + 1, high)
    return low


def share_proved(lot_size: int, size: int, *, accept: int = 0, confidence: float = 0.95) -> float:
    """Return the share that an accepted sample shows the lot to lie below. Never raises for a plan of this package.

    Source
    ------
    Definition: the least share of bad units from which a lot is accepted no more often than 1 - ``confidence``.

    Examples
    --------
    >>> share_proved(500, 56)
    0.05
    """
    bad = bad_at_chance(lot_size, size=size, accept=accept, chance=1 - confidence)
    return bad / lot_size if lot_size else 0.0


def at_most(found: int, size: int, share: float) -> float:
    """Return the binomial chance of at most ``found`` in ``size``. [-, 0..1] Never raises for 0 <= share <= 1.

    Source
    ------
    Definition; terms by logarithms, added without loss.

    Examples
    --------
    >>> round(at_most(0, 59, 0.05), 4)
    0.0485
    """
    if found < 0:
        return 0.0
    if found >= size or share <= 0.0:
        return 1.0
    if share >= 1.0:
        return 0.0
    return min(1.0, math.fsum(_terms(range(found + 1), size, share)))


def at_least(found: int, size: int, share: float) -> float:
    """Return the binomial chance of at least ``found`` in ``size``, small ones kept. [-, 0..1] Never raises.

    Source
    ------
    Definition; see ``at_most``.

    Examples
    --------
    >>> at_least(0, 10, 0.5), round(at_least(10, 10, 0.5), 6)
    (1.0, 0.000977)
    """
    if found <= 0 or share >= 1.0:
        return 1.0 if found <= size else 0.0
    if found > size or share <= 0.0:
        return 0.0
    return min(1.0, math.fsum(_terms(range(found, size + 1), size, share)))


def _terms(counts: range, size: int, share: float) -> list[float]:
    """Return the binomial chance of each count."""
    log, other, whole = math.log(share), math.log1p(-share), math.lgamma(size + 1)
    return [
        math.exp(whole - math.lgamma(k + 1) - math.lgamma(size - k + 1) + k * log + (size - k) * other) for k in counts
    ]


def exact_interval(bad: int, inspected: int, *, confidence: float = 0.95) -> tuple[float, float]:
    """Return the exact interval of a share, each tail at most half of what is left of certainty.

    Parameters
    ----------
    bad, inspected : int
        Bad units and units looked at. [units, 0 <= bad <= inspected]
    confidence : float
        How often such an interval holds the true share, at least. [-, 0 < c < 1]

    Returns
    -------
    tuple
        Lower and upper end; (0, 1) where nothing was looked at. [-, 0..1]

    Raises
    ------
    MoreDefectsThanInspected

    Source
    ------
    ``CLOPPER-PEARSON``.

    Examples
    --------
    >>> [round(100 * end, 1) for end in exact_interval(3, 50)]
    [1.3, 16.5]
    """
    counts_fit(bad, inspected)
    tail = (1.0 - confidence) / 2.0
    low = _root(lambda share: at_least(bad, inspected, share) < tail) if bad else 0.0
    high = _root(lambda share: at_most(bad, inspected, share) >= tail) if bad < inspected else 1.0
    return low, high


def _root(still_below: Callable[[float], bool]) -> float:
    """Return where a test of a share turns from true to false."""
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if still_below(middle) else (low, middle)
    return (low + high) / 2.0


def score_interval(bad: int, inspected: int, *, z: float = 1.959963984540054) -> tuple[float, float]:
    """Return the interval of a share by the score test; narrower than the exact one, and not always so sure.

    Parameters
    ----------
    bad, inspected : int
        Bad units and units looked at. [units, 0 <= bad <= inspected]
    z : float
        Standard normal deviate; the shipped one is for 95 %. [-, > 0]

    Returns
    -------
    tuple
        Lower and upper end; (0, 1) where nothing was looked at. [-, 0..1]

    Raises
    ------
    MoreDefectsThanInspected

    Source
    ------
    ``WILSON-SCORE``.

    Examples
    --------
    >>> [round(end, 5) for end in score_interval(10, 100)]
    [0.05523, 0.17437]
    """
    counts_fit(bad, inspected)
    if not inspected:
        return 0.0, 1.0
    share, square = bad / inspected, z * z
    middle = (share + square / (2 * inspected)) / (1 + square / inspected)
    half = z * math.sqrt(share * (1 - share) / inspected + square / (4 * inspected**2)) / (1 + square / inspected)
    return (0.0 if not bad else middle - half), (1.0 if bad == inspected else middle + half)


def counts_fit(bad: int, inspected: int) -> None:
    """Raise ``MoreDefectsThanInspected`` where more are bad than were looked at."""
    if not 0 <= bad <= inspected:
        raise MoreDefectsThanInspected(bad=bad, inspected=inspected)
