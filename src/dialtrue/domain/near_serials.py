"""Serials that a mistyped one may stand for: leading zeros lost, one key struck wrong, two exchanged."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

MOST_OFFERED: Final = 5


def _plain(serial: str) -> str:
    """Return a serial as a hurried reader takes it: no spaces or hyphens, no case, no leading zeros."""
    return "".join(mark for mark in serial.upper() if mark.isalnum()).lstrip("0")


def one_edit_apart(one: str, other: str) -> bool:
    """Return whether one mark was left out, added, mistaken, or exchanged with its neighbour. Never raises.

    Examples
    --------
    >>> one_edit_apart("W-1042", "W-1024"), one_edit_apart("W-1042", "W-142"), one_edit_apart("W-1042", "W-2043")
    (True, True, False)
    """
    short, long = sorted((one, other), key=len)
    if len(long) - len(short) > 1:
        return False
    first = next((place for place, mark in enumerate(short) if mark != long[place]), len(short))
    if len(short) < len(long):
        return short[first:] == long[first + 1 :]
    if short[first + 1 :] == long[first + 1 :]:
        return True
    exchanged = short[first : first + 2] == long[first : first + 2][::-1]
    return exchanged and short[first + 2 :] == long[first + 2 :]


def near_serials(serial: str, known: Iterable[str], *, most: int = MOST_OFFERED) -> tuple[str, ...]:
    """Return the known serials that a given one may stand for, the likeliest first.

    Parameters
    ----------
    serial : str
        As somebody typed it; it is none of the known ones.
    known : iterable of str
        Serials on record.
    most : int
        How many to offer. [1 or more]

    Returns
    -------
    tuple of str
        First those that are the same but for leading zeros, case, spaces and hyphens, then those one edit apart.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption: a spreadsheet takes leading zeros, a hand strikes one wrong key.

    Examples
    --------
    >>> near_serials("123", ["00123", "0124", "999"])
    ('00123', '0124')
    """
    plain = _plain(serial)
    same: list[str] = []
    close: list[str] = []
    for each in dict.fromkeys(known):
        folded = _plain(each)
        if folded == plain:
            same.append(each)
        elif one_edit_apart(folded, plain) or one_edit_apart(each, serial):
            close.append(each)
    return tuple((sorted(same) + sorted(close))[:most])
