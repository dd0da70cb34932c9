"""Corners: each figure at the low and the high end of its spread, all combinations."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from dialtrue.domain.errors import FigureRange

NOT_KNOWN: Final = math.nan
"""Inside the calculation a missing figure is NaN, so that it spreads to every result that needs it and to no other.
It never leaves the package: results carry None. A NaN given by a user is refused before it gets here."""


@dataclass(frozen=True, slots=True)
class Spread:
    """A figure with its ends: ``low <= nominal <= high``."""

    low: float
    nominal: float
    high: float

    @classmethod
    def exactly(cls, value: float) -> Spread:
        """Return a figure without spread."""
        return cls(value, value, value)

    @classmethod
    def share(cls, nominal: float, share: float) -> Spread:
        """Return ``nominal`` with the same relative spread to both sides."""
        return cls(nominal * (1.0 - share), nominal, nominal * (1.0 + share))


UNKNOWN_SPREAD: Final = Spread(NOT_KNOWN, NOT_KNOWN, NOT_KNOWN)

AXES: Final = ("supply", "pull_up", "temperature", "contact", "threshold", "leakage")
AXIS_WORDS: Final[dict[str, tuple[str, str]]] = {
    "supply": ("supply low", "supply high"),
    "pull_up": ("pull-up low", "pull-up high"),
    "temperature": ("cold", "hot"),
    "contact": ("contact new", "contact worn"),
    "threshold": ("thresholds low", "thresholds high"),
    "leakage": ("dry", "damp"),
}


@dataclass(frozen=True, slots=True)
class Corner:
    """One combination of ends. ``sides`` holds 0 (low) or 1 (high) in the order of ``AXES``; ``index`` counts them."""

    index: int
    sides: tuple[int, int, int, int, int, int]

    @property
    def words(self) -> str:
        """Return all ends in words, in the order of ``AXES``."""
        return ", ".join(AXIS_WORDS[axis][side] for axis, side in zip(AXES, self.sides, strict=True))

    def flipped(self, axis: int) -> int:
        """Return the index of the corner that differs in this one axis."""
        return self.index ^ (1 << axis)


def _corner(index: int) -> Corner:
    return Corner(
        index,
        (
            index & 1,
            (index >> 1) & 1,
            (index >> 2) & 1,
            (index >> 3) & 1,
            (index >> 4) & 1,
            (index >> 5) & 1,
        ),
    )


CORNERS: Final[tuple[Corner, ...]] = tuple(_corner(index) for index in range(64))
"""Every corner, 2^6."""


def worst(margins: list[float]) -> tuple[float, int]:
    """Return the least margin and its place; the first of equals; NaN and -1 if any is not known.

    Parameters
    ----------
    margins : list of float
        One margin a corner. [any unit; NaN = not known]

    Returns
    -------
    tuple of float and int
        The least margin, the index of its corner.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition of a worst case.

    Examples
    --------
    >>> worst([3.0, 1.0, 1.0])
    (1.0, 1)
    """
    least, place = margins[0], 0
    for index, margin in enumerate(margins):
        if margin != margin:
            return NOT_KNOWN, -1
        if margin < least:
            least, place = margin, index
    return least, place


def deciding_words(margins: list[float], place: int) -> str:
    """Name a corner by the axes that matter: those whose other end alone would move the margin by 1e-4 of itself."""
    if place < 0:
        return ""
    corner = CORNERS[place]
    floor = 1e-4 * abs(margins[place])
    named = [
        AXIS_WORDS[axis][corner.sides[number]]
        for number, axis in enumerate(AXES)
        if abs(margins[corner.flipped(number)] - margins[place]) > floor
    ]
    return ", ".join(named) or "every corner alike"


def checked(
    value: float | None,
    *,
    thing: str,
    name: str,
    least: float,
    most: float,
    above: bool = False,
    infinite: bool = False,
) -> float:
    """Return a figure fit to compute with; a missing one becomes ``NOT_KNOWN``.

    Raises
    ------
    FigureRange
        The figure is NaN, infinite where that has no meaning, or outside ``least`` .. ``most``.

    Source
    ------
    Our assumption: the ranges keep nonsense out and are far wider than any hardware.
    """
    if value is None:
        return NOT_KNOWN
    allowed_infinite = infinite and value == math.inf
    fits = (value > least if above else value >= least) and (value <= most or allowed_infinite)
    if not fits or (math.isinf(value) and not allowed_infinite):
        bound = "above" if above else "at least"
        raise FigureRange(thing=thing, name=name, value=value, expected=f"{bound} {least:g} and at most {most:g}")
    return value


def checked_spread(value: Spread | None, *, thing: str, name: str, least: float, most: float, above: bool) -> Spread:
    """Return a spread fit to compute with; a missing one is not known at each end.

    Raises
    ------
    FigureRange
        An end is out of range, or the ends are out of order.
    """
    if value is None:
        return UNKNOWN_SPREAD
    for end in (value.low, value.nominal, value.high):
        checked(end, thing=thing, name=name, least=least, most=most, above=above, infinite=False)
    if not value.low <= value.nominal <= value.high:
        ends = f"{value.low:g} / {value.nominal:g} / {value.high:g}"
        raise FigureRange(thing=thing, name=name, value=ends, expected="in order: low, nominal, high")
    return value
