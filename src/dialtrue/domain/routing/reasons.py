"""Why a visit can have no place in a route, whatever the order: found before the search, said in words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from dialtrue.domain.routing.clock_text import clock_text
from dialtrue.domain.routing.day_shape import Crew, NoPlace, Visit
from dialtrue.domain.routing.timetable import may_serve, timetable

REASONS: Final[dict[str, str]] = {
    "no_coordinates": "no place on the map",
    "nothing_fits": "the plan finds nothing that fits",
    "bad_window": "the window cannot be read or ends before it begins",
    "other_day": "agreed for a day outside the days planned",
    "no_skill": "no crew has the skills",
    "too_many_endpoints": "more endpoints than any van carries",
    "too_long": "job and way are longer than any shift leaves",
    "window_missed": "no crew can be there within the window",
    "no_room": "no room left in the days planned",
}
"""Reasons by code, with their words for a heading; the last is the only one that more days or crews cure alone."""


def never_fits(
    visit: Visit,
    crews: Sequence[Crew],
    days: Sequence[dt.date],
    *,
    out_s: Sequence[int],
    home_s: Sequence[int],
) -> NoPlace | None:
    """Return why a visit fits in no crew's day even alone, or None where it does.

    Parameters
    ----------
    visit : Visit
        With coordinates and a readable window.
    crews, days : sequences
        Who goes out, and when.
    out_s, home_s : sequence of int
        Driving from each crew's depot to the visit and back. [s]

    Returns
    -------
    NoPlace or None
        The reason that is nearest to the matter: skills before vans, vans before time.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.
    """

    def told(reason: str, says: str) -> NoPlace:
        return NoPlace(visit.site, visit.address, reason, says)

    if visit.day is not None and visit.day not in days:
        span = f"{days[0]}" if len(days) == 1 else f"{days[0]} to {days[-1]}"
        return told("other_day", f"agreed for {visit.day}, and the days planned are {span}")
    skilled = [crew for crew in crews if visit.skills <= crew.skills]
    if not skilled:
        lacking = " ".join(sorted(visit.skills))
        return told("no_skill", f"asks for {lacking}, which no crew has together")
    day = visit.day or days[0]
    if not any(may_serve(crew, day, visit) for crew in skilled):
        most = max(crew.most_endpoints or 0 for crew in skilled)
        return told("too_many_endpoints", f"takes {visit.endpoints} endpoints, and the largest van carries {most}")

    def alone(what: Visit) -> bool:
        return any(
            may_serve(crew, day, what) and timetable(crew, day, [what], [0], (out_s[k], home_s[k])) is not None
            for k, crew in enumerate(crews)
        )

    if alone(visit):
        return None
    if not alone(replace(visit, window_from_s=None, window_to_s=None)):
        way_s = min(out + home for out, home in zip(out_s, home_s, strict=True))
        return told(
            "too_long",
            f"takes {visit.job_s / 60:,.0f} min on site and {way_s / 60:,.0f} min there and back: with the break "
            "between two jobs no shift holds that",
        )
    return told("window_missed", f"no crew's shift reaches the window {window_text(visit)} and the way back")


def window_text(visit: Visit) -> str:
    """Write a visit's window, blank where it has none. Never raises."""
    low, high = visit.window_from_s, visit.window_to_s
    if low is None and high is None:
        return ""
    if high is None:
        return f"from {clock_text(low or 0)}"
    return f"until {clock_text(high)}" if low is None else f"{clock_text(low)} to {clock_text(high)}"
