"""Driving by the straight line: great circle, detour factor, mean speed."""

from __future__ import annotations

import math
from typing import Final

from dialtrue.domain.routing.day_shape import Place

EARTH_RADIUS_KM: Final = 6371.0088
"""Mean radius of the earth, (2a + b) / 3 of WGS 84. [km]"""

KM_PER_MILE: Final = 1.609344
"""Exact: 5,280 ft of 0.3048 m. [km/mi]"""


def straight_km(one: Place, other: Place) -> float:
    """Return the great-circle distance between two places.

    Parameters
    ----------
    one, other : Place
        Latitude and longitude. [degrees]

    Returns
    -------
    float
        Distance over a sphere. [km, >= 0]

    Raises
    ------
    Never raises.

    Notes
    -----
    Haversine: h = sin²(Δφ/2) + cos φ₁ cos φ₂ sin²(Δλ/2), d = 2 R asin √h. A sphere is within 0.6 % of the ellipsoid,
    far less than the detour factor is uncertain by.

    Source
    ------
    Definition; radius from the axes of WGS 84.

    Examples
    --------
    >>> round(straight_km((0.0, 0.0), (0.0, 1.0)), 3)
    111.195
    """
    phi, psi = math.radians(one[0]), math.radians(other[0])
    half_lat = math.sin((psi - phi) / 2)
    half_lon = math.sin(math.radians(other[1] - one[1]) / 2)
    h = half_lat * half_lat + math.cos(phi) * math.cos(psi) * half_lon * half_lon
    return 2 * EARTH_RADIUS_KM * math.asin(min(1.0, math.sqrt(h)))


def distance_text(km: float, *, system: str) -> str:
    """Write a distance in km or miles, under a tenth of them in m or ft. Never raises.

    Examples
    --------
    >>> distance_text(16.09344, system="us"), distance_text(1234.5, system="metric"), distance_text(0.05, system="us")
    ('10.0\xa0mi', '1,234\xa0km', '160\xa0ft')
    """
    value, unit = (km / KM_PER_MILE, "mi") if system == "us" else (km, "km")
    if value < 0.1:
        small, unit = (km / KM_PER_MILE * 5280, "ft") if system == "us" else (km * 1000, "m")
        return f"{10 * round(small / 10)}\N{NO-BREAK SPACE}{unit}"
    return f"{value:,.1f}\N{NO-BREAK SPACE}{unit}" if value < 100 else f"{value:,.0f}\N{NO-BREAK SPACE}{unit}"
