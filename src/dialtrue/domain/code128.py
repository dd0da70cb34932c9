"""Code 128: text to bars, with the check symbol, in as few symbols as code sets B and C allow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

_TABLE: Final = (
    "212222 222122 222221 121223 121322 131222 122213 122312 132212 221213 221312 231212 112232 122132 122231 113222 "
    "123122 123221 223211 221132 221231 213212 223112 312131 311222 321122 321221 312212 322112 322211 212123 212321 "
    "232121 111323 131123 131321 112313 132113 132311 211313 231113 231311 112133 112331 132131 113123 113321 133121 "
    "313121 211331 231131 213113 213311 213131 311123 311321 331121 312113 312311 332111 314111 221411 431111 111224 "
    "111422 121124 121421 141122 141221 112214 112412 122114 122411 142112 142211 241211 221114 413111 241112 134111 "
    "111242 121142 121241 114212 124112 124211 411212 421112 421211 212141 214121 412121 111143 111341 131141 114113 "
    "114311 411113 411311 113141 114131 311141 411131 211412 211214 211232 2331112"
)
_WIDTHS: Final = tuple(_TABLE.split())
"""Widths of bars and spaces of each symbol value, bar first. [modules] Source: ``ISO-15417``, its table of symbols."""

QUIET_MODULES: Final = 10
"""Least white space on either side. [modules] Source: ``ISO-15417``."""

_MODULUS: Final = 103
_CODE_C, _CODE_B = 99, 100
_START: Final = {"A": 103, "B": 104, "C": 105}
_STOP: Final = 106
_LEAST_RUN_AT_AN_END: Final = 4
_LEAST_RUN_INSIDE: Final = 6


@dataclass(frozen=True, slots=True)
class Code128:
    """One symbol: its values from the start character to the check symbol, and its bars.

    ``bars`` are widths, bar and space in turn, stop pattern included, quiet zones not. [modules]
    """

    text: str
    values: tuple[int, ...]

    @property
    def check_symbol(self) -> int:
        """The check symbol's value. [0 to 102]"""
        return self.values[-1]

    @property
    def bars(self) -> tuple[int, ...]:
        """Widths of bars and spaces in turn, the first a bar. [modules]"""
        return tuple(int(width) for value in (*self.values, _STOP) for width in _WIDTHS[value])

    @property
    def modules(self) -> int:
        """Width without quiet zones: eleven a symbol and thirteen for the stop. [modules]"""
        return 11 * len(self.values) + 13


def check_symbol(values: tuple[int, ...]) -> int:
    """Return the check symbol: (start + sum of value times position) modulo 103. [0 to 102]

    Parameters
    ----------
    values : tuple of int
        Start character and data, in order.

    Raises
    ------
    Never raises.

    Source
    ------
    ``ISO-15417``.

    Examples
    --------
    >>> check_symbol((104, 65, 66, 67, 68, 69, 70))  # abcdef in code set B
    97
    """
    return (values[0] + sum(place * value for place, value in enumerate(values[1:], start=1))) % _MODULUS


def code128(text: str, *, code_set: str = "") -> Code128 | None:
    """Return the symbol of a text, or None where Code 128 without extensions cannot carry it.

    Parameters
    ----------
    text : str
        Printable ASCII.
    code_set : str
        Keep to one set, ``A``, ``B`` or ``C``; blank switches between B and C where that is shorter.

    Returns
    -------
    Code128 or None
        None for an empty text, for a character that is not in the set, and for an odd number of digits in set C.

    Raises
    ------
    Never raises.

    Source
    ------
    ``ISO-15417``: pairs of digits in set C from four digits on at either end and from six inside.

    Examples
    --------
    >>> code128("12345678").check_symbol, code128("W-1042", code_set="B").modules
    (47, 101)
    """
    if not text or not all(" " <= mark <= "~" for mark in text):
        return None
    if code_set == "A" and any(mark > "_" for mark in text):
        return None
    if code_set == "C" and (len(text) % 2 or not text.isdecimal()):
        return None
    values = _in_one_set(text, code_set) if code_set else _in_two_sets(text)
    return Code128(text, (*values, check_symbol(tuple(values))))


def _in_one_set(text: str, code_set: str) -> list[int]:
    """Return start and data values in one code set."""
    if code_set == "C":
        return [_START["C"], *(int(text[place : place + 2]) for place in range(0, len(text), 2))]
    return [_START[code_set], *(ord(mark) - 32 for mark in text)]


def _in_two_sets(text: str) -> list[int]:
    """Return start and data values, switching to pairs of digits where that saves symbols."""
    values: list[int] = []
    in_c = False
    place = 0
    while place < len(text):
        run = len(text[place:]) - len(text[place:].lstrip("0123456789"))
        at_an_end = place == 0 or place + run == len(text)
        whole = place == 0 and run == len(text) == 2
        long_enough = whole or run >= (_LEAST_RUN_AT_AN_END if at_an_end else _LEAST_RUN_INSIDE)
        if not in_c and long_enough and not (run % 2 and place > 0):
            values.append(_START["C"] if not values else _CODE_C)
            in_c = True
        if in_c and run >= 2:
            values.append(int(text[place : place + 2]))
            place += 2
            continue
        if in_c or not values:
            values.append(_START["B"] if not values else _CODE_B)
            in_c = False
        values.append(ord(text[place]) - 32)
        place += 1
    return values
