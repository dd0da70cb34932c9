"""The last hand on routes: single moves that save driving and keep every rule exactly, the break included."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from dialtrue.engine.routing.route_case import RouteCase, Routes, routes_of

_MOST_PASSES: Final = 6
_NEIGHBOURS_LOOKED_AT: Final = 5_000
"""Passes over all visits, and pairs of neighbours looked at in a pass. Our assumption: two seconds for 200 visits."""

_Change = dict[int, list[int]]


def polished(case: RouteCase, routes: Routes) -> Routes:
    """Move, exchange and turn round visits as long as that saves driving.

    Parameters
    ----------
    case : RouteCase
        Crews, days, visits.
    routes : Routes
        Kept rules; no visit is added or dropped.

    Returns
    -------
    Routes
        The same visits with as much driving or less, every rule kept. The same input gives the same routes.

    Raises
    ------
    Never raises.

    Notes
    -----
    The search sees the break as a cut in the clock; here each change is tried with the exact times. A visit is put
    beside a near one, exchanged with it, the days of the two are crossed after them, or the way between them is driven
    the other way round.

    Source
    ------
    Common moves of local search; the choice is ours.
    """
    orders = [list(order) for order in routes.orders]
    drives = [_drive_s(case, crew_day, order) for crew_day, order in enumerate(orders)]
    near = _near(case)
    for _ in range(_MOST_PASSES):
        changed = False
        for number in range(len(near)):
            for other in near[number]:
                changed |= _first_good(case, orders, drives, number, int(other))
            changed |= _alone(case, orders, drives, number)
        if not changed:
            break
    return routes_of(case, orders)


def _near(case: RouteCase) -> np.ndarray:
    """Return the nearest other visits of each, by the mean of both ways."""
    depots, count = len(case.crews), len(case.visits)
    if count < 2:
        return np.zeros((count, 0), dtype=np.int64)
    both = (case.seconds[depots:, depots:] + case.seconds[depots:, depots:].T).astype(np.float64)
    np.fill_diagonal(both, np.inf)
    keep = min(count - 1, max(6, _NEIGHBOURS_LOOKED_AT // count))
    return np.argsort(both, axis=1, kind="stable")[:, :keep]


def _drive_s(case: RouteCase, crew_day: int, order: list[int]) -> int:
    return sum(case.legs_s(crew_day, order)) if order else 0


def _place(orders: list[list[int]], number: int) -> tuple[int, int] | None:
    """Return crew-day and position of a visit, None if it has no place."""
    return next(((day, order.index(number)) for day, order in enumerate(orders) if number in order), None)


def _first_good(case: RouteCase, orders: list[list[int]], drives: list[int], number: int, other: int) -> bool:
    """Make the first change around two visits that saves driving and keeps the rules; tell whether there was one."""
    one, two = _place(orders, number), _place(orders, other)
    if one is None or two is None:
        return False
    return any(_made(case, orders, drives, change) for change in _changes(orders, one, two))


def _alone(case: RouteCase, orders: list[list[int]], drives: list[int], number: int) -> bool:
    """Try a visit alone in the first empty day of each crew."""
    place = _place(orders, number)
    if place is None or len(orders[place[0]]) < 2:
        return False
    rest = [n for n in orders[place[0]] if n != number]
    crews: dict[int, int] = {}
    for crew_day, order in enumerate(orders):
        if not order:
            crews.setdefault(case.crew_days[crew_day][0], crew_day)
    return any(_made(case, orders, drives, {place[0]: rest, day: [number]}) for day in crews.values())


def _changes(orders: list[list[int]], one: tuple[int, int], two: tuple[int, int]) -> Iterator[_Change]:
    """Give the changes around two visits: move, exchange, turn round, cross."""
    (a, i), (b, j) = one, two
    if a == b:
        order = orders[a]
        rest = order[:i] + order[i + 1 :]
        at = rest.index(order[j])
        yield {a: [*rest[:at], order[i], *rest[at:]]}
        yield {a: [*rest[: at + 1], order[i], *rest[at + 1 :]]}
        low, high = min(i, j), max(i, j)
        yield {a: [*order[:low], *reversed(order[low : high + 1]), *order[high + 1 :]]}
        yield {a: [*order[: low + 1], *reversed(order[low + 1 : high + 1]), *order[high + 1 :]]}
        swapped = list(order)
        swapped[i], swapped[j] = swapped[j], swapped[i]
        yield {a: swapped}
        return
    first, second = orders[a], orders[b]
    without = first[:i] + first[i + 1 :]
    yield {a: without, b: [*second[:j], first[i], *second[j:]]}
    yield {a: without, b: [*second[: j + 1], first[i], *second[j + 1 :]]}
    yield {a: [*first[:i], second[j], *first[i + 1 :]], b: [*second[:j], first[i], *second[j + 1 :]]}
    yield {a: first[: i + 1] + second[j:], b: second[:j] + first[i + 1 :]}
    yield {a: first[: i + 1] + second[j + 1 :], b: second[: j + 1] + first[i + 1 :]}
    # Two days with each other, for crews that differ in shift or van.
    yield {a: list(second), b: list(first)}


def _made(case: RouteCase, orders: list[list[int]], drives: list[int], change: _Change) -> bool:
    """Make a change if it saves driving and keeps the rules; tell whether it was made."""
    after = {day: _drive_s(case, day, order) for day, order in change.items()}
    if sum(after.values()) >= sum(drives[day] for day in change):
        return False
    if any(order and case.timetable(day, order) is None for day, order in change.items()):
        return False
    for day, order in change.items():
        orders[day], drives[day] = order, after[day]
    return True
