"""The search for good routes: a general routing library over a clock from which the break is cut out."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from dialtrue.domain.errors import ExtraMissing
from dialtrue.domain.routing.clock_text import DAY_S
from dialtrue.domain.routing.day_shape import Crew
from dialtrue.engine.routing.earlier import earlier
from dialtrue.engine.routing.mending import mended
from dialtrue.engine.routing.nearest import nearest_routes
from dialtrue.engine.routing.polishing import polished
from dialtrue.engine.routing.route_case import RouteCase, Routes


@dataclass(frozen=True, slots=True)
class Search:
    """How long to look.

    Attributes
    ----------
    seconds : float
        Longest search; not looked at where ``iterations`` is given. [s, >= 0]
    iterations : int or None
        Rounds of the search: with it the same input and seed give the same routes on any machine.
    seed : int
    stop_asked : callable
        Asked between two rounds; True ends the search with the best so far.
    progress : callable or None
        ``(what, done, total)``.
    """

    seconds: float = 10.0
    iterations: int | None = None
    seed: int = 1
    stop_asked: Callable[[], bool] = lambda: False
    progress: Callable[[str, int, int], None] | None = None


@dataclass(frozen=True, slots=True)
class Found:
    """The best routes, how many rounds the search made and whether it was stopped by hand."""

    routes: Routes
    rounds: int
    stopped: bool


class _Watch:
    """Ends the search: by time, by rounds or by hand."""

    def __init__(self, search: Search, what: str) -> None:
        self._search, self._what = search, what
        self._begun = time.monotonic()
        self._told = -1
        self.rounds = 0
        self.stopped = False

    def __call__(self, best_cost: int) -> bool:
        """Be asked by the library before each round."""
        search = self._search
        if search.stop_asked():
            self.stopped = True
            return True
        elapsed_s = time.monotonic() - self._begun
        done, total = (self.rounds, search.iterations) if search.iterations is not None else (elapsed_s, search.seconds)
        if done >= total:
            self._tell(1, 1)
            return True
        self._tell(done, total)
        self.rounds += 1
        return False

    def _tell(self, done: float, total: float) -> None:
        """Say how far it is, a hundred times at most."""
        hundredth = int(100 * done / total) if total else 100
        if self._search.progress is not None and hundredth > self._told:
            self._told = hundredth
            self._search.progress(self._what, min(hundredth, 100), 100)


def found_routes(
    case: RouteCase, search: Search, *, later_day_s: float = 0.0, what: str = "Looking for routes (%)"
) -> Found:
    """Place as many visits as possible, with as little driving as possible.

    Parameters
    ----------
    case : RouteCase
        Crews, days, visits, driving.
    search : Search
        How long to look, and the seed.
    later_day_s : float
        What a crew-day counts as driving for each day it lies later. [s, >= 0]
    what : str
        Name of the work for the progress.

    Returns
    -------
    Found
        Every rule kept. Never fewer visits than the order by nearness places and, with as many, never more driving.

    Raises
    ------
    ExtraMissing
        The routing library is not installed.

    Notes
    -----
    Each crew-day is a vehicle, each visit may be left out at a price above any drive; a visit with an agreed day at
    twice that. The library knows no break between two jobs: it searches on a clock from which each crew's break is cut
    out at the middle of the break's window, with shifts that much shorter, and ``mended`` then lays the exact times.

    Source
    ------
    Iterated local search of the package pyvrp. Prices: our assumption.
    """
    by_nearness = nearest_routes(case)
    if not case.visits:
        return Found(by_nearness, 0, False)
    watch = _Watch(search, what)
    orders = _searched(case, search.seed, watch, later_day_s)
    best = max((mended(case, orders), by_nearness), key=lambda found: _worth(case, found))
    done = earlier(case, polished(case, best), later_day_s=later_day_s)
    return Found(done, watch.rounds, watch.stopped)


def _worth(case: RouteCase, routes: Routes) -> tuple[int, int, int]:
    """Rank routes: agreed days kept, visits placed, driving saved."""
    agreed = sum(case.visits[number].day is not None for order in routes.orders for number in order)
    return agreed, routes.placed, -routes.travel_s


def _searched(case: RouteCase, seed: int, watch: _Watch, later_day_s: float) -> list[list[int]]:
    """Run the library and return an order for each crew-day."""
    try:
        # Imported here: an extra, and slow to import.
        from pyvrp import Client, Depot, Location, ProblemData, VehicleType
        from pyvrp.solve import solve
    except ImportError as error:
        raise ExtraMissing(what="The routes", package="pyvrp", extra="routes") from error
    depots, seconds = len(case.crews), case.seconds
    first_day = min(day for _, day in case.crew_days)
    days = sorted({day for _, day in case.crew_days})
    price = int(4 * seconds.max() + later_day_s * len(days) + 3600)
    early, late = _windows_without_break(case)
    carried = any(crew.most_stops is not None or crew.most_endpoints is not None for crew in case.crews)
    clients = [
        Client(
            location=depots + number,
            delivery=[1, visit.endpoints] if carried else [],
            service_duration=visit.job_s,
            tw_early=early[number],
            tw_late=late[number],
            prize=price if visit.day is None else 2 * price,
            required=False,
        )
        for number, visit in enumerate(case.visits)
    ]
    profiles: dict[bytes, int] = {}
    distances = []
    vehicles = []
    free = sum(visit.endpoints for visit in case.visits) + 1
    for crew_day, (k, day) in enumerate(case.crew_days):
        crew, allowed = case.crews[k], case.allowed[:, crew_day]
        key = allowed.tobytes()
        if key not in profiles:
            profiles[key] = len(distances)
            distances.append(_with_barred(seconds, depots, allowed, 3 * price))
        vehicles.append(
            VehicleType(
                num_available=1,
                capacity=[crew.most_stops or len(clients), crew.most_endpoints or free] if carried else [],
                start_depot=k,
                end_depot=k,
                fixed_cost=int(later_day_s * days.index(day)) if day != first_day else 0,
                tw_early=crew.shift_from_s,
                tw_late=crew.shift_to_s - crew.break_s if _cuts_clock(crew) else crew.shift_to_s,
                profile=profiles[key],
            )
        )
    data = ProblemData(
        [Location(0, 0) for _ in range(len(seconds))], clients, [Depot(k) for k in range(depots)], vehicles,
        distances, [seconds] * len(distances),
    )  # fmt: skip
    best = solve(data, watch, seed=seed, collect_stats=False, display=False).best
    orders: list[list[int]] = [[] for _ in vehicles]
    for route in best.routes():
        orders[route.vehicle_type()] = [activity.idx for activity in route if activity.is_client()]
    return orders


def _with_barred(seconds: np.ndarray, depots: int, allowed: np.ndarray, barred: int) -> np.ndarray:
    """Return the driving as cost, dearer than any price to and from the visits that this crew-day may not make."""
    if allowed.all():
        return seconds
    cost = seconds.copy()
    never = depots + np.flatnonzero(~allowed)
    cost[never, :] = barred
    cost[:, never] = barred
    np.fill_diagonal(cost, 0)
    return cost


def _cuts_clock(crew: Crew) -> bool:
    """Tell whether a full day of the crew holds the break; one that can end by its latest start need not."""
    return crew.has_break and crew.shift_to_s - crew.break_s > crew.break_to_s


def _windows_without_break(case: RouteCase) -> tuple[list[int], list[int]]:
    """Map each window onto the clock without break, narrowed to what suits every crew."""
    cuts = {((crew.break_from_s + crew.break_to_s) // 2, crew.break_s) for crew in case.crews if _cuts_clock(crew)}
    if not all(_cuts_clock(crew) for crew in case.crews):
        cuts.add((DAY_S, 0))

    def mapped(at_s: int, cut: tuple[int, int]) -> int:
        return at_s if at_s <= cut[0] else max(cut[0], at_s - cut[1])

    early, late = [], []
    for visit in case.visits:
        low = 0 if visit.window_from_s is None else max(mapped(visit.window_from_s, cut) for cut in cuts)
        high = DAY_S if visit.window_to_s is None else min(mapped(visit.window_to_s, cut) for cut in cuts)
        early.append(min(low, high))
        late.append(high)
    return early, late
