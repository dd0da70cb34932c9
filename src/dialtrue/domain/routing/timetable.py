"""The times of one crew's day for a given order of visits: exact, with the break between two jobs."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from dialtrue.domain.routing.day_shape import Crew, CrewDay, Stop, Visit

_Label = tuple[Stop, "_Label | None", int]
"""A stop, the label before it, and how far the break taken lies from the middle of its window. [s]"""


def timetable(
    crew: Crew, day: dt.date, visits: Sequence[Visit], order: Sequence[int], legs_s: Sequence[int]
) -> CrewDay | None:
    """Return the earliest timetable that keeps shift, windows and break, or None where there is none.

    Parameters
    ----------
    crew : Crew
        Shift, break and depot.
    day : date
        The day, carried through.
    visits : sequence of Visit
        All visits; ``order`` points into it.
    order : sequence of int
        The visits of this day, in order.
    legs_s : sequence of int
        Driving to each visit and home again, one more than ``order``. [s, >= 0]

    Returns
    -------
    CrewDay or None
        Work at a visit begins within its window and the van is back by the end of the shift. The break is taken
        between two jobs and begins within its own window; it is due where a job ends after the latest start of the
        break. A crew whose last job ends by then takes it after that job, which costs no visit any time.

    Raises
    ------
    Never raises.

    Notes
    -----
    Two labels a stop: the earliest departure with the break still to come, and with the break behind. Whoever leaves
    earlier can do all that a later one can, so that the two suffice. Skills, agreed days and what the van carries are
    checked by ``may_serve``.

    Source
    ------
    Definition. That the break is not cut by a job, and is taken on the spot, is our assumption.
    """
    before: _Label | None = None
    behind: _Label | None = None
    fresh = True
    for place, number in enumerate(order):
        visit, leg_s = visits[number], legs_s[place]
        begun_s = crew.shift_from_s
        next_before = next_behind = None
        if fresh or before is not None:
            free_s = begun_s if before is None else before[0].leave_s
            plain = _stop(visit, number, leg_s, free_s + leg_s)
            if plain is not None and not (crew.has_break and plain.leave_s > crew.break_to_s):
                next_before = (plain, before, 0)
            for stop in _after_break(crew, visit, number, leg_s, free_s) if crew.has_break else ():
                off_s = abs(2 * (stop.break_at_s or 0) - crew.break_from_s - crew.break_to_s)
                next_behind = _sooner(next_behind, (stop, before, off_s))
        if behind is not None:
            plain = _stop(visit, number, leg_s, behind[0].leave_s + leg_s)
            if plain is not None:
                next_behind = _sooner(next_behind, (plain, behind, behind[2]))
        before, behind, fresh = next_before, next_behind, False
        if before is None and behind is None:
            return None
    return _day_of(crew, day, before or behind, legs_s)


def _sooner(one: _Label | None, other: _Label) -> _Label:
    """Return the label that leaves sooner; of two that leave together, the one whose break is nearer the middle."""
    if one is None:
        return other
    return min(one, other, key=lambda label: (label[0].leave_s, label[2]))


def _day_of(crew: Crew, day: dt.date, label: _Label | None, legs_s: Sequence[int]) -> CrewDay | None:
    """Unroll the label; leave the depot no earlier than the first visit asks for."""
    stops: list[Stop] = []
    while label is not None:
        stops.append(label[0])
        label = label[1]
    stops.reverse()
    if not stops:
        return CrewDay(crew, day, crew.shift_from_s, (), 0, crew.shift_from_s)
    home_s = stops[-1].leave_s + legs_s[-1]
    if home_s > crew.shift_to_s:
        return None
    first = stops[0]
    if first.break_at_s is None:
        stops[0] = first = Stop(first.visit, first.travel_s, first.start_s, first.start_s, first.leave_s)
    return CrewDay(crew, day, first.arrive_s - first.travel_s, tuple(stops), legs_s[-1], home_s)


def _stop(visit: Visit, number: int, leg_s: int, arrive_s: int) -> Stop | None:
    """Return the stop for an arrival, waiting for the window if need be; None where the window has closed."""
    start_s = arrive_s if visit.window_from_s is None else max(arrive_s, visit.window_from_s)
    if visit.window_to_s is not None and start_s > visit.window_to_s:
        return None
    return Stop(number, leg_s, arrive_s, start_s, start_s + visit.job_s)


def _after_break(crew: Crew, visit: Visit, number: int, leg_s: int, free_s: int) -> list[Stop]:
    """Return the stop with the break before the drive, and with the break on arrival, where each can be."""
    found = []
    on_arrival_s = max(free_s + leg_s, crew.break_from_s)
    if on_arrival_s <= crew.break_to_s:
        stop = _stop(visit, number, leg_s, on_arrival_s + crew.break_s)
        if stop is not None:
            found.append(Stop(number, leg_s, free_s + leg_s, stop.start_s, stop.leave_s, on_arrival_s, crew.break_s))
    before_drive_s = max(free_s, crew.break_from_s)
    if before_drive_s <= crew.break_to_s:
        stop = _stop(visit, number, leg_s, before_drive_s + crew.break_s + leg_s)
        if stop is not None:
            found.append(Stop(number, leg_s, stop.arrive_s, stop.start_s, stop.leave_s, before_drive_s, crew.break_s))
    return found


def may_serve(crew: Crew, day: dt.date, visit: Visit) -> bool:
    """Tell whether a crew may make a visit on a day: skills, the day agreed, endpoints aboard. Never raises."""
    return (
        visit.skills <= crew.skills
        and (visit.day is None or visit.day == day)
        and (crew.most_endpoints is None or visit.endpoints <= crew.most_endpoints)
    )


def van_carries(crew: Crew, visits: Sequence[Visit], order: Sequence[int]) -> bool:
    """Tell whether the day keeps to the van's most stops and most endpoints. Never raises."""
    if crew.most_stops is not None and len(order) > crew.most_stops:
        return False
    return crew.most_endpoints is None or sum(visits[number].endpoints for number in order) <= crew.most_endpoints


def longest_useful_s(crew: Crew, *, home_s: int) -> int:
    """Return the longest time that a crew's day can hold jobs and driving, whatever the order.

    Parameters
    ----------
    crew : Crew
    home_s : int
        Longest drive home from any visit. [s]

    Returns
    -------
    int
        With the break, the shift less the break; without it the last job ends by the latest start of the break, and
        the drive home follows. [s, >= 0]

    Raises
    ------
    Never raises.
    """
    shift_s = crew.shift_to_s - crew.shift_from_s
    if not crew.has_break:
        return max(0, shift_s)
    return max(0, shift_s - crew.break_s, min(shift_s, crew.break_to_s - crew.shift_from_s + home_s))
