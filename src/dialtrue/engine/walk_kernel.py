"""The walk of every port with its gaps bridged, in one compiled pass."""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def bridge_gaps(walk, filled, begin, end):
    """Write ``walk`` (n, days) into ``filled`` with gaps bridged straight; nan before the first and after the last.

    Rows from ``begin`` to before ``end`` are looked at.
    """
    days = walk.shape[1]
    for f in range(begin, end):
        last = -1
        for d in range(days):
            value = walk[f, d]
            if np.isnan(value):
                filled[f, d] = np.nan
                continue
            if last >= 0 and d - last > 1:
                low = walk[f, last]
                for between in range(last + 1, d):
                    filled[f, between] = low + (value - low) * (between - last) / (d - last)
            filled[f, d] = value
            last = d
