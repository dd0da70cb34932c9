"""How far an index moves while a dial moves: exact chances over the phases that nobody sees."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Final

Chances = dict[int, float]
"""Chance of each whole number, those of chance nought left out; the sum is 1 within rounding."""

_LEAST_CHANCE: Final = 1e-15


def pulse_chances(drawn_l: Fraction, dial_step_l: Fraction, weight_l: Fraction) -> Chances:
    """Return how many pulses a draw gives.

    Parameters
    ----------
    drawn_l : Fraction
        Dial after less dial before. [L, >= 0]
    dial_step_l : Fraction
        Smallest step that is read on the dial. [L, > 0]
    weight_l : Fraction
        Volume per pulse. [L, > 0]

    Returns
    -------
    dict of int to float
        N = floor((V + phase) / weight), where V lies within one dial step of the difference (triangular, for the dial
        stood at an unknown place between two steps both times) and the phase is anywhere in one pulse.

    Raises
    ------
    Never raises for arguments in range.

    Notes
    -----
    V + phase is the sum of three uniform numbers, so its distribution is a spline of third degree in closed form.

    Source
    ------
    Counting model: models, section 3 (``COUNT-MODEL``). Closed form of the sum: derived here.

    Examples
    --------
    >>> sorted(pulse_chances(Fraction(100), Fraction(1), Fraction(10)))
    [9, 10, 11]
    """
    least = max(drawn_l - dial_step_l, Fraction(0))
    first = math.floor(least / weight_l)
    last = math.floor((drawn_l + dial_step_l + weight_l) / weight_l)
    start = float(drawn_l - dial_step_l)
    step, weight = float(dial_step_l), float(weight_l)
    below = [_below(number * weight - start, step, weight) for number in range(first, last + 2)]
    below[0] = 0.0  # a draw never takes water back
    found = {first + place: below[place + 1] - below[place] for place in range(len(below) - 1)}
    return {number: chance for number, chance in found.items() if chance > _LEAST_CHANCE}


def _below(x: float, step: float, weight: float) -> float:
    """Return the chance that two uniform numbers up to ``step`` and one up to ``weight`` add to less than x."""
    if x <= 0.0:
        return 0.0
    if x >= 2.0 * step + weight:
        return 1.0
    corners = ((0.0, 1), (step, -2), (2.0 * step, 1), (weight, -1), (step + weight, 2), (2.0 * step + weight, -1))
    cubes = math.fsum(sign * (x - corner) ** 3 for corner, sign in corners if x > corner)
    return min(1.0, max(0.0, cubes / (6.0 * step * step * weight)))


def step_chances(pulses: Chances, counted_l: Fraction, index_step_l: Fraction) -> Chances:
    """Return how many of its own steps the index moves for so many pulses.

    Parameters
    ----------
    pulses : dict of int to float
        From ``pulse_chances``.
    counted_l : Fraction
        Volume that the index adds for each pulse: the weight that the endpoint was told, times the pulses it counts
        for each. [L, >= 0]
    index_step_l : Fraction
        Value of the index's least digit. [L, > 0]

    Returns
    -------
    dict of int to float
        Where a pulse is a whole number of steps, just that; otherwise the part of a step that the index already held
        is anywhere.

    Raises
    ------
    Never raises for arguments in range.

    Source
    ------
    ``COUNT-MODEL``.

    Examples
    --------
    >>> step_chances({3: 1.0}, Fraction(10), Fraction(1))
    {30: 1.0}
    >>> step_chances({3: 1.0}, Fraction(1, 10), Fraction(1))
    {0: 0.7, 1: 0.3}
    """
    found: dict[int, float] = {}
    for number, chance in pulses.items():
        moved = number * counted_l / index_step_l
        whole = math.floor(moved)
        over = 0.0 if (counted_l / index_step_l).denominator == 1 else float(moved - whole)
        for steps, share in ((whole, 1.0 - over), (whole + 1, over)):
            if share > 0.0:
                found[steps] = found.get(steps, 0.0) + chance * share
    return found


def band_holding(chances: Chances, *, share: float) -> tuple[int, int]:
    """Return the least and the greatest number of a band that holds at least ``share``, tails cut alike.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> band_holding({9: 0.004, 10: 0.992, 11: 0.004}, share=0.99)
    (10, 10)
    """
    tail = (1.0 - share) / 2.0
    numbers = sorted(chances)
    low, under = 0, 0.0
    while under + chances[numbers[low]] <= tail:
        under += chances[numbers[low]]
        low += 1
    high, over = len(numbers) - 1, 0.0
    while over + chances[numbers[high]] <= tail:
        over += chances[numbers[high]]
        high -= 1
    return numbers[low], numbers[high]


def share_within(chances: Chances, band: tuple[int, int]) -> float:
    """Return the chance of falling into a band, its ends included. Never raises.

    Source
    ------
    Definition.
    """
    return math.fsum(chance for number, chance in chances.items() if band[0] <= number <= band[1])
