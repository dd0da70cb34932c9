"""Read a number with a unit as a technician writes it, exactly; write one as a technician reads it."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Final

from dialtrue.domain.errors import BadDecimal, BadMeasure
from dialtrue.domain.quantity import LITRES_PER_UNIT, exact_decimal, litres_per

LENGTHS_M: Final[dict[str, Fraction]] = {"m": Fraction(1), "ft": Fraction(3048, 10_000), "km": Fraction(1000)}
"""Exact. Source: ``NIST-SP-811``: 1 ft = 0.3048 m."""
RESISTANCES_OHM: Final[dict[str, Fraction]] = {
    "ohm": Fraction(1),
    "kohm": Fraction(1000),
    "k": Fraction(1000),
    "Mohm": Fraction(1_000_000),
    "M": Fraction(1_000_000),
}
VOLUMES_L: Final[dict[str, Fraction]] = dict(LITRES_PER_UNIT)
_TIMES_MIN: Final[dict[str, Fraction]] = {
    "s": Fraction(1, 60),
    "min": Fraction(1),
    "h": Fraction(60),
    "day": Fraction(1440),
    "d": Fraction(1440),
}


def _flow_units() -> dict[str, Fraction]:
    """Return flow units in L/min, exact; ``gpm`` is US gallons a minute."""
    units = {
        f"{volume}/{time}": litres / minutes
        for volume, litres in LITRES_PER_UNIT.items()
        for time, minutes in _TIMES_MIN.items()
    }
    return units | {"gpm": litres_per("gal"), "lpm": Fraction(1)}


FLOWS_LPM: Final[dict[str, Fraction]] = _flow_units()
USES_L_PER_DAY: Final[dict[str, Fraction]] = {name: rate * 1440 for name, rate in FLOWS_LPM.items()}

_SAMPLE: Final = {
    "length": "'30 m' or '100 ft'",
    "volume": "'10 gal' or '1 L'",
    "flow": "'160 gal/min' or '25 m3/h'",
    "resistance": "'220 kohm'",
    "use": "'138 gal/day'",
}
_FORM: Final = re.compile(r"\s*([-+0-9.eE]+)\s*([A-Za-z][A-Za-z0-9_/]*)\s*")


def measure(text: str, *, what: str) -> Fraction:
    """Read a number with its unit.

    Parameters
    ----------
    text : str
        Such as ``30 m``, ``100 ft``, ``10 gal``, ``160 gal/min``, ``220 kohm``.
    what : str
        ``length`` [m], ``volume`` [L], ``flow`` [L/min], ``use`` [L/day] or ``resistance`` [ohm].

    Returns
    -------
    Fraction
        Exact, in the unit named above.

    Raises
    ------
    BadMeasure
        No number, no unit, or a unit of something else.

    Source
    ------
    ``NIST-SP-811``.

    Examples
    --------
    >>> measure("100 ft", what="length")
    Fraction(762, 25)
    """
    units = {
        "length": LENGTHS_M,
        "volume": VOLUMES_L,
        "flow": FLOWS_LPM,
        "use": USES_L_PER_DAY,
        "resistance": RESISTANCES_OHM,
    }[what]
    found = _FORM.fullmatch(text)
    names = ", ".join(list(units)[:24])
    if found is None or found.group(2) not in units:
        raise BadMeasure(text=text, what=what, sample=_SAMPLE[what], units=names)
    try:
        number = exact_decimal(found.group(1))
    except BadDecimal:
        raise BadMeasure(text=text, what=what, sample=_SAMPLE[what], units=names) from None
    return number * units[found.group(2)]


def sensible(value: float, *, digits: int = 3) -> str:
    """Return a figure in so many digits, without exponent where that reads well, ``never`` for an infinite one.

    Examples
    --------
    >>> sensible(119.99998), sensible(0.0002092), sensible(1234567.0)
    ('120', '0.000209', '1230000')
    """
    if value != value:
        return "not known"
    if value in (float("inf"), float("-inf")):
        return "no limit" if value > 0 else "never"
    if value == 0.0:
        return "0"
    if abs(value) >= 1e9 or abs(value) < 1e-6:
        return f"{value:.{digits - 1}e}"
    rounded = float(f"{value:.{digits - 1}e}")
    text = f"{rounded:.12f}".rstrip("0").rstrip(".")
    return text


def said_ohm(value: float) -> str:
    """Return a resistance as a technician says it: ohm, kohm or Mohm."""
    if value == float("inf"):
        return "none"
    for size, unit in ((1e6, "Mohm"), (1e3, "kohm")):
        if abs(value) >= size:
            return f"{sensible(value / size)} {unit}"
    return f"{sensible(value)} ohm"
