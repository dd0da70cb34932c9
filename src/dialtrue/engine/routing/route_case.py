"""One task for the search: crews, their days, visits and the driving between them; and routes with their times."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from dialtrue.domain.routing.day_shape import Crew, CrewDay, Visit
from dialtrue.domain.routing.timetable import may_serve, timetable, van_carries


@dataclass(slots=True)
class RouteCase:
    """Visits to be placed into crew-days.

    ``seconds`` is int64, (crews + visits, crews + visits): each crew's depot first, in the order of ``crews``, then the
    visits. ``allowed`` is bool, (visits, crew-days): skills, days agreed and endpoints aboard.
    """

    crews: tuple[Crew, ...]
    crew_days: tuple[tuple[int, dt.date], ...]
    visits: tuple[Visit, ...]
    seconds: np.ndarray
    allowed: np.ndarray = field(init=False)
    _rows: list[list[int]] = field(init=False)

    def __post_init__(self) -> None:
        """Work out who may go where."""
        kinds: dict[tuple[frozenset[str], dt.date | None, int], np.ndarray] = {}
        self.allowed = np.empty((len(self.visits), len(self.crew_days)), dtype=bool)
        for number, visit in enumerate(self.visits):
            kind = (visit.skills, visit.day, visit.endpoints)
            if kind not in kinds:
                kinds[kind] = np.array([may_serve(self.crews[k], day, visit) for k, day in self.crew_days], dtype=bool)
            self.allowed[number] = kinds[kind]
        self._rows = self.seconds.tolist()

    def drive_s(self, source: int, target: int) -> int:
        """Return the driving between two places of ``seconds``."""
        return self._rows[source][target]

    def legs_s(self, crew_day: int, order: Sequence[int]) -> list[int]:
        """Return the driving from the depot over the visits and back."""
        depot, depots = self.crew_days[crew_day][0], len(self.crews)
        legs, here = [], depot
        for number in order:
            legs.append(self._rows[here][depots + number])
            here = depots + number
        return [*legs, self._rows[here][depot]]

    def timetable(self, crew_day: int, order: Sequence[int]) -> CrewDay | None:
        """Return the timetable of an order, or None where it breaks a rule."""
        k, day = self.crew_days[crew_day]
        if not all(self.allowed[number, crew_day] for number in order):
            return None
        if not van_carries(self.crews[k], self.visits, order):
            return None
        return timetable(self.crews[k], day, self.visits, order, self.legs_s(crew_day, order))


@dataclass(frozen=True, slots=True)
class Routes:
    """Routes with their times: one entry a crew-day (an empty order where the crew stays), and who is left over."""

    orders: tuple[tuple[int, ...], ...]
    days: tuple[CrewDay, ...]
    left: tuple[int, ...]

    @property
    def travel_s(self) -> int:
        """Driving of all routes. [s]"""
        return sum(day.travel_s for day in self.days if day.stops)

    @property
    def placed(self) -> int:
        """Visits that have a place."""
        return sum(len(order) for order in self.orders)


def routes_of(case: RouteCase, orders: Sequence[Sequence[int]]) -> Routes:
    """Give orders their times; each must keep the rules.

    Raises
    ------
    ValueError
        An order has no timetable: a bug of the caller.
    """
    days = []
    for crew_day, order in enumerate(orders):
        day = case.timetable(crew_day, order)
        if day is None:
            raise ValueError(f"crew-day {crew_day} has no timetable")
        days.append(day)
    placed = {number for order in orders for number in order}
    left = tuple(number for number in range(len(case.visits)) if number not in placed)
    return Routes(tuple(tuple(order) for order in orders), tuple(days), left)
