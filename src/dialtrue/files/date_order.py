"""Dates such as 03/04/2026: which part is the day is settled by the file itself, or asked, never guessed."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import Final

from dialtrue.files.problems import ProblemLog, Repair, count_of

ORDERS: Final = {"day-first": "day/month/year", "month-first": "month/day/year", "year-first": "year/month/day"}
"""The orders, and how they are written out."""

_SLASHED_PARTS: Final = re.compile(
    r"^(\d{1,4})[/.-](\d{1,2})[/.-](\d{1,4})(?:[T ]+(\d{1,2}):(\d{2})(?::(\d{2}))?(?: ?([AaPp])[Mm])?)?$"
)


def date_order(texts: list[str]) -> str | None:
    """Tell the order of the parts of dates: a part above 12 is a day; one row settles all.

    Returns
    -------
    str or None
        ``year-first``, ``day-first``, ``month-first``, or None where nothing settles it or rows contradict each other.

    Never raises.

    Examples
    --------
    >>> date_order(["03/04/2026", "31/03/2026"])
    'day-first'
    >>> date_order(["03/04/2026"]) is None
    True
    """
    found: set[str] = set()
    for text in texts:
        parts = _SLASHED_PARTS.match(text.strip())
        if parts is None:
            continue
        first, second = int(parts[1]), int(parts[2])
        if len(parts[1]) == 4:
            found.add("year-first")
        elif 12 < first <= 31 and second <= 12:
            found.add("day-first")
        elif 12 < second <= 31 and first <= 12:
            found.add("month-first")
    return found.pop() if len(found) == 1 else None


def read_ordered(text: str, order: str) -> int | None:
    """Return naive local microseconds of a date written in that order, or None if there is no such time.

    Never raises.

    Examples
    --------
    >>> read_ordered("31/03/2026 1:05 PM", "day-first") == read_ordered("2026/03/31 13:05", "year-first")
    True
    """
    parts = _SLASHED_PARTS.match(text.strip())
    if parts is None:
        return None
    first, second, third = int(parts[1]), int(parts[2]), int(parts[3])
    year, month, day = {
        "year-first": (first, second, third),
        "day-first": (third, second, first),
        "month-first": (third, first, second),
    }[order]
    # A year of two digits is not guessed at.
    if year < 1000:
        return None
    hour, minute, second_of = (int(part or 0) for part in (parts[4], parts[5], parts[6]))
    if parts[7]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if parts[7] in "Pp" else 0)
    try:
        moment = dt.datetime(year, month, day, hour, minute, second_of, tzinfo=dt.UTC)
    except ValueError:
        return None
    return int(moment.timestamp()) * 1_000_000


@dataclass(frozen=True, slots=True)
class Order:
    """What came of the order of dates: the order taken, or the remedy for the rows refused."""

    taken: str | None
    remedy: str


def settle_order(
    table: str, file: str, column: str, line: int, example: str, texts: list[str], log: ProblemLog
) -> Order:
    """Offer the order of dates that the file itself settles, or ask.

    Returns
    -------
    Order
        ``taken`` is the order accepted, if any; ``remedy`` is what a refused row is told. Never raises.
    """
    iso = "Write dates as 2026-03-31"
    order = date_order(texts)
    named = next((o for o in ORDERS if log.names(f"dates:{table}:{o}")), None)
    if named is not None or order is not None:
        chosen = named or order or ""
        key = f"dates:{table}:{chosen}"
        why = "named by you" if named else "a part above 12 can only be a day (or four digits a year)"
        why += f"; {count_of(len(texts), 'date')} in the file are read so"
        if log.offer(Repair(key, "dates", file, line, column, example, ORDERS[chosen], why)):
            return Order(chosen, f"{iso}; this one does not fit {ORDERS[chosen]}.")
        return Order(None, f"{iso}, or accept {key} to read the file's dates as {ORDERS[chosen]}.")
    return Order(None, f"{iso}, or say the order: accept dates:{table}:day-first or dates:{table}:month-first.")
