"""Billing periods: those that were billed, or a calendar's; volumes rounded so that the parts keep the sum."""

from __future__ import annotations

import calendar
import datetime as dt
import itertools
import zoneinfo
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from dialtrue.domain.errors import PeriodFault

Calendar = Literal["month", "two_months", "quarter"]
MONTHS: Final[dict[str, int]] = {"month": 1, "two_months": 2, "quarter": 3}


@dataclass(frozen=True, slots=True)
class Period:
    """From the day of one read to the day of the next; ``billed_l`` None: not on record."""

    start: dt.date
    end: dt.date
    billed_l: Fraction | None = None
    unit: str = ""
    amount: Fraction | None = None
    rate: str = ""
    estimated: bool = False

    def edges(self, zone: str) -> tuple[dt.datetime, dt.datetime]:
        """Return the moments between which its volume lies: the start of both days, local time. Never raises."""
        where = zoneinfo.ZoneInfo(zone)
        at = [dt.datetime.combine(day, dt.time(), tzinfo=where) for day in (self.start, self.end)]
        return at[0].astimezone(dt.UTC), at[1].astimezone(dt.UTC)


def calendar_periods(first: dt.date, last: dt.date, *, every: Calendar = "month") -> Iterator[Period]:
    """Give the periods of a calendar that touch the days from ``first`` to ``last``.

    Parameters
    ----------
    first, last : date
        Ends of the time that is to be covered.
    every : str
        ``month``, ``two_months`` or ``quarter``, counted from January.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.
    """
    months = MONTHS[every]
    place = (first.year * 12 + first.month - 1) // months * months
    while True:
        edges = [dt.date(month // 12, month % 12 + 1, 1) for month in (place, place + months)]
        if edges[0] > last:
            return
        yield Period(edges[0], edges[1])
        place += months


def checked_periods(periods: Sequence[Period]) -> list[Period]:
    """Return the periods in order.

    Raises
    ------
    PeriodFault
        A period has no day, or two overlap; a gap is allowed, for a bill may be missing.
    """
    ordered = sorted(periods, key=lambda period: (period.start, period.end))
    for period in ordered:
        if period.end <= period.start:
            raise PeriodFault(says=f"{period.start} to {period.end} has no day")
    for before, after in itertools.pairwise(ordered):
        if after.start < before.end:
            raise PeriodFault(says=f"{before.start} to {before.end} and {after.start} to {after.end} overlap")
    return ordered


def rounded_parts(edges_l: Sequence[Fraction], step_l: Fraction | None) -> list[Fraction]:
    """Return the volumes between edges, each rounded to a step so that every sum of neighbours is rounded too.

    Parameters
    ----------
    edges_l : sequence of Fraction
        Volumes by the edges, one more than the parts. [L]
    step_l : Fraction or None
        Billing step [L, > 0]; None leaves them exact.

    Returns
    -------
    list of Fraction
        Rounding is done on the running volume since the first edge, half up: the parts add up to the rounded whole.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition; a meter's own rolling digits round so.

    Examples
    --------
    >>> [int(part) for part in rounded_parts([Fraction(0), Fraction(5, 2), Fraction(5), Fraction(15, 2)], Fraction(1))]
    [3, 2, 3]
    """
    if step_l is None:
        return [after - before for before, after in itertools.pairwise(edges_l)]
    first = edges_l[0] if edges_l else Fraction(0)
    whole = [((edge - first) / step_l + Fraction(1, 2)).__floor__() for edge in edges_l]
    return [(after - before) * step_l for before, after in itertools.pairwise(whole)]


def days_in(period: Period) -> int:
    """Return the days of a period. Never raises."""
    return (period.end - period.start).days


def month_name(period: Period) -> str:
    """Return a period in a few words: the month where it is one, else its days. Never raises."""
    last = calendar.monthrange(period.start.year, period.start.month)[1]
    if period.start.day == 1 and days_in(period) == last:
        return f"{period.start:%B %Y}"
    return f"{period.start:%d %b %Y} to {period.end:%d %b %Y}"
