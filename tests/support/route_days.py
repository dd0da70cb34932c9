"""Crews, visits and days for the tests of the routes, and a checker that works the times out by itself."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Callable, Sequence

import numpy as np

from dialtrue.domain.routing.day_shape import Crew, CrewDay, Visit
from dialtrue.engine.routing.route_case import RouteCase

DAY = dt.date(2026, 5, 4)
H = 3600


def crew(name: str = "North", **changes: object) -> Crew:
    """Return a crew on the shipped shift, with some things changed."""
    told: dict[str, object] = {
        "name": name, "shift_from_s": 27_000, "shift_to_s": 16 * H, "break_s": 1800, "break_from_s": 41_400,
        "break_to_s": 13 * H, "skills": frozenset(), "depot": (39.5, -41.2),
    }  # fmt: skip
    return Crew(**(told | changes))  # type: ignore[arg-type]


def visit(site: str = "S1", **changes: object) -> Visit:
    """Return a visit of twenty minutes, with some things changed."""
    told: dict[str, object] = {
        "site": site, "address": "", "place": (39.5, -41.2), "mount": "pit", "registers": 1, "job_s": 1200,
    }  # fmt: skip
    return Visit(**(told | changes))  # type: ignore[arg-type]


def faults(day: CrewDay, visits: Sequence[Visit], drive_s: Callable[[int | None, int | None], int]) -> list[str]:
    """Work a day out from its order and breaks alone; say what is wrong. ``None`` is the depot."""
    who, found = day.crew, []
    now, here, rested = day.depart_s, None, False
    if now < who.shift_from_s:
        found.append("leaves before the shift")
    if day.stops and day.stops[0].break_at_s is not None and day.stops[0].break_at_s < day.depart_s:
        rested = True
        if day.stops[0].break_at_s < who.shift_from_s or day.stops[0].break_at_s + who.break_s > day.depart_s:
            found.append("break before the first drive does not fit")
    for place, stop in enumerate(day.stops):
        what = visits[stop.visit]
        leg = drive_s(here, stop.visit)
        if stop.travel_s != leg:
            found.append(f"{what.site}: drive {stop.travel_s}, not {leg}")
        took = stop.break_at_s is not None
        if took and not (place == 0 and rested):
            at = stop.break_at_s or 0
            if rested or stop.break_s != who.break_s:
                found.append(f"{what.site}: a second break, or of another length")
            if at < now:
                found.append(f"{what.site}: break during the job before")
            if not (who.break_from_s <= at <= who.break_to_s):
                found.append(f"{what.site}: break outside its window")
            if at < stop.arrive_s:
                if stop.arrive_s < at + who.break_s + leg:
                    found.append(f"{what.site}: break and drive overlap")
            elif stop.arrive_s < now + leg or stop.start_s < at + who.break_s:
                found.append(f"{what.site}: work begins in the break")
            rested = True
        if stop.arrive_s < now + leg:
            found.append(f"{what.site}: arrives before it can")
        if stop.start_s < stop.arrive_s or stop.leave_s != stop.start_s + what.job_s:
            found.append(f"{what.site}: times in disorder")
        if what.window_from_s is not None and stop.start_s < what.window_from_s:
            found.append(f"{what.site}: before its window")
        if what.window_to_s is not None and stop.start_s > what.window_to_s:
            found.append(f"{what.site}: after its window")
        if who.has_break and not rested and stop.leave_s > who.break_to_s:
            found.append(f"{what.site}: no break by its latest start")
        if not what.skills <= who.skills:
            found.append(f"{what.site}: no skill")
        if what.day is not None and what.day != day.day:
            found.append(f"{what.site}: wrong day")
        now, here = stop.leave_s, stop.visit
    if day.return_s != now + drive_s(here, None) or day.return_s > who.shift_to_s:
        found.append("is back too late, or at another time than said")
    if who.most_stops is not None and len(day.stops) > who.most_stops:
        found.append("too many stops")
    if who.most_endpoints is not None and sum(visits[s.visit].endpoints for s in day.stops) > who.most_endpoints:
        found.append("too many endpoints")
    return found


def by_hand(who: Crew, visits: Sequence[Visit], order: Sequence[int], legs: Sequence[int]) -> int | None:
    """Return the earliest time back over every place of the break, or None: slow and plain."""
    best: int | None = None
    choices: list[tuple[int, str] | None] = [None]
    if who.has_break:
        choices += [(k, how) for k in range(len(order)) for how in ("drive", "arrival")]
    for choice in choices:
        now, good = who.shift_from_s, True
        for k, number in enumerate(order):
            if choice == (k, "drive"):
                now = max(now, who.break_from_s)
                good &= now <= who.break_to_s
                now += who.break_s
            now += legs[k]
            if choice == (k, "arrival"):
                now = max(now, who.break_from_s)
                good &= now <= who.break_to_s
                now += who.break_s
            what = visits[number]
            now = max(now, what.window_from_s or 0)
            good &= what.window_to_s is None or now <= what.window_to_s
            now += what.job_s
            rested = choice is not None and choice[0] <= k
            good &= rested or not who.has_break or now <= who.break_to_s
        now += legs[-1]
        if good and now <= who.shift_to_s and (best is None or now < best):
            best = now
    return best


def random_case(seed: int, *, visits: int = 6, crews: int = 2, rules: bool = True) -> RouteCase:
    """Return a small town with windows, skills and vans that do not carry everything."""
    rng = np.random.default_rng(seed)
    size = crews + visits
    place = rng.uniform(0, 3000, (size, 2))
    seconds = np.rint(np.hypot(*(place[:, None] - place[None]).transpose(2, 0, 1))).astype(np.int64)
    seconds += rng.integers(0, 200, (size, size))
    np.fill_diagonal(seconds, 0)
    team = tuple(
        crew(
            f"C{k}", skills=frozenset({"confined"} if k == 0 else ()), most_stops=int(rng.integers(3, 7)),
            most_endpoints=7, shift_to_s=int(rng.integers(12, 16)) * H,
        )
        for k in range(crews)
    )  # fmt: skip
    stops = []
    for k in range(visits):
        extra: dict[str, object] = {"job_s": int(rng.integers(600, 5400)), "endpoints": int(rng.integers(1, 3))}
        if rules and rng.random() < 0.3:
            low = int(rng.integers(8, 13)) * H
            extra |= {"window_from_s": low, "window_to_s": low + 2 * H}
        if rules and rng.random() < 0.2:
            extra["skills"] = frozenset({"confined"})
        stops.append(visit(f"S{k}", **extra))
    return RouteCase(team, tuple((k, DAY) for k in range(crews)), tuple(stops), seconds)


def best_plan(case: RouteCase) -> tuple[int, int]:
    """Try every set and every order: most visits placed, then least driving. [visits, s]"""
    count, days = len(case.visits), len(case.crew_days)
    least: list[dict[int, int]] = []
    for crew_day, (k, _) in enumerate(case.crew_days):
        who, found = case.crews[k], {0: 0}
        for size in range(1, count + 1):
            for chosen in itertools.combinations(range(count), size):
                if not all(case.allowed[n, crew_day] for n in chosen):
                    continue
                if who.most_stops is not None and size > who.most_stops:
                    continue
                if (
                    who.most_endpoints is not None
                    and sum(case.visits[n].endpoints for n in chosen) > who.most_endpoints
                ):
                    continue
                mask = sum(1 << n for n in chosen)
                for order in itertools.permutations(chosen):
                    legs = case.legs_s(crew_day, order)
                    if sum(legs) < found.get(mask, 10**9) and by_hand(who, case.visits, order, legs) is not None:
                        found[mask] = sum(legs)
        least.append(found)
    best = (0, 0)
    for masks in itertools.product(*(found.items() for found in least)):
        together = 0
        for mask, _ in masks:
            if together & mask:
                break
            together |= mask
        else:
            best = max(best, (together.bit_count(), -sum(drive for _, drive in masks)))
    assert days == len(least)
    return best[0], -best[1]
