"""When a count may have gone wrong: spans of time for each port, with the index at their edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit

from dialtrue.engine.fleet import Fleet, Floats, Ints
from dialtrue.engine.parts import over_parts
from dialtrue.engine.scan import Scan
from dialtrue.engine.scan_kernel import DAY_US
from dialtrue.engine.walk_kernel import bridge_gaps

SPANS = 32
"""Spans of equal length between the fitting and the last read. Our assumption: three days in a quarter year, the
precision that a person asks for; blocks that know the moment itself sharpen it."""


@dataclass(slots=True)
class Onsets:
    """Spans in which a fault may begin.

    ``edge_us`` (n, SPANS + 1) and ``edge_l`` (n, SPANS + 1): edges of the spans and the volume that the index moved
    since the fitting at each [L]. ``at_us`` (n, 1 + SPANS): the fitting, then the middle of each span. ``still_l`` (n,)
    the index at its last move. ``rate_l_day`` (n,) mean daily volume on days with reads.
    """

    edge_us: Ints
    edge_l: Floats
    at_us: Ints
    still_l: Floats
    rate_l_day: Floats

    def span_of(self, at_us: Ints) -> Ints:
        """Return the candidate (0 the fitting, 1 to SPANS) that holds each moment; (n,) or (n, m) in, same out."""
        at = at_us if at_us.ndim == 2 else at_us[:, None]
        out, edge = np.empty(at.shape, np.int64), np.ascontiguousarray(self.edge_us)
        over_parts(len(out), lambda begin, end: _find_spans(at, edge, out, begin, end))
        return out if at_us.ndim == 2 else out[:, 0]


@njit(cache=True, nogil=True)
def _find_spans(at_us, edge_us, out, first, last):
    """Fill ``out`` (n, m) with the candidate that holds each moment, rows from ``first`` to before ``last``."""
    for f in range(first, last):
        begin, end = edge_us[f, 0], edge_us[f, -1]
        length = max(end - begin, 1) / SPANS
        for j in range(out.shape[1]):
            if at_us[f, j] <= begin:
                out[f, j] = 0
            else:
                out[f, j] = min(max(np.int64(np.floor((at_us[f, j] - begin) / length)) + 1, 1), SPANS)


def filled_walk(scan: Scan) -> Floats:
    """Return the walk at each day's end with gaps bridged straight; nan before the first and after the last."""
    filled = np.empty(scan.day_walk.shape)
    over_parts(len(filled), lambda begin, end: bridge_gaps(scan.day_walk, filled, begin, end))
    return filled


@njit(cache=True, nogil=True)
def _sum_days(walk, day_walk, total, count, begin, end):
    """Fill ``total`` and ``count`` (n,): volume of the days that end with a read of their own, and their number."""
    for f in range(begin, end):
        for d in range(1, walk.shape[1]):
            daily = walk[f, d] - walk[f, d - 1]
            if not np.isnan(daily) and not np.isnan(day_walk[f, d]):
                total[f] += daily
                count[f] += 1.0


def candidate_onsets(fleet: Fleet, scan: Scan, start_gap: Ints) -> Onsets:
    """Lay out the spans in which a fault of each port may begin.

    Cost O(n x days). Never raises.

    Source
    ------
    Definition; ``SPANS`` is our assumption.
    """
    figures = scan.figures
    q = fleet.quantum_index_l
    walk = filled_walk(scan) * q[:, None]
    total, fresh_days = np.zeros(len(walk)), np.zeros(len(walk))
    over_parts(len(walk), lambda begin, end: _sum_days(walk, scan.day_walk, total, fresh_days, begin, end))
    rate = total / np.maximum(fresh_days, 1)
    # Where days lie between two reads there is no day of its own: take the whole walk over the whole time.
    run_days = np.maximum((figures["last_us"] - figures["first_us"]) / DAY_US, 0.5)
    sparse = (fresh_days < 0.5 * run_days) & (figures["n"] > 1)
    rate = np.where(sparse, figures["walk"] * q / run_days, rate)
    start_us = scan.calendar.start_us
    begin = np.where(figures["n"] > 0, np.minimum(fleet.fit_us, figures["first_us"]), fleet.fit_us)
    # A fitting years before the first read is none of this window's; what happened then shows as wrong from the start.
    begin = np.maximum(begin, figures["first_us"] - 40 * DAY_US)
    end = np.maximum(figures["last_us"], begin + 1)
    shares = np.arange(SPANS + 1) / SPANS
    edge = begin[:, None] + ((end - begin)[:, None] * shares).astype(np.int64)
    at = np.concatenate((begin[:, None], (edge[:, :-1] + edge[:, 1:]) // 2), axis=1)
    gap_l = (start_gap * q)[:, None]
    edge_l = walk_at(edge, walk, start_us, figures, q)
    # Between the fitting and the first read the index goes straight.
    ahead = np.maximum(figures["first_us"] - begin, 1)[:, None]
    share = np.clip((edge - begin[:, None]) / ahead, 0.0, 1.0)
    edge_l = np.where(edge < figures["first_us"][:, None], gap_l * share, edge_l + gap_l)
    still_l = figures["walk"] * q + gap_l[:, 0]
    return Onsets(edge, edge_l, at, still_l, rate)


def day_read_us(figures: np.ndarray, start_us: int) -> Ints:
    """Return when in its day each port's last read of a day was taken, (n,) [us after the day's start].

    Where a port sends once a day or less, that is the time of day of its very last read; else the day's end.

    Source
    ------
    Our assumption: radios keep to their hour.
    """
    once = figures["n"] < 1.5 * (figures["last_us"] - figures["first_us"]) / DAY_US + 2.0
    return np.where(once, (figures["last_us"] - start_us) % DAY_US, DAY_US)


def walk_at(at_us: Ints, walk_l: Floats, start_us: int, figures: np.ndarray, q: Floats) -> Floats:
    """Return the walk in litres at given moments, in a straight line between the days' last reads."""
    n, days = walk_l.shape
    x = (at_us - start_us - day_read_us(figures, start_us)[:, None]) / DAY_US
    low = np.clip(np.floor(x).astype(np.int64), 0, days - 1)
    high = np.clip(low + 1, 0, days - 1)
    row = np.arange(n)[:, None]
    a, b = walk_l[row, low], walk_l[row, high]
    a = np.where(np.isnan(a), np.where(np.isnan(b), 0.0, b), a)
    b = np.where(np.isnan(b), a, b)
    value = a + (b - a) * np.clip(x - low, 0.0, 1.0)
    value = np.where(at_us <= figures["first_us"][:, None], 0.0, value)
    return np.where(at_us >= figures["moved_us"][:, None], (figures["walk"] * q)[:, None], value)
