"""What a port's use looks like by kind of day and hour, from the reads around a gap."""

from __future__ import annotations

import numpy as np
from numba import njit

from dialtrue.domain.read_checks.estimates import LIKE_DAYS

HOUR_US = 3_600_000_000
DAY_US = 24 * HOUR_US
KINDS = max(LIKE_DAYS) + 1
"""Kinds of day that do not stand in for each other; the row after them is all days together."""
SLOTS = 24
"""Hours of the day; the slot after them is whole days, for reads that come daily or more seldom."""
LONG_US = 20 * HOUR_US
"""Steps as long as this are days, not hours."""
USUAL_GROWTH, GROWTH_WEEKS = 1.6, 8
"""Days go together: growth of the variance with days, 1 where they do not and 2 where they are one; what is taken for
usual, and how many weeks of a port's own weigh as much. Our assumption: measured on simulated towns."""
FEWEST = 2
"""Like days that are needed. Our assumption: of one alone nobody can say how it spreads."""
_KIND_OF = np.array(LIKE_DAYS, np.int64)
_THURSDAY = 3
"""Weekday of the first of January 1970, Monday being 0."""


@njit(cache=True, nogil=True)
def kind_and_slot(middle_us, lasted_us, local_start, offset_us):
    """Return the kind of day and the slot of a step by its middle, in local time."""
    hour = (middle_us - local_start) // HOUR_US
    hour = min(max(hour, np.int64(0)), np.int64(offset_us.shape[0] - 1))
    here = middle_us + offset_us[hour]
    day = here // DAY_US
    slot = SLOTS if lasted_us >= LONG_US else (here - day * DAY_US) // HOUR_US
    return _KIND_OF[(day + _THURSDAY) % 7], slot


@njit(cache=True, nogil=True)
def spread_of(
    low, high, at_us, before, step, from_us, to_us, cadence, local_start, offset_us, rates, spread, hits
):  # fmt: skip
    """Fill in rate [counts/µs] and its variance by kind of day and slot; return the variance of a day and its growth.

    Only steps of about the cadence between two trusted reads speak; row ``KINDS`` is all days, slot ``SLOTS`` the day.
    The variance of d days [counts²] is that of a day times d to the power of the growth.
    """
    rates[:], spread[:], hits[:] = 0.0, 0.0, 0
    # The first read of the window, found by halves.
    left, right = low, high
    while left < right:
        middle = (left + right) // 2
        if at_us[middle] < from_us:
            left = middle + 1
        else:
            right = middle
    day, day_sum, day_us = np.int64(-1), 0.0, np.int64(0)
    sums = np.zeros(6)
    for i in range(left, high):
        if at_us[i] > to_us:
            break
        if before[i] < 0:
            continue
        lasted = at_us[i] - at_us[before[i]]
        if 2 * lasted > 3 * cadence:
            continue
        rate = step[i] / lasted
        middle_us = at_us[i] - lasted // 2
        kind, slot = kind_and_slot(middle_us, lasted, local_start, offset_us)
        for k in (kind, KINDS):
            rates[k, slot] += rate
            spread[k, slot] += rate * rate
            hits[k, slot] += 1
        rates[KINDS, SLOTS] += rate if slot != SLOTS else 0.0
        spread[KINDS, SLOTS] += rate * rate if slot != SLOTS else 0.0
        hits[KINDS, SLOTS] += slot != SLOTS
        if lasted >= LONG_US:
            _add_day(sums, rate * DAY_US)
            continue
        if middle_us // DAY_US != day:
            if 4 * day_us >= 3 * DAY_US:
                _add_day(sums, day_sum / day_us * DAY_US)
            day, day_sum, day_us = middle_us // DAY_US, 0.0, np.int64(0)
        day_sum += step[i]
        day_us += lasted
    for k in range(KINDS + 1):
        for s in range(SLOTS + 1):
            n = hits[k, s]
            if n:
                rates[k, s] /= n
                spread[k, s] = max(spread[k, s] / n - rates[k, s] ** 2, 0.0) * (n / (n - 1.0) if n > 1 else 1.0)
    of_day, of_week = _variance(sums[0], sums[1], sums[2]), _variance(sums[3], sums[4], sums[5])
    told = min(max(np.log(of_week / of_day) / np.log(7.0), 1.0), 2.0) if of_day > 0 and of_week > 0 else USUAL_GROWTH
    return of_day, (told * sums[3] + USUAL_GROWTH * GROWTH_WEEKS) / (sums[3] + GROWTH_WEEKS)


@njit(cache=True, nogil=True)
def _add_day(sums, volume):
    """Take a day into (days, sum, squares, weeks, sum, squares); seven days in a row are a week."""
    sums[0] += 1
    sums[1] += volume
    sums[2] += volume * volume
    if sums[0] % 7 == 0:
        week = sums[1] - sums[4]
        sums[3] += 1
        sums[4] += week
        sums[5] += week * week


@njit(cache=True, nogil=True)
def _variance(count, total, square):
    return max(square - total * total / count, 0.0) / (count - 1) if count > 1 else 0.0


@njit(cache=True, nogil=True)
def spread_over(lasted_us, by_hours, of_day, growth):
    """Return the variance of what passes in a while [counts²]; ``by_hours`` is that of a day of hours on their own."""
    days = lasted_us / DAY_US
    whole = max(of_day, by_hours)
    if days >= 1.0:
        return whole * days**growth
    # From hour to hour on their own, up to a day of hours that go together.
    return by_hours * days + (whole - by_hours) * days * days


@njit(cache=True, nogil=True)
def weights_of(begin, span, count, local_start, offset_us, rates, spread, hits, weight, variance):
    """Fill in what is to be expected in each step, and its variance; return 0 by like days, 1 by others, 2 by none."""
    found = 0
    for k in range(count):
        kind, slot = kind_and_slot(
            begin + np.int64(span * (k + 0.5)), np.int64(span), local_start, offset_us
        )  # fmt: skip
        here = 0
        if hits[kind, slot] < FEWEST:
            here, kind = 1, KINDS
            if hits[kind, slot] < FEWEST:
                slot = SLOTS
            if hits[kind, slot] < FEWEST:
                here = 2
        found = max(found, here)
        weight[k] = rates[kind, slot] * span
        variance[k] = spread[kind, slot] * span * span
    return found
