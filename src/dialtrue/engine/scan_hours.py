"""Usual reads, hour after hour: looked at together in vector instructions, and spread over the figures."""

from __future__ import annotations

import numpy as np
from numba import njit

from dialtrue.engine.scan_measures import (
    FREEZE_US,
    HOUR_US,
    NEVER_US,
    SIZE_OF,
    SMALL_STEPS,
    UNKNOWN_SLOT,
)


@njit(cache=True, nogil=True, _nrt=False, error_model="numpy")
def divisor(a, b):
    # Once the divisor is known, nearly every step is a multiple of it: one look settles those.
    if a == 1:
        return a
    if a > 0 and np.uint32(b) % np.uint32(a) == 0:
        return a
    while b:
        a, b = b, a % b
    return a


@njit(cache=True, nogil=True, _nrt=False, error_model="numpy")
def wide_divisor(a, b):
    if a == 1 or a == b or b == 0:
        return a
    if a == 0 or b == 1:
        return b
    while b:
        a, b = b, a % b
    return a


@njit(inline="always", cache=True, nogil=True, _nrt=False)
def usual_hours(at_us, index, flag, low, many, most_hourly, most_count, steps):
    """Tell whether ``many`` reads from row ``low`` on follow by an hour and an amount that any hour may bring.

    Fills in the amounts.
    """
    uneven, beyond = np.int64(0), np.int64(0)
    for k in range(many):
        row = np.uint64(low + k)
        before = np.uint64(low + k - 1)
        d = index[row] - index[before]
        steps[k] = d
        uneven |= (at_us[row] - at_us[before]) ^ HOUR_US
        beyond |= d | (most_hourly - d) | (most_count - 1 - index[row])
    if flag.shape[0]:
        for k in range(many):
            uneven |= max(flag[low + k], 0)
    return uneven == 0 and beyond >= 0


@njit(inline="always", cache=True, nogil=True, _nrt=False, error_model="numpy")
def spread_hours(
    steps, many, pause_h, weight, pulses, first_hour, hour_local, wet_slot, cold_slot,
    f, period, hour_moves, wet_counts, cold_zero, step_sizes,
):  # fmt: skip
    """Add usual hours to the figures by hour, weather and size, without a branch on what an hour brought.

    Returns how many were without a count and how many with a single one, the largest and the least step, how many were
    of an odd number of pulses, whether any was no whole number of pulses (0: none), the hours that ended a pause of
    ``FREEZE_US`` or more as bits, and the pause at the end [h].
    """
    still, single, top, least = 0, 0, np.int64(0), NEVER_US
    for k in range(many):
        still += steps[k] == 0
        single += steps[k] == 1
        top = max(top, steps[k])
        least = min(least, steps[k])
    if weight > 1.0:
        for k in range(many):
            pulses[k] = np.int64(np.rint(steps[k] / weight))
        whole = np.int64(weight)
    else:
        for k in range(many):
            pulses[k] = steps[k]
        whole = np.int64(1)
    odd, rest = np.int64(0), np.int64(0)
    for k in range(many):
        odd += pulses[k] & 1
        rest |= pulses[k] * whole - steps[k]
    for k in range(many):
        moved = steps[k] > 0
        hour_moves[f, period, hour_local[first_hour + k]] += np.int16(moved)
        step_sizes[f, SIZE_OF[min(pulses[k], SMALL_STEPS + 1)]] += np.int32(moved)
    if wet_slot.shape[0]:
        for k in range(many):
            slot = wet_slot[first_hour + k]
            if slot != UNKNOWN_SLOT:
                wet_counts[f, slot] += steps[k]
    if cold_slot.shape[0]:
        for k in range(many):
            slot = cold_slot[first_hour + k]
            if slot != UNKNOWN_SLOT:
                cold_zero[f, slot] += np.int32(steps[k] == 0)
    ends = 0
    if still + pause_h < FREEZE_US // HOUR_US:
        # No pause can have grown long: only the hours since the last step matter.
        k = many
        while k > 0 and steps[k - 1] == 0:
            k -= 1
        return still, single, top, least, odd, rest, ends, (many - k if k else pause_h + many)
    for k in range(many):
        moved_here = np.int64(steps[k] > 0)
        ends |= (moved_here & np.int64(pause_h >= FREEZE_US // HOUR_US)) << k
        pause_h = (pause_h + 1) & (moved_here - 1)
    return still, single, top, least, odd, rest, ends, pause_h


@njit(cache=True, nogil=True, _nrt=False, error_model="numpy")
def divisor_of(granule, steps, many):
    for k in range(many):
        if steps[k] > 0:
            granule = divisor(granule, steps[k])
            if granule == 1:
                break
    return granule


@njit(cache=True, nogil=True, _nrt=False)
def busiest_of(steps, many, pause_us, calm):
    """Return the largest step without a long pause before it, at least ``calm``."""
    for k in range(many):
        if steps[k] > calm and pause_us < FREEZE_US:
            calm = steps[k]
        pause_us = 0 if steps[k] > 0 else pause_us + HOUR_US
    return calm


@njit(cache=True, nogil=True, _nrt=False)
def moved_before(steps, k, first_us, pause_us):
    """Return when the index had last moved before step ``k`` of hours that begin at ``first_us``."""
    for j in range(k - 1, -1, -1):
        if steps[j] > 0:
            return first_us + (j + 1) * HOUR_US
    return first_us - pause_us
