"""Reads cut into runs of one channel each, and scattered runs brought together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from dialtrue.engine.fleet import Ints

SCATTERED = 16
"""Reads a run, on average, below which a batch is first brought in order of channels. Our assumption, measured."""
_BLOCK = 64


@dataclass(slots=True)
class Runs:
    """Stretches of reads of one source each: run k is the rows [``first[k]``, ``first[k + 1]``).

    ``code``, ``port`` (runs,) are what the rows of a run share.
    """

    first: Ints
    code: NDArray[np.int32]
    port: NDArray[np.int32]

    @property
    def rows(self) -> Ints:
        """Rows of each run."""
        return np.diff(self.first)


def find_runs(code: NDArray[np.int32], port: NDArray[np.int32]) -> Runs:
    """Cut rows wherever code or port changes; ``port`` is one figure for all rows or one each. Never raises."""
    code, port = code.view(), port.view()
    # One kind of array for the compiler, whoever made it.
    code.flags.writeable = port.flags.writeable = False
    first = np.empty(len(code) + 1, np.int64)
    count = _find_runs(code, port, first)
    first = first[: count + 1].copy()
    begin = first[:-1]
    return Runs(first, code[begin], port[begin] if len(port) == len(code) else np.broadcast_to(port, len(begin)))


def make_ready() -> None:
    """Load what compiled loops stand on, which the first of them would wait for. Never raises."""
    find_runs(np.zeros(1, np.int32), np.zeros(1, np.int32))


@njit(cache=True, nogil=True)
def _find_runs(code, port, first):
    rows = code.shape[0]
    each = port.shape[0] == rows
    count, i = 0, 0
    while i < rows:
        first[count] = i
        count += 1
        c, p = code[i], port[i if each else 0]
        i += 1
        # Whole blocks without a change go by in a few vector instructions.
        while i + _BLOCK <= rows:
            differ = np.int32(0)
            block = code[i : i + _BLOCK]
            for k in range(_BLOCK):
                differ |= np.int32(block[k] ^ c)
            if each:
                block = port[i : i + _BLOCK]
                for k in range(_BLOCK):
                    differ |= np.int32(block[k] ^ p)
            if differ:
                break
            i += _BLOCK
        while i < rows and code[i] == c and (not each or port[i] == p):
            i += 1
    first[count] = rows
    return count


@njit(cache=True, nogil=True)
def by_channel(first, channel, channels, at_us, index, flag):
    """Bring scattered runs together: return first, channel, at_us, index, flag with one run for each channel heard.

    A counting sort, stable within a channel; runs that nobody listens to (-1) are left out.
    """
    place = np.zeros(channels + 1, np.int64)
    for r in range(channel.shape[0]):
        if channel[r] >= 0:
            place[channel[r] + 1] += first[r + 1] - first[r]
    heard = 0
    for c in range(channels):
        heard += place[c + 1] > 0
        place[c + 1] += place[c]
    rows = place[channels]
    new_first, new_channel = np.empty(heard + 1, np.int64), np.empty(heard, channel.dtype)
    k = 0
    for c in range(channels):
        if place[c + 1] > place[c]:
            new_first[k] = place[c]
            new_channel[k] = c
            k += 1
    new_first[heard] = rows
    flagged = flag.shape[0] > 0
    new_at, new_index = np.empty(rows, np.int64), np.empty(rows, np.int64)
    new_flag = np.empty(rows if flagged else 0, flag.dtype)
    for r in range(channel.shape[0]):
        c = channel[r]
        if c < 0:
            continue
        to = place[c]
        for i in range(first[r], first[r + 1]):
            new_at[to] = at_us[i]
            new_index[to] = index[i]
            if flagged:
                new_flag[to] = flag[i]
            to += 1
        place[c] = to
    return new_first, new_channel, new_at, new_index, new_flag
