"""How likely a wrong number is, given the right one: a wrong figure, two exchanged, a zero dropped, an old value.

Whoever reads a dial slips in another way than whoever types an index, so the shape of the difference between the two
texts says which of them is the wrong one where no later look does.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dialtrue.engine.fleet import Floats

KEYED = {"figure": 0.24, "exchanged": 0.24, "tenfold": 0.2, "left_out": 0.12, "older": 0.12, "any": 0.08}
READ = {"figure": 0.62, "exchanged": 0.16, "tenfold": 0.06, "left_out": 0.05, "older": 0.01, "any": 0.1}
"""Shares of the slips of who keys a start index and of who reads a dial. Our assumption: typing exchanges figures and
drops zeros, reading mistakes one wheel."""
PLACES = 10
OLDEST = 1e6
"""Counts that an old value, carried over from before, may lie back at the most. Our assumption."""


def slip_density(
    written: Floats, meant: Floats, shares: Mapping[str, float], *, tolerance: Floats, figures: Floats
) -> Floats:
    """Return the density that ``written`` stands where ``meant`` was due, given that a slip was made [1/count].

    Parameters
    ----------
    written, meant : float64, shape (n,)
        Numbers as figures would be written. [count, >= 0]
    shares : mapping
        ``KEYED`` or ``READ``.
    tolerance : float64, shape (n,)
        How far apart two numbers may be that are the same up to rounding. [count, >= 0]
    figures : float64, shape (n,)
        Places that the index or the dial has, leading zeros and all. [1 or more]

    Returns
    -------
    float64, shape (n,)

    Raises
    ------
    Never raises.

    Source
    ------
    One wrong figure changes a number by k * 10^p; exchanging neighbours by 9 k * 10^p (arithmetic).
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        places = np.maximum(np.ceil(np.log10(np.maximum(meant, 10.0) + 1)), np.maximum(figures, 2.0))
        apart = written - meant
        size = np.abs(apart)
        room = 2 * tolerance + 1
        total = shares["any"] / np.maximum(10.0**places, 1.0)
        for p in range(PLACES):
            unit = 10.0**p
            inside = p < places
            k = np.round(size / unit)
            hit = inside & (k >= 1) & (k <= 9) & (np.abs(size - k * unit) <= tolerance)
            total = total + np.where(hit, shares["figure"] / (18 * places * room), 0.0)
            k = np.round(size / (9 * unit))
            high, low = np.floor(meant / (10 * unit)) % 10, np.floor(meant / unit) % 10
            swapped = meant + 9 * unit * (low - high)
            hit = inside & (p < places - 1) & (k >= 1) & (np.abs(written - swapped) <= tolerance)
            total = total + np.where(hit, shares["exchanged"] / ((places - 1) * room), 0.0)
            without = np.floor(meant / (10 * unit)) * unit + meant % unit
            hit = inside & (np.abs(written - without) <= tolerance)
            total = total + np.where(hit, shares["left_out"] / (places * room), 0.0)
        for power in (1, 2, 3):
            unit = 10.0**power
            dropped = np.abs(written - np.floor(meant / unit)) <= tolerance
            added = np.abs(written - meant * unit) <= unit * (tolerance + 1)
            share = shares["tenfold"] * (0.4 if power == 1 else 0.05)
            # Added zeros are zeros mostly, else the figures behind the point.
            zeros = np.abs(written - meant * unit) <= tolerance
            total = total + np.where(dropped, share / room, 0.0)
            total = total + np.where(zeros, 0.7 * share / room, 0.0) + np.where(added, 0.3 * share / (unit * room), 0.0)
        older = (apart < 0) & (size <= OLDEST)
        total = total + np.where(older, shares["older"] / (np.maximum(size, 1.0) * np.log(OLDEST)), 0.0)
    density: Floats = np.where(np.isfinite(total), total, 1e-12)
    return density
