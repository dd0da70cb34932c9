"""Volume units with exact factors; every conversion of a billed figure goes through here.

Source
------
``NIST-SP-811`` appendix B: 1 in = 25.4 mm exactly, so 1 US gal = 231 in³ = 3.785411784 L and
1 ft³ = 28.316846592 L; 1 imperial gal = 4.54609 L; 1 acre-foot = 43 560 ft³.
"""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Final

from dialtrue.domain.errors import BadDecimal, UnknownUnit

_INCH_MM: Final = Fraction(254, 10)
_GAL_L: Final = 231 * _INCH_MM**3 / 1_000_000
_FT3_L: Final = (12 * _INCH_MM) ** 3 / 1_000_000

LITRES_PER_UNIT: Final[dict[str, Fraction]] = {
    "L": Fraction(1),
    "m3": Fraction(1000),
    "gal": _GAL_L,
    "gal_imp": Fraction(454609, 100000),
    "ft3": _FT3_L,
    "ccf": 100 * _FT3_L,
    "kgal": 1000 * _GAL_L,
    "acre_ft": 43_560 * _FT3_L,
}
"""Exact litres in one of each contract unit. [L]"""

UNITS: Final[tuple[str, ...]] = tuple(LITRES_PER_UNIT)


def litres_per(unit: str) -> Fraction:
    """Return the exact litres in one ``unit``.

    Parameters
    ----------
    unit : str
        One of ``UNITS``, spelled as the contract spells it.

    Returns
    -------
    Fraction
        [L, > 0]

    Raises
    ------
    UnknownUnit
        The name is not a contract unit; the error lists the nearest allowed names.

    Source
    ------
    ``NIST-SP-811`` appendix B.

    Examples
    --------
    >>> litres_per("gal")
    Fraction(473176473, 125000000)
    """
    try:
        return LITRES_PER_UNIT[unit]
    except KeyError:
        raise UnknownUnit(unit=unit, allowed=", ".join(UNITS)) from None


def convert(volume: Fraction | int | Decimal, from_unit: str, to_unit: str) -> Fraction:
    """Convert a volume exactly.

    Parameters
    ----------
    volume : Fraction, int or Decimal
        Volume in ``from_unit``; any sign.
    from_unit, to_unit : str
        Contract units.

    Returns
    -------
    Fraction
        The same volume in ``to_unit``; converting back gives the input exactly.

    Raises
    ------
    UnknownUnit
        Either name is not a contract unit.

    Source
    ------
    Ratio of two exact definitions (``NIST-SP-811``).

    Examples
    --------
    >>> convert(1, "ft3", "gal")
    Fraction(576, 77)
    """
    return Fraction(volume) * litres_per(from_unit) / litres_per(to_unit)


def exact_decimal(text: str) -> Fraction:
    """Read a decimal number as written, exactly.

    Raises
    ------
    BadDecimal
        The text is no finite decimal number.

    Source
    ------
    Definition.

    Examples
    --------
    >>> exact_decimal("0.1")
    Fraction(1, 10)
    """
    try:
        value = Decimal(text.strip())
    except InvalidOperation:
        raise BadDecimal(text=text) from None
    if not value.is_finite() or abs(value.adjusted()) > 30:
        raise BadDecimal(text=text)
    return Fraction(value)
