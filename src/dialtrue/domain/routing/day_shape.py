"""What a day is made of: a crew with its shift, a visit with its window, a stop with its times."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

Place = tuple[float, float]
"""Latitude and longitude. [degrees, WGS 84]"""


@dataclass(frozen=True, slots=True)
class Crew:
    """A crew and its van. Times are seconds after local midnight.

    Attributes
    ----------
    shift_from_s, shift_to_s : int
        The van leaves its depot at the earliest, is back at the latest. [s]
    break_s : int
        Length of the break; 0: none. [s]
    break_from_s, break_to_s : int
        Earliest and latest start of the break. [s]
    most_stops, most_endpoints : int or None
        Most visits in a day, most endpoints aboard; None: no limit.
    """

    name: str
    shift_from_s: int
    shift_to_s: int
    break_s: int
    break_from_s: int
    break_to_s: int
    skills: frozenset[str]
    depot: Place
    most_stops: int | None = None
    most_endpoints: int | None = None

    @property
    def has_break(self) -> bool:
        """Tell whether the break lies within the shift at all."""
        return self.break_s > 0 and self.break_to_s > self.shift_from_s and self.break_from_s < self.shift_to_s


@dataclass(frozen=True, slots=True)
class Visit:
    """One site to go to.

    Attributes
    ----------
    place : Place or None
        None: the site has no coordinates.
    job_s : int
        Time on site. [s, >= 0]
    window_from_s, window_to_s : int or None
        Work begins in between; None: any time. [s after local midnight]
    day : date or None
        The day agreed with the customer; None: any day.
    endpoints, parts : int
        Endpoints to be fitted there, and pieces to be carried there in all.
    """

    site: str
    address: str
    place: Place | None
    mount: str
    registers: int
    job_s: int
    window_from_s: int | None = None
    window_to_s: int | None = None
    day: dt.date | None = None
    skills: frozenset[str] = frozenset()
    endpoints: int = 1
    parts: int = 0
    serials: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Stop:
    """One visit in a timetable; times are seconds after local midnight.

    ``break_at_s`` is the start of a break taken before this visit: at the place of the stop before, or on arrival.
    """

    visit: int
    travel_s: int
    arrive_s: int
    start_s: int
    leave_s: int
    break_at_s: int | None = None
    break_s: int = 0


@dataclass(frozen=True, slots=True)
class CrewDay:
    """What one crew does on one day."""

    crew: Crew
    day: dt.date
    depart_s: int
    stops: tuple[Stop, ...]
    home_travel_s: int
    return_s: int

    @property
    def travel_s(self) -> int:
        """Driving of the whole day, the way home included. [s]"""
        return sum(stop.travel_s for stop in self.stops) + self.home_travel_s


@dataclass(frozen=True, slots=True)
class NoPlace:
    """A visit that is in no route, and why."""

    site: str
    address: str
    reason: str
    says: str
