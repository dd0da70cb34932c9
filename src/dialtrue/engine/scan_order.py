"""Reads brought in order of channel and time, with corrections in the place of what they correct."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from dialtrue.engine.fleet import Ints
from dialtrue.engine.scan_kernel import HOUR_US

CORRECTION_US = 6 * HOUR_US
"""A read that arrives so long after another of the same port and time corrects it; one that arrives nearly at once is
another endpoint's, or an error. Our assumption: six hours, what a missed transmission is sent again within."""


def in_order(
    channel: NDArray[np.int32], at_us: Ints, index: Ints, flag: NDArray[np.int8], known_us: Ints, channels: int
) -> tuple[Ints, NDArray[np.int32], Ints, Ints, NDArray[np.int8]]:
    """Sort reads by channel and time and put corrections in their places.

    Parameters
    ----------
    channel, at_us, index, flag, known_us : arrays, shape (m,)
        Reads in the order of the file; ``known_us`` is when each arrived (its own time where that is not written).
    channels : int
        Number of channels.

    Returns
    -------
    first, channel, at_us, index, flag
        Runs as ``Scanner.count`` takes them, one for each channel. Of reads of one port and time the first of the file
        comes first; where one arrived ``CORRECTION_US`` after the first, the last to arrive stands alone.

    Raises
    ------
    Never raises.
    """
    order, first, heard = _by_channel_and_time(channel, at_us, channels)
    kept, first = _corrected(order, first, at_us, flag, known_us)
    return first, heard.astype(np.int32), at_us[kept], index[kept], flag[kept]


@njit(cache=True, nogil=True)
def _by_channel_and_time(channel, at_us, channels):
    place = np.zeros(channels + 1, np.int64)
    for i in range(channel.shape[0]):
        place[channel[i] + 1] += 1
    heard = np.flatnonzero(place[1:])
    place = np.cumsum(place)
    first = np.append(place[heard], place[channels])
    order = np.empty(channel.shape[0], np.int64)
    for i in range(channel.shape[0]):
        order[place[channel[i]]] = i
        place[channel[i]] += 1
    for r in range(heard.shape[0]):
        rows = order[first[r] : first[r + 1]]
        sorted_already = True
        for k in range(1, rows.shape[0]):
            if at_us[rows[k]] < at_us[rows[k - 1]]:
                sorted_already = False
                break
        if not sorted_already:
            order[first[r] : first[r + 1]] = rows[np.argsort(at_us[rows], kind="mergesort")]
    return order, first, heard


@njit(cache=True, nogil=True)
def _corrected(order, first, at_us, flag, known_us):
    kept, count = np.empty(order.shape[0], np.int64), 0
    new_first = np.empty(first.shape[0], np.int64)
    for r in range(first.shape[0] - 1):
        new_first[r] = count
        low = first[r]
        while low < first[r + 1]:
            high = low + 1
            while high < first[r + 1] and at_us[order[high]] == at_us[order[low]]:
                high += 1
            begun, last = -1, -1
            for k in range(low, high):
                i = order[k]
                if flag[i] <= 0:
                    if begun < 0:
                        begun = i
                    if last < 0 or known_us[i] > known_us[last]:
                        last = i
            correction = begun >= 0 and known_us[last] - known_us[begun] >= CORRECTION_US
            for k in range(low, high):
                i = order[k]
                if flag[i] > 0 or not correction or i == last:
                    kept[count] = i
                    count += 1
            low = high
    new_first[first.shape[0] - 1] = count
    return kept[:count], new_first


@njit(cache=True, nogil=True)
def find_astray(first, channel, at_us, last_us, astray):
    """Mark the channels of which a read is not later than the one before.

    Run k is the rows [``first[k]``, ``first[k + 1]``) of ``channel[k]`` (-1: nobody listens). ``last_us`` (channels,)
    is each channel's latest read so far and is moved on; ``astray`` (channels,) is filled in.
    """
    for r in range(channel.shape[0]):
        c = channel[r]
        if c < 0:
            continue
        last = last_us[c]
        for i in range(first[r], first[r + 1]):
            if at_us[i] <= last:
                astray[c] = True
            else:
                last = at_us[i]
        last_us[c] = last
