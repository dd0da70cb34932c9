"""Exact figures as people write them: thousands grouped, a terminating decimal in full, others rounded and marked."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from fractions import Fraction


def decimal_places(value: Fraction) -> int | None:
    """Return how many decimal places write ``value`` exactly, or None where no number of places does.

    Never raises.

    Source
    ------
    Definition: a fraction in lowest terms ends in decimals when its denominator holds only twos and fives.

    Examples
    --------
    >>> decimal_places(Fraction(1, 8)), decimal_places(Fraction(1, 3))
    (3, None)
    """
    rest = value.denominator
    twos = fives = 0
    while rest % 2 == 0:
        rest, twos = rest // 2, twos + 1
    while rest % 5 == 0:
        rest, fives = rest // 5, fives + 1
    return max(twos, fives) if rest == 1 else None


def power_of_ten(value: Fraction) -> int | None:
    """Return k where ``value`` is exactly 10^k, or None.

    Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> power_of_ten(Fraction(1, 100)), power_of_ten(Fraction(10)), power_of_ten(Fraction(2))
    (-2, 1, None)
    """
    if value <= 0:
        return None
    larger, smaller = max(value.numerator, value.denominator), min(value.numerator, value.denominator)
    text = str(larger)
    if smaller != 1 or text != "1" + "0" * (len(text) - 1):
        return None
    return len(text) - 1 if value >= 1 else 1 - len(text)


def figure(value: Fraction | int, *, places: int = 3, sign: bool = False) -> str:
    """Write an exact number for a sentence; a negative one carries the minus sign, which screen readers say.

    Parameters
    ----------
    value : Fraction or int
        Any rational number.
    places : int
        Most decimal places to write. [>= 0]
    sign : bool
        Write a plus before positive numbers.

    Returns
    -------
    str
        Grouped by thousands; written in full where ``places`` suffice, otherwise rounded half to even.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition. The number of places is our assumption, for reading only; override it by ``places``.

    Examples
    --------
    >>> figure(Fraction(421370)), figure(Fraction(2470, 17), places=1), figure(22, sign=True)
    ('421,370', '145.3', '+22')
    """
    exact = Fraction(value)
    needed = decimal_places(exact)
    shown = places if needed is None else min(needed, places)
    scaled = round(exact * 10**shown)  # Fraction rounds half to even
    with localcontext() as context:
        context.prec = max(28, len(str(abs(scaled))) + shown + 2)
        context.rounding = ROUND_HALF_EVEN
        number = Decimal(scaled).scaleb(-shown)
        text = f"{number:,f}" if shown else f"{scaled:,}"
    text = text.replace("-", "\N{MINUS SIGN}")
    return f"+{text}" if sign and scaled > 0 else text
