"""The work plan: which crew fits which site on which day, street after street."""

from __future__ import annotations

import datetime as dt

import numpy as np

SITES_PER_STREET = 42
CREWS = ("crew-A", "crew-B", "crew-C", "crew-D")
LEAD_DAYS, TRAIL_DAYS = 14, 21
"""Fittings begin this long before the window and end this long inside it. [days; our assumption]"""


def fit_times(
    rng: np.random.Generator, sites: int, midnight_s: np.ndarray, weekday: np.ndarray
) -> list[tuple[int, str]]:
    """Return for each site, in street order, when it is fitted and by whom: crews work street after street."""
    working = midnight_s[weekday < 5] if (weekday < 5).any() else midnight_s
    streets = -(-sites // SITES_PER_STREET)
    crew_of = [street % len(CREWS) for street in range(streets)]
    queue: dict[int, list[int]] = {crew: [] for crew in range(len(CREWS))}
    for site in range(sites):
        queue[crew_of[site // SITES_PER_STREET]].append(site)
    out: list[tuple[int, str]] = [(0, "")] * sites
    for crew, own in queue.items():
        a_day = max(-(-len(own) // len(working)), 1)
        for place, site in enumerate(own):
            day, slot = divmod(place, a_day)
            if a_day == 1 and len(own) < len(working):
                day = place * len(working) // len(own)
            second = 30_600 + (slot + rng.uniform(0.1, 0.8)) * 28_800 / a_day
            out[site] = (int(working[day] + second), CREWS[crew])
    return out


def working_days(start: dt.datetime, days: int) -> tuple[dt.date, int]:
    """Return the first day on which crews fit and how many days follow, for a window of ``days`` from ``start``."""
    return start.date() - dt.timedelta(days=LEAD_DAYS), LEAD_DAYS + max(min(TRAIL_DAYS, days // 4), 1)
