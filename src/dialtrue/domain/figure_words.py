"""The figures of evidence in words: each with its unit, volumes in the dial's own."""

from __future__ import annotations

import math
from typing import Final

from dialtrue.domain.finding import Figure
from dialtrue.domain.quantity import litres_per

_VOLUMES: Final = (("_l_day", "/day"), ("_l_h", "/h"), ("_l", ""))
_UNITS: Final = (("_days", "days"), ("_h", "h"), ("_nat", "nat"))


def figure_words(name: str, value: Figure, unit: str) -> str:
    """Say one figure of evidence.

    Parameters
    ----------
    name : str
        Name with its unit at the end: ``dial_moved_l``, ``still_at_end_days``; a plain number has none.
    value : str, int, float or None
        As the block gave it, volumes in litres; what is no number is not known.
    unit : str
        Contract unit to print volumes in.

    Returns
    -------
    str
        Such as ``dial moved 9,658 gal``.

    Raises
    ------
    UnknownUnit
        ``unit`` is not a contract unit.

    Source
    ------
    Our assumption: four digits serve whoever reads them; exact figures stand in the findings file.

    Examples
    --------
    >>> figure_words("dial_moved_l", 36559.507, "gal"), figure_words("odd_steps", 0, "gal")
    ('dial moved 9,658 gal', 'odd steps 0')
    """
    if isinstance(value, float) and not math.isfinite(value):
        value = None
    if isinstance(value, int | float):
        for ending, per in _VOLUMES:
            if name.endswith(ending):
                return f"{_words(name, ending)} {_number(value / float(litres_per(unit)))} {unit}{per}"
        for ending, word in _UNITS:
            if name.endswith(ending):
                return f"{_words(name, ending)} {_number(value)} {word}"
    if value is None:
        ending = next((ending for ending, _ in (*_VOLUMES, *_UNITS) if name.endswith(ending)), "")
        return f"{_words(name, ending)} not known"
    return f"{name.replace('_', ' ')} {value if isinstance(value, str) else _number(value)}"


def _words(name: str, ending: str) -> str:
    return name.removesuffix(ending).replace("_", " ")


def _number(value: float) -> str:
    """Print with thousands and four digits."""
    text = f"{abs(value):,.0f}" if isinstance(value, int) or abs(value) >= 1000 else f"{abs(value):.4g}"
    return f"\N{MINUS SIGN}{text}" if value < 0 else text
