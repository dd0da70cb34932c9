"""Codes of distinct values and of distinct combinations, for columns of a plan."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


def codes_of(values: Floats) -> Ints:
    """Return each value's place among the distinct ones; NaN is one of them."""
    _, back = np.unique(values, return_inverse=True)
    return back.reshape(-1).astype(np.int64)


def codes_together(*codes: Ints) -> Ints:
    """Return one code for each combination of codes that are 0 or more."""
    key = np.zeros(len(codes[0]), np.int64)
    for column in codes:
        top = int(column.max(initial=0)) + 1
        if int(key.max(initial=0)) > 2**62 // top:
            _, back = np.unique(key, return_inverse=True)
            key = back.reshape(-1).astype(np.int64)
        key = key * top + column
    return key
