"""The routes as they are handed on: days with their distances, what has no place, the figures that stand first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from dialtrue.domain.routing.day_shape import CrewDay, NoPlace, Place, Visit
from dialtrue.domain.watch_result import RowProblem


@dataclass(frozen=True, slots=True)
class RouteDay:
    """One crew's day with the road lengths. ``km`` has one entry a stop, ``home_km`` is the way back. [km]"""

    times: CrewDay
    km: tuple[float, ...]
    home_km: float

    @property
    def travel_km(self) -> float:
        """Road of the whole day. [km]"""
        return sum(self.km) + self.home_km


@dataclass(frozen=True, slots=True)
class RoutesSummary:
    """The figures that stand first. Times in seconds, roads in km.

    Attributes
    ----------
    visits, placed, done : int
        Sites that ask for a visit, those that have a place, and sites left out because they are fitted already.
    crew_days, used : int
        Crew-days there are, and those with at least one visit.
    nearest_placed, nearest_s : int
        Of the same visits, how many crews place that always go where they can begin soonest, and their driving.
    bound_s : float
        No routes for the same visits drive less.
    bound_by : str
        The relaxation that gave the bound.
    blocks : int
        Blocks of days planned one after the other; the bound then holds for the visits of each block as they stand.
    pairs, pairs_given : int
        Ordered pairs of places that the routes drive, and those of them that the distance table gives.
    """

    visits: int
    placed: int
    done: int
    registers: int
    crew_days: int
    used: int
    travel_s: int
    travel_km: float
    jobs_s: int
    waiting_s: int
    nearest_placed: int
    nearest_s: int
    bound_s: float
    bound_by: str
    least_crew_days: int
    blocks: int
    pairs: int
    pairs_given: int
    rounds: int
    seed: int
    stopped: bool

    @property
    def above_bound(self) -> float | None:
        """Driving over the bound, less one: how far from the least possible at most. None where the bound is zero."""
        return self.travel_s / self.bound_s - 1.0 if self.bound_s > 0 else None

    @property
    def nearest_above(self) -> float | None:
        """Driving by nearness over these routes', less one; None where nearness leaves visits out."""
        if self.nearest_placed < self.placed or not self.travel_s:
            return None
        return self.nearest_s / self.travel_s - 1.0


@dataclass(frozen=True, slots=True)
class RoutesAnswer:
    """All that a plan of days says."""

    visits: tuple[Visit, ...]
    days: tuple[RouteDay, ...]
    no_place: tuple[NoPlace, ...]
    summary: RoutesSummary
    said: tuple[str, ...]
    bad_rows: Mapping[str, int]
    problems: tuple[RowProblem, ...]
    timezone: str
    system: str

    def place_of(self, number: int) -> Place:
        """Return the place of a visit that is in a route."""
        place = self.visits[number].place
        return (0.0, 0.0) if place is None else place
