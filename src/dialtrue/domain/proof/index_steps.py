"""How far an index moves while a dial moves: exact chances over the phases that nobody sees."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise


@dataclass(frozen=True, slots=True)
class IndexMove:
    """The index after a draw: how many of its own steps it has moved.

    Attributes
    ----------
    drawn_l : Fraction
        Dial after less dial before. [L, >= 0]
    dial_step_l : Fraction
        Smallest step that is read on the dial. [L, > 0]
    weight_l : Fraction
        Volume per pulse. [L, > 0]
    counted_l : Fraction
        Volume that the index adds for each pulse: the weight that the endpoint was told, times the pulses it counts for
        each. [L, >= 0]
    index_step_l : Fraction
        Value of the index's least digit. [L, > 0]

    Notes
    -----
    The water V lies within one dial step of the difference (triangular, for the dial stood at an unknown place between
    two steps both times). It gives floor((V + phase) / weight) pulses, with the phase anywhere in one, so that the mean
    is V / weight exactly. Where a pulse is a whole number of index steps, the index moves just that;
    otherwise the part of a step that it already held is anywhere. Both make the chance of a move a chain of straight
    lines in V with its corners at whole pulses, whose mean over V has a closed form: the work is the same for one pulse
    in a dial step and for a million.

    Source
    ------
    Counting model: models, section 3 (``COUNT-MODEL``). Closed form: derived here.
    """

    drawn_l: Fraction
    dial_step_l: Fraction
    weight_l: Fraction
    counted_l: Fraction
    index_step_l: Fraction

    def at_least(self, steps: int) -> float:
        """Return the chance that the index moves ``steps`` or more. Never raises.

        Source
        ------
        Derived here; see the class.

        Examples
        --------
        >>> ten = IndexMove(Fraction(100), Fraction(1), Fraction(10), Fraction(10), Fraction(1))
        >>> [round(ten.at_least(steps), 3) for steps in (90, 91, 100, 101, 110, 111)]
        [1.0, 0.983, 0.983, 0.017, 0.017, 0.0]
        """
        if steps <= 0:
            return 1.0  # a draw never takes water back
        ratio = self.counted_l / self.index_step_l
        if ratio == 0:
            return 0.0
        first, last = math.floor((steps - 1) / ratio), math.floor(steps / ratio)
        corners = sorted({first, first + 1, last, last + 1})
        chances = [self._given(pulses, steps, ratio) for pulses in corners]
        over = [self._mean_over(pulses) for pulses in corners]
        lines = zip(pairwise(corners), pairwise(chances), pairwise(over), strict=True)
        total = math.fsum(
            (after - before) / (right - left) * (over_left - over_right)
            for (left, right), (before, after), (over_left, over_right) in lines
        )
        return min(1.0, max(0.0, total))

    def within(self, band: tuple[int, int]) -> float:
        """Return the chance of falling into a band, its ends included. Never raises.

        Source
        ------
        Definition.
        """
        return max(0.0, self.at_least(band[0]) - self.at_least(band[1] + 1))

    def band_holding(self, share: float) -> tuple[int, int]:
        """Return the least and the greatest move of a band that holds at least ``share``, tails cut alike.

        Never raises.

        Source
        ------
        Definition.

        Examples
        --------
        >>> IndexMove(Fraction(100), Fraction(1), Fraction(10), Fraction(10), Fraction(1)).band_holding(0.99)
        (90, 110)
        """
        tail = (1.0 - share) / 2.0
        most = (self.drawn_l + self.dial_step_l + self.weight_l) / self.weight_l * self.counted_l / self.index_step_l
        low, high = -1, math.floor(most) + 1
        while high - low > 1:  # the least move up to which more than the tail lies
            middle = (low + high) // 2
            if 1.0 - self.at_least(middle + 1) > tail:
                high = middle
            else:
                low = middle
        least = high
        low, high = 0, math.floor(most) + 2
        while high - low > 1:  # the greatest from which on more than the tail lies
            middle = (low + high) // 2
            if self.at_least(middle) > tail:
                low = middle
            else:
                high = middle
        return least, low

    def _given(self, pulses: int, steps: int, ratio: Fraction) -> float:
        """Return the chance of so many steps or more for a number of pulses."""
        if ratio.denominator == 1:
            return 1.0 if pulses * ratio >= steps else 0.0
        return min(1.0, max(0.0, float(pulses * ratio - (steps - 1))))

    def _mean_over(self, pulses: int) -> float:
        """Return the mean of the water beyond so many pulses, in pulses."""
        step = float(self.dial_step_l / self.weight_l)
        short = float(pulses - (self.drawn_l - self.dial_step_l) / self.weight_l)
        if short <= 0.0:
            return step - short
        if short >= 2.0 * step:
            return 0.0
        return ((2.0 * step - short) ** 3 - 2.0 * max(0.0, step - short) ** 3) / (6.0 * step * step)
