"""The use of days on which nothing was counted, from like days, from the years before, or from alike households."""

from __future__ import annotations

import datetime as dt
import math
import statistics
import zoneinfo
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from dialtrue.domain.figures import figure
from dialtrue.domain.read_checks.estimates import LIKE_DAYS
from dialtrue.domain.settlement.course import Course

Rule = Literal["like_days", "own_history", "fleet_profile"]

KIND_NAMES: Final = ("Mon", "Tue-Thu", "Fri", "Sat", "Sun")
"""What the kinds of day in ``LIKE_DAYS`` are called."""
DAYS_LOOKED_AT: Final = 56
"""Days before a gap that may stand in for it. Our assumption: eight weeks, so that each weekday comes eight times."""
LEAST_DAYS: Final = 3
"""Like days of a kind that are needed. Our assumption."""
Z_90: Final = 1.6448536269514722
"""Half-width of a 90 % interval in standard deviations of a normal figure. Computed."""
LIKE_DRIFT: Final = (0.2, 0.55)
"""Spread below and above between the weeks before a gap and the gap itself, as shares: what days vary by does not cover
it, and summer use that the weeks before know nothing of lies above. Our assumption: with it nine in ten of the sound
registers of two invented towns, blanked for 7, 30 and 60 days, lay within."""
LONG_GAP_DAYS: Final = 14
"""Days from which on the same season of the years before goes before like days. Our assumption: in those towns its
middle miss over 30 days was smaller, and its tenth worst half of that."""
HISTORY_SPREAD: Final = 0.3
"""Spread of a period's use from one year to the next, as a share. Our assumption, held against the same town."""
HISTORY_DAYS: Final = 0.4
"""Spread of single days around a period's mean, as a share. Our assumption, held against the same blanked town."""
FLEET_SPREAD: Final = 0.8
"""Spread of a household's use around the middle one of its kind, as a share. Our assumption, held against the same
blanked town; what lies outside lies above, for no one uses less than nothing."""


@dataclass(frozen=True, slots=True)
class DayUse:
    """Use a day by kind of day, with the spread between days and the figure's own uncertainty. [L/day]

    ``kinds`` maps a kind of day to (mean, spread of days, standard error of the mean). ``drift`` is the spread of the
    whole below and above, as shares of it, that no number of days makes smaller. ``seasonal`` where it rests on the
    same season.
    """

    rule: Rule
    kinds: Mapping[str, tuple[Fraction, float, float]]
    says: str
    drift: tuple[float, float] = (0.0, 0.0)
    seasonal: bool = False

    def volume(self, first: dt.date, days: int) -> tuple[Fraction, float, float]:
        """Return the volume of some days on end, and its standard deviations below and above. [L] Never raises."""
        total, spread, error = Fraction(0), 0.0, 0.0
        weeks, rest = divmod(days, 7)
        for number in range(min(days, 7)):
            mean, sd, se = self.kinds[kind_of_day(first + dt.timedelta(days=number), self.kinds)]
            times = weeks + (number < rest)
            total += mean * times
            spread += sd * sd * times
            error += se * times
        variance, whole = spread + error * error, float(total)
        below, above = (math.sqrt(variance + (share * whole) ** 2) for share in self.drift)
        return total, below, above


def kind_of_day(day: dt.date, kinds: Mapping[str, object]) -> str:
    """Return the kind of a day: Tuesday to Thursday stand in for each other, every other weekday for itself alone.

    Never raises.

    Source
    ------
    ``WA-METERING-CODE`` (method of like days).
    """
    name = weekday_kind(day)
    return name if name in kinds else "any"


def weekday_kind(day: dt.date) -> str:
    """Return the kind of a day by its weekday alone, as the validation of reads has it. Never raises."""
    return KIND_NAMES[LIKE_DAYS[day.weekday()]]


def like_days(course: Course, *, until: dt.datetime, zone: str) -> DayUse | None:
    """Return the use a day from the days before a moment, or None where they are too few.

    Parameters
    ----------
    course : Course
        The index, sound up to ``until``.
    until : datetime
        When the count went wrong, aware.
    zone : str
        IANA zone: days are local.

    Returns
    -------
    DayUse or None
        None where fewer than ``LEAST_DAYS`` whole days stand before ``until``, as with monthly reads.

    Raises
    ------
    Never raises.

    Source
    ------
    ``WA-METERING-CODE``; ``DAYS_LOOKED_AT`` and ``LEAST_DAYS`` are our assumption.
    """
    where = zoneinfo.ZoneInfo(zone)
    last = until.astimezone(where).date()
    used: dict[str, list[Fraction]] = {}
    for back in range(1, DAYS_LOOKED_AT + 1):
        day = last - dt.timedelta(days=back)
        edges = [dt.datetime.combine(day + dt.timedelta(days=step), dt.time(), tzinfo=where) for step in (0, 1)]
        if edges[0] < course.at[0] or edges[1] > until or not _read_often(course, edges[0], edges[1]):
            continue
        volume = course.at_time(edges[1]) - course.at_time(edges[0])
        if volume >= 0:
            used.setdefault(weekday_kind(day), []).append(volume)
    everything = [volume for volumes in used.values() for volume in volumes]
    if len(everything) < LEAST_DAYS:
        return None
    kinds = {name: _figures(volumes) for name, volumes in used.items() if len(volumes) >= LEAST_DAYS}
    kinds["any"] = _figures(everything)
    says = f"like days: the same weekday in the {len(everything)} days before, Tuesday to Thursday as one kind"
    return DayUse("like_days", kinds, says, LIKE_DRIFT)


def _read_often(course: Course, start: dt.datetime, end: dt.datetime) -> bool:
    """Return whether a reading stands within a few hours of both ends of a day."""
    reach = dt.timedelta(hours=3)
    near = [any(abs(at - edge) <= reach for at in _around(course.at, edge)) for edge in (start, end)]
    return all(near)


def _around(at: Sequence[dt.datetime], moment: dt.datetime) -> Sequence[dt.datetime]:
    """Return the readings on both sides of a moment."""
    place = bisect_left(at, moment)
    return at[max(0, place - 1) : place + 1]


def _figures(volumes: Sequence[Fraction]) -> tuple[Fraction, float, float]:
    """Return mean, spread and standard error."""
    mean = sum(volumes, Fraction(0)) / len(volumes)
    spread = statistics.stdev([float(volume) for volume in volumes]) if len(volumes) > 1 else float(mean)
    return mean, spread, spread / math.sqrt(len(volumes))


def own_history(
    periods: Sequence[tuple[dt.date, dt.date, Fraction]], *, first: dt.date, last: dt.date
) -> DayUse | None:
    """Return the use a day in the same season of the years before.

    Parameters
    ----------
    periods : sequence of (start, end, litres)
        Billed before the fitting; estimated ones left out.
    first, last : date
        The days in question.

    Returns
    -------
    DayUse or None
        Periods of the same months one year earlier where there are any, else of the whole history; None without any.

    Raises
    ------
    Never raises.

    Source
    ------
    ``DEAD-METER-CODE``: the same period of last year. The spread is our assumption (``HISTORY_SPREAD``).
    """
    usable = [(start, end, volume) for start, end, volume in periods if end > start]
    if not usable:
        return None
    season = (first.timetuple().tm_yday, (last - first).days)
    alike = [period for period in usable if _same_season(period, season)]
    chosen, words = (alike, "the same season before") if alike else (usable, "all periods before")
    days = sum((end - start).days for start, end, _ in chosen)
    mean = sum((volume for _, _, volume in chosen), Fraction(0)) / days
    error = HISTORY_SPREAD * float(mean)
    says = f"own history: {words}, {len(chosen)} billed over {days} days"
    return DayUse("own_history", {"any": (mean, HISTORY_DAYS * float(mean), error)}, says, seasonal=bool(alike))


def _same_season(period: tuple[dt.date, dt.date, Fraction], season: tuple[int, int]) -> bool:
    """Return whether a period of an earlier year touches the days of the year in question."""
    start, end, _ = period
    first, length = season
    begin = start.timetuple().tm_yday
    return any(
        begin + shift < first + length and first < begin + shift + (end - start).days for shift in (-365, 0, 365)
    )


def fleet_profile(uses_l_per_day: Sequence[Fraction]) -> DayUse | None:
    """Return the use a day of the middle register of the same size in the same days; None where fewer than five tell.

    Never raises.

    Source
    ------
    Our assumption, with a wide interval (``FLEET_SPREAD``); for want of anything of the customer's own.
    """
    if len(uses_l_per_day) < 5:
        return None
    middle = Fraction(statistics.median(uses_l_per_day))
    says = (
        f"fleet profile: the middle of {len(uses_l_per_day)} registers of the size, {figure(middle, places=0)} L a day"
    )
    return DayUse("fleet_profile", {"any": (middle, 0.0, FLEET_SPREAD * float(middle))}, says)
