"""Sentences about routes, one wording for every medium."""

from __future__ import annotations

import datetime as dt

from dialtrue.domain.routing.routes_result import RouteDay, RoutesAnswer
from dialtrue.domain.routing.travel import distance_text
from dialtrue.domain.words import counted


def minutes_text(seconds: float) -> str:
    """Write a length of time: minutes, from two hours on hours and minutes. Never raises.

    Examples
    --------
    >>> minutes_text(5400), minutes_text(9000), minutes_text(12)
    ('90\xa0min', '2\xa0h\xa030\xa0min', '<1\xa0min')
    """
    minutes, gap = round(seconds / 60), "\N{NO-BREAK SPACE}"
    if not minutes and seconds:
        return f"<1{gap}min"
    return f"{minutes}{gap}min" if minutes < 120 else f"{minutes // 60:,}{gap}h{gap}{minutes % 60:02d}{gap}min"


def date_text(day: dt.date) -> str:
    """Write a day in full: ``Monday 4 May 2026``. Never raises."""
    return f"{day:%A} {day.day} {day:%B %Y}"


def summary_text(answer: RoutesAnswer) -> str:
    """Say first how many visits have a place and how much driving that is. Never raises."""
    figures = answer.summary
    if not figures.placed:
        return f"None of {counted(figures.visits, 'visit')} has a place."
    share = (
        f"All {figures.visits:,} visits have a place"
        if figures.placed == figures.visits
        else f"{figures.placed:,} of {figures.visits:,} visits have a place"
    )
    return (
        f"{share}: {counted(figures.used, 'crew-day')}, {minutes_text(figures.travel_s)} of driving "
        f"({distance_text(figures.travel_km, system=answer.system)})."
    )


def yardstick_sentences(answer: RoutesAnswer) -> list[str]:
    """Say how the driving compares with the order by nearness and with the least possible. Never raises."""
    figures = answer.summary
    said: list[str] = []
    if not figures.placed:
        return said
    if figures.nearest_placed < figures.placed:
        lost = figures.placed - figures.nearest_placed
        said.append(
            f"Going where one can begin soonest, the same crews would leave out {lost:,} of these visits and drive "
            f"{minutes_text(figures.nearest_s)}."
        )
    elif figures.nearest_above is not None:
        said.append(
            f"Going where one can begin soonest would take {minutes_text(figures.nearest_s)} of driving for the same "
            f"visits, {100 * figures.nearest_above:.0f} % more."
        )
    if figures.above_bound is not None:
        parts = "" if figures.blocks == 1 else f", in each of {figures.blocks} blocks of days as they are cut"
        said.append(
            f"No plan for the same visits can drive less than {minutes_text(figures.bound_s)}{parts}: these routes are "
            f"at most {100 * figures.above_bound:.1f} % above the least possible. "
            "The bound looks at neither windows nor skills."
        )
    return said


def assumption_sentence(answer: RoutesAnswer, *, detour_factor: float, mean_speed_kmh: float) -> str:
    """Say where the driving times come from. Never raises."""
    figures = answer.summary
    speed = f"{mean_speed_kmh:g} km/h" if answer.system == "metric" else f"{mean_speed_kmh / 1.609344:.0f} mph"
    line = f"the straight line times {detour_factor:g} at {speed}"
    if not figures.pairs_given:
        return f"Driving is assumed: {line}."
    if figures.pairs_given == figures.pairs:
        return "All drives come from the distance table."
    return f"{figures.pairs_given:,} of {figures.pairs:,} drives come from the distance table, the others from {line}."


def day_text(answer: RoutesAnswer, day: RouteDay) -> str:
    """Say one crew's day in a line. Never raises."""
    times = day.times
    registers = sum(answer.visits[stop.visit].registers for stop in times.stops)
    return (
        f"{counted(len(times.stops), 'visit')}, {counted(registers, 'register')}, {minutes_text(times.travel_s)} of "
        f"driving over {distance_text(day.travel_km, system=answer.system)}"
    )
