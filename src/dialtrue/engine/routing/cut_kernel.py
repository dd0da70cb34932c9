"""The one loop of the bound that is worth compiling: prices of cuts laid on the edges inside them."""

from __future__ import annotations

import numba
import numpy as np


@numba.njit(cache=True, nogil=True)  # type: ignore[misc,untyped-decorator,unused-ignore]
def lay_inside(edge: np.ndarray, members: np.ndarray, ends: np.ndarray, prices: np.ndarray) -> None:
    """Add to each edge the price of every set that holds both its ends.

    Parameters
    ----------
    edge : float64, shape (places, places)
        Changed in place.
    members : int64, shape (all members,)
        Members of the sets, one set after the other.
    ends : int64, shape (sets + 1,)
        Where each set begins in ``members``, and the end.
    prices : float64, shape (sets,)
        What an edge inside costs more.

    Raises
    ------
    Never raises.
    """
    for number in range(len(prices)):
        first, last = ends[number], ends[number + 1]
        for i in range(first, last):
            row = members[i]
            for j in range(first, last):
                edge[row, members[j]] += prices[number]
