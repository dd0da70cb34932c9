"""The chances of a draw by listing every number of pulses: slow, and shares no code with the closed form."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Final

Chances = dict[int, float]
"""Chance of each whole number, those of chance nought left out; the sum is 1 within rounding."""

_LEAST_CHANCE: Final = 1e-15


def pulse_chances(drawn_l: Fraction, dial_step_l: Fraction, weight_l: Fraction) -> Chances:
    """Return how many pulses a draw gives: floor((V + phase) / weight), both spread as the counting model says."""
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
    """Return how many of its own steps the index moves for so many pulses."""
    found: dict[int, float] = {}
    for number, chance in pulses.items():
        moved = number * counted_l / index_step_l
        whole = math.floor(moved)
        over = 0.0 if (counted_l / index_step_l).denominator == 1 else float(moved - whole)
        for steps, share in ((whole, 1.0 - over), (whole + 1, over)):
            if share > 0.0:
                found[steps] = found.get(steps, 0.0) + chance * share
    return found
