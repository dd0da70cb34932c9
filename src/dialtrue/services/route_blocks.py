"""Roads between depots and sites, and a programme planned block of days by block of days."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
import pyarrow as pa

from dialtrue.domain.errors.routes import DistancesOfNowhere
from dialtrue.domain.routing.day_shape import Crew, CrewDay, NoPlace, Place, Stop, Visit
from dialtrue.domain.routing.reasons import never_fits
from dialtrue.domain.routing.route_settings import RouteSettings
from dialtrue.domain.routing.routes_result import RouteDay, RoutesSummary
from dialtrue.domain.routing.timetable import longest_useful_s
from dialtrue.engine.routing.blocks import MOST_AT_ONCE, along_the_town, day_blocks
from dialtrue.engine.routing.lower_bound import DrivingBound, least_driving
from dialtrue.engine.routing.nearest import nearest_routes
from dialtrue.engine.routing.route_case import RouteCase, Routes
from dialtrue.engine.routing.search import Found, Search, found_routes
from dialtrue.engine.routing.travel_matrix import Travel, travel_between

DEPOT = "depot:"
"""What a depot is called in the distance table, before the crew's name."""


class Roads:
    """Driving between depots and sites, worked out for the part of them that is asked for."""

    def __init__(
        self,
        crews: tuple[Crew, ...],
        visits: tuple[Visit, ...],
        settings: RouteSettings,
        distances: pa.Table | None,
        *,
        file: str,
    ) -> None:
        """Match the table's names with places; raises ``DistancesOfNowhere`` where none match."""
        self.crews, self.visits, self.settings = crews, visits, settings
        self.said: list[str] = []
        self._pairs = np.zeros((0, 2), dtype=np.int64)
        self._minutes = self._km = np.zeros(0)
        if distances is not None and distances.num_rows:
            self._match(distances, file)

    def _match(self, distances: pa.Table, file: str) -> None:
        number = {f"{DEPOT}{crew.name}": k for k, crew in enumerate(self.crews)}
        number |= {visit.site: len(self.crews) + k for k, visit in enumerate(self.visits)}
        ends = [distances[name].to_pylist() for name in ("from_site", "to_site")]
        pairs = np.array([[number.get(name, -1) for name in column] for column in ends], dtype=np.int64).T
        known = (pairs >= 0).all(axis=1)
        if not known.any():
            seen = " and ".join(dict.fromkeys(column[0] for column in ends))
            raise DistancesOfNowhere(file=file, rows=f"{distances.num_rows:,}", seen=seen)
        strangers = {name for column in ends for name in column if name.startswith(DEPOT) and name not in number}
        if strangers:
            self.said.append(f"{file} names depots of no crew that goes out: {', '.join(sorted(strangers)[:5])}.")
        self._pairs = pairs[known]
        self._minutes, self._km = (
            distances[name].to_numpy(zero_copy_only=False).astype(np.float64)[known] for name in ("minutes", "km")
        )
        keys = self._pairs[:, 0] * (len(self.crews) + len(self.visits)) + self._pairs[:, 1]
        twice = len(keys) - len(np.unique(keys))
        if twice:
            self.said.append(f"{file} gives {twice:,} pairs twice: the later row stands.")

    def between(self, visits: Sequence[int]) -> Travel:
        """Return the driving between all depots, first, and some of the visits."""
        depots = len(self.crews)
        places: list[Place] = [crew.depot for crew in self.crews]
        places += [place for k in visits if (place := self.visits[k].place) is not None]
        here = np.full(depots + len(self.visits), -1, dtype=np.int64)
        here[:depots] = np.arange(depots)
        here[depots + np.asarray(visits, dtype=np.int64)] = depots + np.arange(len(visits))
        pairs = here[self._pairs]
        use = (pairs >= 0).all(axis=1)
        return travel_between(
            places, detour_factor=self.settings.detour_factor, mean_speed_kmh=self.settings.mean_speed_kmh,
            pairs=pairs[use], minutes=self._minutes[use], km=self._km[use],
        )  # fmt: skip


@dataclass(slots=True)
class PlannedBlocks:
    """What all blocks give together."""

    crew_days: int
    days: list[RouteDay] = field(default_factory=list)
    no_place: list[NoPlace] = field(default_factory=list)
    nearest_placed: int = 0
    nearest_s: int = 0
    bounds: list[DrivingBound] = field(default_factory=list)
    pairs: int = 0
    pairs_given: int = 0
    registers: int = 0
    rounds: int = 0
    stopped: bool = False

    def summary(self, *, visits: int, done: int, seed: int) -> RoutesSummary:
        """Add up the figures that stand first."""
        stops = [stop for day in self.days for stop in day.times.stops]
        waits = [stop.start_s - stop.arrive_s - _break_on_arrival_s(stop) for stop in stops]
        return RoutesSummary(
            visits=visits, placed=len(stops), done=done, registers=self.registers, crew_days=self.crew_days,
            used=len(self.days), travel_s=sum(day.times.travel_s for day in self.days),
            travel_km=sum(day.travel_km for day in self.days),
            jobs_s=sum(stop.leave_s - stop.start_s for stop in stops),
            waiting_s=sum(waits), nearest_placed=self.nearest_placed, nearest_s=self.nearest_s,
            bound_s=sum(bound.seconds for bound in self.bounds),
            bound_by=" and ".join(dict.fromkeys(bound.by for bound in self.bounds)),
            least_crew_days=sum(bound.least_crew_days for bound in self.bounds), blocks=max(1, len(self.bounds)),
            pairs=self.pairs, pairs_given=self.pairs_given, rounds=self.rounds, seed=seed, stopped=self.stopped,
        )  # fmt: skip


def _break_on_arrival_s(stop: Stop) -> int:
    """Return the break if it lies between arrival and start."""
    return stop.break_s if stop.break_at_s is not None and stop.break_at_s >= stop.arrive_s else 0


def plan_blocks(roads: Roads, days: tuple[dt.date, ...], search: Search, *, later_day_s: float) -> PlannedBlocks:
    """Plan a programme.

    Parameters
    ----------
    roads : Roads
        Crews, visits and the driving between them.
    days : tuple of date
        Days on which crews go out.
    search : Search
        How long to look; its seconds or rounds are shared by the blocks.
    later_day_s : float
        What a crew-day counts as driving for each day that it lies later. [s]

    Returns
    -------
    PlannedBlocks
        Days in order of day and crew; only those with a visit.

    Raises
    ------
    ExtraMissing
        The routing library is not installed.

    Notes
    -----
    Up to ``MOST_AT_ONCE`` visits make one block: every crew-day is a vehicle and every visit may go to any of them. A
    longer programme is cut into blocks of days; each takes its share of the visits along a curve through the town, so
    that a block works in one part of it, the visits agreed for its days, and what the block before could not place.

    Source
    ------
    Our own rule.
    """
    result = PlannedBlocks(crew_days=len(days) * len(roads.crews))
    visits = roads.visits
    agreed = [k for k, visit in enumerate(visits) if visit.day is not None]
    free = [k for k, visit in enumerate(visits) if visit.day is None]
    blocks = day_blocks(len(days), len(visits))
    queue = free
    if len(blocks) > 1:
        order = along_the_town([place for k in free if (place := visits[k].place) is not None])
        queue = [free[k] for k in order]
    days_left = len(days)
    for number, block in enumerate(blocks):
        own_days = days[block.start : block.stop]
        share = -(-len(queue) * len(block) // days_left) if days_left else 0
        taken = queue[: min(share, MOST_AT_ONCE)]
        days_left -= len(block)
        mine = [k for k in agreed if visits[k].day in own_days]
        if number == 0:
            mine += [k for k in agreed if visits[k].day not in days]
        part = _share_of(search, len(blocks))
        what = "Looking for routes (%)" if len(blocks) == 1 else f"Looking for routes, {own_days[0]:%d %b} on (%)"
        left = _plan_one(
            result, roads, sorted([*taken, *mine]), days, own_days, part, later_day_s=later_day_s, what=what
        )
        queue = [k for k in left if visits[k].day is None] + queue[len(taken) :]
        result.no_place += [_no_room(visits[k]) for k in left if visits[k].day is not None]
    result.no_place += [_no_room(visits[k]) for k in queue]
    result.days.sort(key=lambda day: (day.times.day, roads.crews.index(day.times.crew)))
    return result


def _share_of(search: Search, blocks: int) -> Search:
    """Give one block its share of the search."""
    rounds = None if search.iterations is None else -(-search.iterations // blocks)
    return replace(search, seconds=search.seconds / blocks, iterations=rounds)


def _no_room(visit: Visit) -> NoPlace:
    when = f" on {visit.day}" if visit.day is not None else ""
    return NoPlace(visit.site, visit.address, "no_room", f"the crews' time{when} is taken up by other visits")


def _plan_one(
    result: PlannedBlocks,
    roads: Roads,
    chosen: list[int],
    all_days: tuple[dt.date, ...],
    days: tuple[dt.date, ...],
    search: Search,
    *,
    later_day_s: float,
    what: str,
) -> list[int]:
    """Plan one block; add what it gives to the result and return the visits that found no room."""
    travel, depots = roads.between(chosen), len(roads.crews)
    crews = range(depots)
    can: list[int] = []
    for k, number in enumerate(chosen):
        out_s, home_s = travel.seconds[:depots, depots + k].tolist(), travel.seconds[depots + k, :depots].tolist()
        never = never_fits(roads.visits[number], roads.crews, all_days, out_s=out_s, home_s=home_s)
        if never is None:
            can.append(k)
        else:
            result.no_place.append(never)
    travel = travel.only([*crews, *(depots + k for k in can)])
    numbers = [chosen[k] for k in can]
    case = RouteCase(
        roads.crews, tuple((k, day) for day in days for k in crews), tuple(roads.visits[n] for n in numbers),
        travel.seconds,
    )  # fmt: skip
    found = found_routes(case, search, later_day_s=later_day_s, what=what)
    tell = search.progress or _silent
    bounding = what.replace("Looking for routes", "Least driving")
    tell(bounding, 0, 100)
    _add(result, case, travel, found, numbers)
    tell(bounding, 100, 100)
    if travel.doubtful:
        roads.said.append(
            f"{travel.doubtful:,} pairs of the distance table ask for more than 150 km/h; taken as given."
        )
    return [numbers[k] for k in found.routes.left]


def _silent(what: str, done: int, total: int) -> None:
    """Tell nobody."""


def _add(result: PlannedBlocks, case: RouteCase, travel: Travel, found: Found, numbers: list[int]) -> None:
    """Add a block's days, yardsticks and counts."""
    routes, depots = found.routes, len(case.crews)
    for crew_day, times in enumerate(routes.days):
        if not times.stops:
            continue
        path = [case.crew_days[crew_day][0], *(depots + n for n in routes.orders[crew_day])]
        legs = [*pairwise(path), (path[-1], path[0])]
        km = [float(travel.km[leg]) for leg in legs]
        result.pairs += len(legs)
        result.pairs_given += sum(bool(travel.given[leg]) for leg in legs)
        result.registers += sum(case.visits[n].registers for n in routes.orders[crew_day])
        result.days.append(RouteDay(_renumbered(times, numbers), tuple(km[:-1]), km[-1]))
    placed = [n for order in routes.orders for n in order]
    nearest = nearest_routes(case, placed)
    result.nearest_placed += nearest.placed
    result.nearest_s += nearest.travel_s
    if placed:
        result.bounds.append(_bound(case, travel, routes, placed))
    result.rounds += found.rounds
    result.stopped |= found.stopped


def _renumbered(times: CrewDay, numbers: list[int]) -> CrewDay:
    """Point the stops at the programme's visits in place of the block's."""
    return replace(times, stops=tuple(replace(stop, visit=numbers[stop.visit]) for stop in times.stops))


def _bound(case: RouteCase, travel: Travel, routes: Routes, placed: list[int]) -> DrivingBound:
    """Return the least driving of any routes for the visits that have a place."""
    depots = len(case.crews)
    only = travel.only([*range(depots), *(depots + n for n in sorted(placed))])
    longest_home_s = int(only.seconds[depots:, :depots].max())
    crews = [case.crews[k] for k, _ in case.crew_days]
    return least_driving(
        only.seconds, depots, most_crew_days=len(crews),
        jobs_s=np.array([case.visits[n].job_s for n in sorted(placed)], dtype=np.float64),
        usable_s=np.array([longest_useful_s(crew, home_s=longest_home_s) for crew in crews], dtype=np.float64),
        most_stops=np.array([crew.most_stops or np.inf for crew in crews], dtype=np.float64),
        endpoints=np.array([case.visits[n].endpoints for n in sorted(placed)], dtype=np.float64),
        most_endpoints=np.array([crew.most_endpoints or np.inf for crew in crews], dtype=np.float64),
    )  # fmt: skip
