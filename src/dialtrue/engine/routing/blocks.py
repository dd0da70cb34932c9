"""A long programme cut into blocks of days, each with the sites of one part of town."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np

from dialtrue.domain.routing.day_shape import Place

MOST_AT_ONCE: Final = 1_200
"""Most visits in one search. Our assumption: above it the search improves too slowly. [visits]"""

_BITS: Final = 16


def along_the_town(places: Sequence[Place]) -> np.ndarray:
    """Return an order of places in which neighbours in the order are neighbours in town.

    Parameters
    ----------
    places : sequence of Place
        Latitude and longitude. [degrees]

    Returns
    -------
    int64, shape (places,)
        Positions into ``places``, along Hilbert's curve over their bounding box; ties in the order given.

    Raises
    ------
    Never raises.

    Source
    ------
    Hilbert's curve by quadrants: definition.
    """
    if not places:
        return np.zeros(0, dtype=np.int64)
    lat, lon = (np.array([place[axis] for place in places], dtype=np.float64) for axis in (0, 1))
    lon = lon * np.cos(np.radians(lat.mean()))
    span = max(float(np.ptp(lat)), float(np.ptp(lon)), 1e-9)
    side = (1 << _BITS) - 1
    x = ((lon - lon.min()) / span * side).astype(np.int64)
    y = ((lat - lat.min()) / span * side).astype(np.int64)
    along = np.zeros(len(places), dtype=np.int64)
    half = 1 << (_BITS - 1)
    while half:
        right, upper = (x & half > 0).astype(np.int64), (y & half > 0).astype(np.int64)
        along += half * half * ((3 * right) ^ upper)
        flip = (upper == 0) & (right == 1)
        x[flip], y[flip] = side - x[flip], side - y[flip]
        turn = upper == 0
        x[turn], y[turn] = y[turn], x[turn].copy()
        half >>= 1
    return np.argsort(along, kind="stable")


def day_blocks(days: int, visits: int, *, most: int = MOST_AT_ONCE) -> list[range]:
    """Cut days into as few blocks of nearly the same length as keep the visits of each under ``most``. Never raises.

    Examples
    --------
    >>> day_blocks(5, 3000)
    [range(0, 1), range(1, 3), range(3, 5)]
    """
    count = max(1, min(days, -(-visits // most)))
    edges = [days * k // count for k in range(count + 1)]
    return [range(a, b) for a, b in pairwise(edges)]
