"""Whole days of work moved to earlier days that stand empty."""

from __future__ import annotations

from dialtrue.engine.routing.route_case import RouteCase, Routes, routes_of

_MOST_PASSES = 20


def earlier(case: RouteCase, routes: Routes, *, later_day_s: float) -> Routes:
    """Move whole orders to empty crew-days on earlier days where that costs less than waiting does.

    Parameters
    ----------
    case : RouteCase
        Crews, days, visits.
    routes : Routes
        Kept rules.
    later_day_s : float
        What a crew-day counts as driving for each day that it lies later; 0: nothing is moved. [s, >= 0]

    Returns
    -------
    Routes
        The same visits; every rule kept.

    Raises
    ------
    Never raises.

    Source
    ------
    Our own rule. The search changes visit by visit and hardly ever moves a whole day.
    """
    if not later_day_s:
        return routes
    orders = [list(order) for order in routes.orders]
    days = sorted({day for _, day in case.crew_days})
    rank = [days.index(day) for _, day in case.crew_days]
    late_first = sorted(range(len(orders)), key=lambda number: (-rank[number], number))
    for _ in range(_MOST_PASSES):
        moved = False
        for source in late_first:
            if orders[source]:
                moved |= _moved(case, orders, rank, source, later_day_s)
        if not moved:
            break
    return routes_of(case, orders)


def _moved(case: RouteCase, orders: list[list[int]], rank: list[int], source: int, later_day_s: float) -> bool:
    """Move one order to the earliest empty crew-day that takes it; tell whether it was moved."""
    order, drive_s = orders[source], sum(case.legs_s(source, orders[source]))
    for target in sorted(range(len(orders)), key=lambda number: (rank[number], number)):
        if rank[target] >= rank[source]:
            return False
        if orders[target]:
            continue
        dearer_s = sum(case.legs_s(target, order)) - drive_s
        if dearer_s < later_day_s * (rank[source] - rank[target]) and case.timetable(target, order) is not None:
            orders[target], orders[source] = order, []
            return True
    return False
