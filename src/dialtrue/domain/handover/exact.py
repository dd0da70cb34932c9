"""Exact figures of an index: its volume as a decimal without a rounding, and as a whole number times a power of ten."""

from __future__ import annotations

from decimal import Decimal, localcontext
from fractions import Fraction
from typing import Final

from dialtrue.domain.figures import decimal_places
from dialtrue.domain.quantity import convert

MOST_PLACES: Final = 18
"""Most decimal places of a volume that is handed over, as a column of 38 digits keeps them."""

ESPI_UNIT: Final[dict[str, tuple[int, str]]] = {
    "L": (134, "L"),
    "m3": (42, "m3"),
    "gal": (128, "gal"),
    "kgal": (128, "gal"),
    "gal_imp": (130, "gal_imp"),
    "ft3": (119, "ft3"),
    "ccf": (119, "ft3"),
    "acre_ft": (119, "ft3"),
}
"""Unit code of each contract unit and the unit that the code stands for. Source: ``NAESB-REQ-21``."""


def volume_unit(index_unit: str, dial_unit: str) -> str:
    """Return the unit in which a port's volumes are written: the dial's where that is exact, else the index's own.

    Parameters
    ----------
    index_unit, dial_unit : str
        Contract units.

    Returns
    -------
    str
        A contract unit in which one index unit is a decimal that ends.

    Raises
    ------
    UnknownUnit
        A name is not a contract unit.

    Source
    ------
    Definition: a volume is never rounded on the way to a bill.

    Examples
    --------
    >>> volume_unit("L", "m3"), volume_unit("gal", "ft3")
    ('m3', 'gal')
    """
    return dial_unit if decimal_places(convert(1, index_unit, dial_unit)) is not None else index_unit


def decimal_of(value: Fraction) -> Decimal:
    """Return a fraction as the decimal that it is exactly.

    Raises
    ------
    ArithmeticError
        No decimal is exactly this fraction.

    Source
    ------
    Definition.

    Examples
    --------
    >>> decimal_of(Fraction(473176473, 125000000000))
    Decimal('0.003785411784')
    """
    places = decimal_places(value)
    if places is None:
        raise ArithmeticError(f"{value} has no end as a decimal")
    whole = value.numerator * (10**places // value.denominator)
    with localcontext() as context:
        context.prec = max(28, len(str(abs(whole))) + 1)
        return Decimal(whole).scaleb(-places)


def whole_steps(step: Fraction) -> tuple[int, int]:
    """Return the whole number m and the power e, a multiple of three, with ``step`` = m times 10^e exactly.

    Raises
    ------
    ArithmeticError
        No decimal is exactly this fraction.

    Source
    ------
    Definition; multiples of three are the multipliers that every reader of ``NAESB-REQ-21`` knows.

    Examples
    --------
    >>> whole_steps(Fraction(1, 100)), whole_steps(Fraction(1000)), whole_steps(Fraction(100))
    ((10, -3), (1, 3), (100, 0))
    """
    places = decimal_places(step)
    if places is None:
        raise ArithmeticError(f"{step} has no end as a decimal")
    power = -3 * -(-places // 3)
    whole = step * Fraction(10) ** -power
    while power < 9 and whole and whole % 1000 == 0:
        whole, power = whole / 1000, power + 3
    return int(whole), power
