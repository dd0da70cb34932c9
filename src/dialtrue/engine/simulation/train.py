"""The exact chain from volume to index: dial, pulse train, counter. Integers and fractions only.

Volumes are whole microlitres, so that every division below is a division of integers.

Source
------
Definition: N = floor((V + φ) / w); index = floor((S·q_e + w·N) / q_e) mod capacity; dial = floor(V / q_d) mod 10^m_d.
"""

from __future__ import annotations

from fractions import Fraction
from math import lcm

import numpy as np

UL_PER_L = 1_000_000
_SAFE = 2**62


def floor_scaled(counts: np.ndarray, ratio: Fraction, offset: Fraction | int = 0) -> np.ndarray:
    """Return floor(counts · ratio + offset) exactly.

    Parameters
    ----------
    counts : int64, any shape
        Whole numbers, any sign.
    ratio, offset : Fraction
        Exact multiplier and addend.

    Returns
    -------
    int64, same shape

    Raises
    ------
    OverflowError
        A result does not fit 64 bits.

    Notes
    -----
    Works in 64-bit integers where no step can overflow, else in Python integers: same result, slower.

    Source
    ------
    Definition.

    Examples
    --------
    >>> floor_scaled(np.array([1, 2, 3]), Fraction(576, 77)).tolist()
    [7, 14, 22]
    """
    addend = Fraction(offset)
    common = lcm(ratio.denominator, addend.denominator)
    times = ratio.numerator * (common // ratio.denominator)
    plus = addend.numerator * (common // addend.denominator)
    peak = int(np.abs(counts).max()) if counts.size else 0
    if max(peak, 1) * abs(times) + abs(plus) < _SAFE and common < _SAFE:
        return (counts * times + plus) // common
    exact = [(int(count) * times + plus) // common for count in counts.ravel()]
    return np.array(exact, dtype=np.int64).reshape(counts.shape)


def pulses_at(volume_ul: np.ndarray, *, phase_ul: int, weight_l: Fraction) -> np.ndarray:
    """Return the pulses given once ``volume_ul`` has passed, from a start ``phase_ul`` after the last pulse."""
    return floor_scaled(volume_ul + phase_ul, 1 / (weight_l * UL_PER_L))


def passes(volume_ul: np.ndarray, *, phase_ul: int, weight_l: Fraction) -> np.ndarray:
    """Return how often the contact was passed along a path that may run backward.

    ``volume_ul`` holds the turning points and the instants of interest in order of time; each stretch between two of
    them must run one way. A contact without a sense of direction gives a pulse for each pass, forward or backward.
    """
    place = pulses_at(volume_ul, phase_ul=phase_ul, weight_l=weight_l)
    return np.concatenate(([0], np.cumsum(np.abs(np.diff(place)))))


def dial_digits_at(volume_ul: int, *, resolution_l: Fraction, digits: int) -> int:
    """Return the moving digits of a dial that holds ``volume_ul`` (any sign: a dial turned back passes below zero)."""
    return int(Fraction(volume_ul, UL_PER_L) // resolution_l) % 10**digits


def index_unwrapped(counts: np.ndarray, *, start: int, weight_l: Fraction, resolution_l: Fraction) -> np.ndarray:
    """Return the index before its rollover: start + floor(w·N / q_e). [units of ``resolution_l``]"""
    return start + floor_scaled(counts, weight_l / resolution_l)
