"""A start read before the last draw: the index lags the dial by the same few litres ever after, and harms nobody."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from dialtrue.engine.fleet import Fleet, Floats
from dialtrue.engine.pairing import Pairs, look_step_l

MOST_LAG_L, MOST_LEAD_L = 250.0, 60.0
"""Water drawn between reading the dial and keying the start: a purge, a proof. Our assumption; a start that is off by
more is a wrong start."""
SURE = 2.5
"""Standard errors from which a constant difference is taken as one. Our assumption."""
MOST_SHARE = 0.3
"""Most that a lag seen once may be of the water since the fitting [share]. Our assumption."""
TOGETHER = 3.0
"""Standard errors within which looks still show the same difference. Our assumption."""


@njit(cache=True, nogil=True)
def _lags(first, usable, dial_l, index_l, bridge_l, step_l, phase_l, lag):
    for f in range(first.shape[0] - 1):
        top = 0.0
        bottom = 0.0
        from_sd = 0.0
        from_l = 0.0
        last_d = np.nan
        last_x = np.nan
        alone = True
        looks = 0
        contradicted = False
        first_dial = np.nan
        for j in range(first[f], first[f + 1]):
            if usable[j] == 0:
                continue
            apart = index_l[j] - dial_l[j]
            sd = math.hypot(step_l[f], bridge_l[j])
            if bottom == 0.0:
                from_l, from_sd = apart, sd
            elif dial_l[j] == last_d and index_l[j] == last_x:
                continue
            elif abs(apart - from_l) > TOGETHER * math.hypot(sd, from_sd):
                if alone and not -MOST_LAG_L <= from_l <= MOST_LEAD_L:
                    # A first look that is off by far, and alone in it, was misread: the next one stands for it.
                    top, bottom, from_l, from_sd, alone = 0.0, 0.0, apart, sd, False
                else:
                    contradicted = True
                    break
            else:
                alone = False
            if bottom == 0.0:
                first_dial, looks = dial_l[j], 0
            looks += 1
            top += apart / (sd * sd)
            bottom += 1.0 / (sd * sd)
            last_d, last_x = dial_l[j], index_l[j]
        if bottom > 0.0:
            value = top / bottom
            # One look that no other bears out, and off by much of what has passed: the count is wrong, not the start.
            if contradicted and looks == 1 and abs(value) > MOST_SHARE * first_dial:
                continue
            if -MOST_LAG_L <= value <= MOST_LEAD_L and abs(value) > SURE / math.sqrt(bottom) + phase_l[f]:
                lag[f] = value


def start_lag(fleet: Fleet, pairs: Pairs) -> Floats:
    """Return by how much the index stood off the dial at the first looks, where that is little and constant.

    Parameters
    ----------
    fleet : Fleet
        n fittings.
    pairs : Pairs

    Returns
    -------
    float64, shape (n,)
        Index less dial [L], mostly negative; 0 where the looks agree, or where the difference is none of this kind.

    Raises
    ------
    Never raises.

    Source
    ------
    The trade's card of a start read taken at another time than the first count (common practice); bounds are our
    assumption.
    """
    lag = np.zeros(fleet.size)
    # The unknown phase of the pulse shifts every look alike by up to half a weight; so does a coarse index.
    phase = 0.5 * (fleet.weight_set_l + fleet.quantum_index_l)
    _lags(
        pairs.first, pairs.usable, pairs.dial_l, pairs.index_l, pairs.bridge_l,
        np.nan_to_num(look_step_l(fleet), nan=1e9),
        np.nan_to_num(phase, nan=1e9), lag,
    )  # fmt: skip
    return np.where(pairs.anchored == 1, lag, 0.0)
