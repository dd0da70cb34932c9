"""The table ``[routes]`` of ``programme.toml``: how fast vans drive, how long jobs take where no plan says so."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

WEEKDAYS: Final = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")

JOB_MINUTES: Final[dict[str, float]] = {"wall": 20.0, "pole": 25.0, "pit": 20.0, "indoor": 40.0}
"""Time on site for one register, by mount, where the plan gives none. [min]

Our assumption: 20 to 40 pits or 8 to 15 indoor sites in a day of eight hours, driving included. Override by the plan's
``job_minutes``, or by ``[routes.job_minutes]``.
"""


@dataclass(frozen=True, slots=True)
class RouteSettings:
    """What the routes assume of roads and work.

    Attributes
    ----------
    detour_factor : float
        Road length over straight line. [-, 1 to 5] Our assumption, usual for street grids and villages alike.
    mean_speed_kmh : float
        Mean speed between stops, lights and turns included. [km/h, 1 to 130] Our assumption, about 20 mph: town.
    later_day_minutes : float
        What a crew-day counts, in minutes of driving, for each day that it lies later: the first days fill first.
        [min, 0 to 1440] Our assumption.
    job_minutes : mapping
        Time on site for one register by mount, where the plan gives none. [min, > 0]
    depot_latitude, depot_longitude : float or None
        Depot of the crews that name none; None: the middle of the sites.
    work_days : tuple of str
        Days of the week on which crews go out, after the first day named.
    holidays : tuple of str
        Days on which nobody goes out, ``2026-07-03``.
    """

    detour_factor: float = 1.35
    mean_speed_kmh: float = 32.0
    later_day_minutes: float = 30.0
    job_minutes: Mapping[str, float] = field(default_factory=lambda: dict(JOB_MINUTES))
    depot_latitude: float | None = None
    depot_longitude: float | None = None
    work_days: tuple[str, ...] = WEEKDAYS[:5]
    holidays: tuple[str, ...] = ()


NUMBERS: Final[dict[str, tuple[float, float]]] = {
    "detour_factor": (1.0, 5.0),
    "mean_speed_kmh": (1.0, 130.0),
    "later_day_minutes": (0.0, 1440.0),
    "depot_latitude": (-90.0, 90.0),
    "depot_longitude": (-180.0, 180.0),
}
"""Least and greatest value of each number in ``[routes]``."""
