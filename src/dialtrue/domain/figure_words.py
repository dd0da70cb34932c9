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
                return f"{_words(name, ending)} {number_text(value / float(litres_per(unit)))} {unit}{per}"
        for ending, word in _UNITS:
            if name.endswith(ending):
                return f"{_words(name, ending)} {number_text(value)} {word}"
    if value is None:
        ending = next((ending for ending, _ in (*_VOLUMES, *_UNITS) if name.endswith(ending)), "")
        return f"{_words(name, ending)} not known"
    return f"{name.replace('_', ' ')} {value if isinstance(value, str) else number_text(value)}"


def _words(name: str, ending: str) -> str:
    return name.removesuffix(ending).replace("_", " ")


def number_text(value: float, *, digits: int = 4, signed: bool = False) -> str:
    """Print a number with its digits, thousands and a true minus; never as a power of ten.

    Parameters
    ----------
    value : float
        A finite number.
    digits : int
        Digits that it deserves; those before the point are printed whatever their count. [1 or more]
    signed : bool
        Print a plus sign as well.

    Returns
    -------
    str

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> number_text(1_001_320.13, digits=6), number_text(0.25), number_text(-2.0), number_text(0)
    ('1,001,320', '0.25', '−2', '0')
    """
    places = max(0, digits - 1 - math.floor(math.log10(abs(value)))) if value else 0
    text = f"{abs(value):,.{min(places, 9)}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    if text == "0":
        return text
    return ("\N{MINUS SIGN}" if value < 0 else "+" if signed else "") + text
