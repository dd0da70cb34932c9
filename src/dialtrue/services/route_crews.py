"""Crews from their table, or the one crew that there is without it; the days on which they go out."""

from __future__ import annotations

import datetime as dt
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import pyarrow as pa

from dialtrue.domain.contracts import CREWS
from dialtrue.domain.errors.routes import NoCrew, UnknownCrew
from dialtrue.domain.routing.clock_text import seconds_of
from dialtrue.domain.routing.day_shape import Crew, Place, Visit
from dialtrue.domain.routing.route_settings import WEEKDAYS, RouteSettings

DEFAULT_CREW: Final = "Crew 1"


@dataclass(slots=True)
class CrewsFound:
    """Crews that can go out, and what is to be said of the others."""

    crews: list[Crew] = field(default_factory=list)
    said: list[str] = field(default_factory=list)


def crews_of(
    table: pa.Table | None,
    *,
    file: str,
    visits: Sequence[Visit],
    settings: RouteSettings,
    only: Sequence[str] = (),
) -> CrewsFound:
    """Return the crews.

    Parameters
    ----------
    table : pa.Table or None
        Contract table ``crews``; None: one crew on the contract's shift, with every skill that a visit asks for.
    file : str
        Its name, for errors.
    visits : sequence of Visit
        Tell where the middle of the sites is, for crews without a depot.
    settings : RouteSettings
        May hold the depot.
    only : sequence of str
        Names of crews that go out; all by default.

    Returns
    -------
    CrewsFound
        A crew whose shift or break cannot be read is left out and said.

    Raises
    ------
    NoCrew
        No crew is left.
    UnknownCrew
        ``only`` names a crew that is not there.
    """
    found = CrewsFound()
    middle = _middle(visits, settings) if visits else (0.0, 0.0)
    defaults = {column.name: column.default for column in CREWS.columns}
    rows = [dict.fromkeys(defaults)] if table is None else table.to_pylist()
    everything = frozenset(skill for visit in visits for skill in visit.skills)
    without_depot = 0
    for row in rows:
        full = {name: row.get(name) if row.get(name) is not None else defaults[name] for name in defaults}
        name = full["crew"] or DEFAULT_CREW
        why = _fault(full) or ("is named twice; the first row stands" if _named(found, name) else "")
        if why:
            found.said.append(f"Crew {name} {why}. It is left out.")
            continue
        crew, has_depot = _crew(name, full, middle)
        if table is None:
            crew = _skilled(crew, everything)
        without_depot += not has_depot
        found.crews.append(crew)
    if only:
        names = [crew.name for crew in found.crews]
        for wanted in only:
            if wanted not in names:
                raise UnknownCrew(crew=wanted[:60], crews=", ".join(names) or "none")
        found.crews = [crew for crew in found.crews if crew.name in only]
    if not found.crews:
        raise NoCrew(file=file, why=" ".join(found.said[:3]) or "The table has no row.")
    if without_depot and settings.depot_latitude is None:
        whose = "The crew has" if without_depot == 1 else f"{without_depot} crews have"
        found.said.append(f"{whose} no depot: the middle of the sites stands for it.")
    return found


def _named(found: CrewsFound, name: str) -> bool:
    return any(crew.name == name for crew in found.crews)


def _fault(row: dict[str, Any]) -> str:
    """Say what makes a row unusable, or nothing."""
    times: dict[str, int] = {}
    for name in ("shift_from", "shift_to", "break_from", "break_to"):
        seconds = seconds_of(str(row[name]))
        if seconds is None:
            return f"has {name} {str(row[name])[:20]!r}, which is no time of day such as 07:30"
        times[name] = seconds
    if times["shift_to"] <= times["shift_from"]:
        return f"has a shift that ends ({row['shift_to']}) before it begins ({row['shift_from']})"
    if times["break_to"] < times["break_from"]:
        return f"has a break that may begin until {row['break_to']} but not before {row['break_from']}"
    if 60 * int(row["break_minutes"]) >= times["shift_to"] - times["shift_from"]:
        return "has a break as long as its shift"
    if (row["depot_latitude"] is None) != (row["depot_longitude"] is None):
        return "has a depot with latitude or longitude only"
    return ""


def _crew(name: str, row: dict[str, Any], middle: Place) -> tuple[Crew, bool]:
    """Build a crew from a row that has no fault, and tell whether it has a depot of its own."""
    own = row["depot_latitude"] is not None
    at = {key: seconds_of(str(row[key])) or 0 for key in ("shift_from", "shift_to", "break_from", "break_to")}
    crew = Crew(
        name=name, shift_from_s=at["shift_from"], shift_to_s=at["shift_to"], break_s=60 * int(row["break_minutes"]),
        break_from_s=at["break_from"], break_to_s=at["break_to"], skills=frozenset((row["skills"] or "").split()),
        depot=(row["depot_latitude"], row["depot_longitude"]) if own else middle,
        most_stops=row["most_stops"], most_endpoints=row["most_endpoints"],
    )  # fmt: skip
    return crew, own


def _skilled(crew: Crew, skills: frozenset[str]) -> Crew:
    return replace(crew, skills=skills)


def _middle(visits: Sequence[Visit], settings: RouteSettings) -> Place:
    """Return the depot of the settings, or the middle of the sites."""
    if settings.depot_latitude is not None and settings.depot_longitude is not None:
        return settings.depot_latitude, settings.depot_longitude
    places = [visit.place for visit in visits if visit.place is not None]
    return statistics.median(place[0] for place in places), statistics.median(place[1] for place in places)


def days_out(first: dt.date, count: int, settings: RouteSettings) -> tuple[dt.date, ...]:
    """Return the days on which crews go out.

    Parameters
    ----------
    first : date
        Taken whatever day of the week it is.
    count : int
        How many days. [>= 1]
    settings : RouteSettings
        Working days of the week and holidays, for the days after the first.

    Returns
    -------
    tuple of date

    Raises
    ------
    Never raises.

    Examples
    --------
    >>> [day.isoformat() for day in days_out(dt.date(2026, 5, 8), 2, RouteSettings())]
    ['2026-05-08', '2026-05-11']
    """
    days, day = [first], first
    # Holidays are a finite list, so that every year has a working day.
    while len(days) < count:
        day += dt.timedelta(days=1)
        if WEEKDAYS[day.weekday()] in settings.work_days and day.isoformat() not in settings.holidays:
            days.append(day)
    return tuple(days)
