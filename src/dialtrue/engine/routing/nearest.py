"""The order by nearness: what a crew does that always goes where it can begin soonest."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from dialtrue.engine.routing.route_case import RouteCase, Routes, routes_of


def nearest_routes(case: RouteCase, only: Iterable[int] | None = None) -> Routes:
    """Return the routes of crews that always go to the visit where they can begin soonest.

    Parameters
    ----------
    case : RouteCase
        Crews, days, visits.
    only : iterable of int, optional
        Visits to choose from; all by default.

    Returns
    -------
    Routes
        Crew-days are filled one after the other. Every rule is kept: shift, break, window, skill, what the van carries.
        Where no window asks for waiting, soonest is nearest.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition: the yardstick that the routes are compared with.
    """
    free = set(range(len(case.visits)) if only is None else only)
    depots = len(case.crews)
    opens_s = np.array([visit.window_from_s or 0 for visit in case.visits], dtype=np.int64)
    orders: list[list[int]] = []
    for crew_day, (k, _) in enumerate(case.crew_days):
        crew, order, here, now_s = case.crews[k], [], k, case.crews[k].shift_from_s
        while free:
            open_to = np.array(sorted(number for number in free if case.allowed[number, crew_day]), dtype=np.int64)
            begins_s = np.maximum(now_s + case.seconds[here, depots + open_to], opens_s[open_to])
            found = None
            for number in open_to[np.argsort(begins_s, kind="stable")].tolist():
                out_s, home_s = case.drive_s(here, depots + number), case.drive_s(depots + number, k)
                if now_s + out_s + case.visits[number].job_s + home_s > crew.shift_to_s:
                    continue
                found = case.timetable(crew_day, [*order, number])
                if found is not None:
                    break
            if found is None:
                break
            order.append(number)
            free.discard(number)
            here, now_s = depots + number, found.stops[-1].leave_s
        orders.append(order)
    return routes_of(case, orders)
