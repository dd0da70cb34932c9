"""Orders from the search made to keep every rule exactly, and leftovers put wherever they still fit."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from dialtrue.engine.routing.route_case import RouteCase, Routes, routes_of


def mended(case: RouteCase, orders: Sequence[Sequence[int]], only: Iterable[int] | None = None) -> Routes:
    """Keep of each order what has a timetable, then insert what is left over where it costs least driving.

    Parameters
    ----------
    case : RouteCase
        Crews, days, visits.
    orders : sequence of sequence of int
        One a crew-day; may break rules, for the search sees the break only roughly.
    only : iterable of int, optional
        Visits that may be placed; all by default.

    Returns
    -------
    Routes
        Every rule kept.

    Raises
    ------
    Never raises.

    Source
    ------
    Own rule: a visit that breaks a day is taken out at the point where it breaks it.
    """
    kept: list[list[int]] = []
    for crew_day, order in enumerate(orders):
        if case.timetable(crew_day, order) is not None:
            kept.append(list(order))
            continue
        good: list[int] = []
        for number in order:
            if case.timetable(crew_day, [*good, number]) is not None:
                good.append(number)
        kept.append(good)
    placed = {number for order in kept for number in order}
    left = [number for number in (range(len(case.visits)) if only is None else sorted(only)) if number not in placed]
    visits = case.visits
    left.sort(key=lambda n: (visits[n].day is None, visits[n].window_to_s is None, visits[n].job_s, n))
    busy_s = [_busy_s(case, crew_day, order) for crew_day, order in enumerate(kept)]
    for number in left:
        place = _cheapest_place(case, kept, busy_s, number)
        if place is not None:
            crew_day, position = place
            kept[crew_day].insert(position, number)
            busy_s[crew_day] = _busy_s(case, crew_day, kept[crew_day])
    return routes_of(case, kept)


def _busy_s(case: RouteCase, crew_day: int, order: Sequence[int]) -> int:
    """Return jobs and driving of an order, waiting and break not counted."""
    legs = sum(case.legs_s(crew_day, order)) if order else 0
    return legs + sum(case.visits[number].job_s for number in order)


def _cheapest_place(
    case: RouteCase, orders: Sequence[Sequence[int]], busy_s: Sequence[int], number: int
) -> tuple[int, int] | None:
    """Return crew-day and position that add the least driving and keep every rule; None where there are none."""
    depots, job_s = len(case.crews), case.visits[number].job_s
    choices = []
    for crew_day, order in enumerate(orders):
        if not case.allowed[number, crew_day]:
            continue
        k = case.crew_days[crew_day][0]
        room_s = case.crews[k].shift_to_s - case.crews[k].shift_from_s - busy_s[crew_day] - job_s
        if room_s < 0:
            continue
        here = k
        for position in range(len(order) + 1):
            there = depots + order[position] if position < len(order) else k
            added = case.drive_s(here, depots + number) + case.drive_s(depots + number, there)
            if order:
                added -= case.drive_s(here, there)
            if added <= room_s:
                choices.append((added, crew_day, position))
            here = there
    for _, crew_day, position in sorted(choices):
        order = list(orders[crew_day])
        order.insert(position, number)
        if case.timetable(crew_day, order) is not None:
            return crew_day, position
    return None
