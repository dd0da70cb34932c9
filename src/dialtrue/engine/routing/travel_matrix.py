"""Driving between all places: from the straight line, and from a table where the utility has one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from dialtrue.domain.routing.day_shape import Place
from dialtrue.domain.routing.travel import EARTH_RADIUS_KM

FASTEST_KMH: Final = 150.0
"""Straight-line speed above which a pair of the table is counted as doubtful. [km/h] Our assumption."""


@dataclass(frozen=True, slots=True)
class Travel:
    """Driving between all places.

    ``seconds`` is int64 and ``km`` float64, both (places, places), from row to column. ``given`` tells which pairs came
    from the table; ``doubtful`` counts those that would need more than ``FASTEST_KMH`` in a straight line.
    """

    seconds: np.ndarray
    km: np.ndarray
    given: np.ndarray
    doubtful: int = 0

    def only(self, keep: Sequence[int]) -> Travel:
        """Return the travel between some of the places."""
        cut = np.ix_(np.asarray(keep, dtype=np.int64), np.asarray(keep, dtype=np.int64))
        return Travel(self.seconds[cut], self.km[cut], self.given[cut], self.doubtful)


def straight_km_matrix(places: Sequence[Place]) -> np.ndarray:
    """Return great-circle distances between all places.

    Parameters
    ----------
    places : sequence of Place
        Latitude and longitude. [degrees]

    Returns
    -------
    float64, shape (places, places)
        Symmetric to the last bit, zero on the diagonal. [km]

    Raises
    ------
    Never raises.

    Notes
    -----
    Scalar twin: ``domain.routing.travel.straight_km``.
    """
    lat, lon = (np.radians(np.array([place[axis] for place in places], dtype=np.float64)) for axis in (0, 1))
    h = np.sin((lat[:, None] - lat[None, :]) / 2) ** 2
    h += np.cos(lat)[:, None] * np.cos(lat)[None, :] * np.sin((lon[:, None] - lon[None, :]) / 2) ** 2
    return 2 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(np.minimum(h, 1.0)))


def travel_between(
    places: Sequence[Place],
    *,
    detour_factor: float,
    mean_speed_kmh: float,
    pairs: np.ndarray | None = None,
    minutes: np.ndarray | None = None,
    km: np.ndarray | None = None,
) -> Travel:
    """Return driving times in whole seconds and road lengths between all places.

    Parameters
    ----------
    places : sequence of Place
        Depots first, then sites. [degrees]
    detour_factor, mean_speed_kmh : float
        For pairs that the table does not give. [-, >= 1] [km/h, > 0]
    pairs : int64, shape (rows, 2), optional
        From and to of each row of the table; a later row wins over an earlier one.
    minutes : float64, shape (rows,)
        Driving time. NaN: not given. [min, >= 0]
    km : float64, shape (rows,)
        Road length. NaN: not given, the straight line times the detour factor stands. [km, >= 0]

    Returns
    -------
    Travel
        May be asymmetric, and need not keep the triangle inequality.

    Raises
    ------
    Never raises.
    """
    straight = straight_km_matrix(places)
    road = straight * detour_factor
    seconds = np.rint(road / mean_speed_kmh * 3600.0).astype(np.int64)
    given = np.zeros(straight.shape, dtype=bool)
    doubtful = 0
    if pairs is not None and minutes is not None and len(pairs):
        use = np.isfinite(minutes) & (pairs[:, 0] != pairs[:, 1])
        source, target = pairs[use, 0], pairs[use, 1]
        seconds[source, target] = np.rint(minutes[use] * 60.0).astype(np.int64)
        given[source, target] = True
        hours = seconds[source, target] / 3600.0
        doubtful = int(np.count_nonzero(straight[source, target] > FASTEST_KMH * hours + 0.05))
        if km is not None:
            known = use & np.isfinite(km)
            road[pairs[known, 0], pairs[known, 1]] = km[known]
    return Travel(seconds, road, given, doubtful)
