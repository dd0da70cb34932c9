"""Check digits of serials: one function a scheme, all of them saying whether a whole serial passes.

A serial passes or fails; nothing here proposes another one, since a failed check does not say which digit is wrong.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

_CODE39: Final = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%"
"""Values 0 to 42 of the characters. Source: ``CODE-39`` (ISO/IEC 16388)."""

_ALPHANUMERIC: Final = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def luhn(digits: str) -> int:
    """Return the Luhn check digit that follows a string of digits. [0..9]

    Raises
    ------
    ValueError
        A character that is no digit.

    Source
    ------
    ``CHECK-DIGITS``: doubled digits from the right, sum of their figures, modulo 10.

    Examples
    --------
    >>> luhn("7992739871"), luhn("1789372997400")
    (3, 5)
    """
    total = 0
    for place, mark in enumerate(reversed(digits)):
        value = int(mark)
        if place % 2 == 0:
            value = value * 2 - 9 if value > 4 else value * 2
        total += value
    return -total % 10


def gs1(digits: str) -> int:
    """Return the GS1 check digit that follows a string of digits. [0..9]

    Raises
    ------
    ValueError
        A character that is no digit.

    Source
    ------
    ``CHECK-DIGITS``: weights 3 and 1 in turn from the right, modulo 10.

    Examples
    --------
    >>> gs1("400638133393")
    1
    """
    return -sum(int(mark) * (3 if place % 2 == 0 else 1) for place, mark in enumerate(reversed(digits))) % 10


def code39(text: str) -> str:
    """Return the modulo 43 check character that follows a text.

    Raises
    ------
    ValueError
        A character that the code does not have.

    Source
    ------
    ``CODE-39`` (ISO/IEC 16388): sum of the characters' values modulo 43.

    Examples
    --------
    >>> code39("258-416"), code39("123XYZ"), code39("A1207-D")
    ('J', 'M', 'Q')
    """
    return _CODE39[sum(_CODE39.index(mark) for mark in text) % 43]


def mod_97_10(text: str) -> str:
    """Return the two check digits of ISO/IEC 7064, MOD 97-10, that follow a text.

    Raises
    ------
    ValueError
        A character that is neither digit nor capital letter.

    Source
    ------
    ``CHECK-DIGITS``: letters count 10 to 35; the whole number leaves 1 when divided by 97.

    Examples
    --------
    >>> mod_97_10("794")
    '44'
    """
    number = int("".join(str(_ALPHANUMERIC.index(mark)) for mark in text) + "00")
    return f"{98 - number % 97:02d}"


def mod_11_2(digits: str) -> str:
    """Return the check character of ISO/IEC 7064, MOD 11-2, that follows a string of digits; ``X`` stands for ten.

    Raises
    ------
    ValueError
        A character that is no digit.

    Source
    ------
    ``CHECK-DIGITS``: pure system with radix 2.

    Examples
    --------
    >>> mod_11_2("0794")
    '0'
    """
    rest = 0
    for mark in digits:
        rest = (rest + int(mark)) * 2 % 11
    value = (12 - rest) % 11
    return "X" if value == 10 else str(value)


_SCHEMES: Final[dict[str, tuple[int, Callable[[str], str]]]] = {
    "luhn": (1, lambda body: str(luhn(body))),
    "gs1": (1, lambda body: str(gs1(body))),
    "code39": (1, code39),
    "mod_97_10": (2, mod_97_10),
    "mod_11_2": (1, mod_11_2),
}

SCHEMES: Final[tuple[str, ...]] = tuple(_SCHEMES)
"""Names that ``[survey] check_digit`` may hold."""


def passes(serial: str, scheme: str) -> bool:
    """Tell whether a serial ends in the check characters that its scheme asks for.

    Parameters
    ----------
    serial : str
        As written, leading zeros and all; small letters count as capitals.
    scheme : str
        One of ``SCHEMES``.

    Returns
    -------
    bool
        False also where the serial holds a character that the scheme does not know, or is too short.

    Raises
    ------
    KeyError
        Another scheme.

    Source
    ------
    ``CHECK-DIGITS`` and ``CODE-39``.

    Examples
    --------
    >>> passes("79927398713", "luhn"), passes("79927398731", "luhn"), passes("123XYZM", "code39")
    (True, False, True)
    """
    width, last = _SCHEMES[scheme]
    text = serial.upper()
    if len(text) <= width or not text.isascii():
        return False
    try:
        return last(text[:-width]) == text[-width:]
    except ValueError:
        return False
