"""Dial reads laid beside the index at the same moment: what each has moved since the fitting, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from dialtrue.engine.fleet import Fleet, Floats, Ints
from dialtrue.engine.scan import Scan
from dialtrue.engine.scan_kernel import DAY_US, HOUR_US

MISREAD = {"fitter": 0.004, "reader": 0.01, "customer": 0.03, "photo": 0.004, "": 0.015}
"""Share of dial reads that are wrong, by who read. Our assumption, from one digit slip in a hundred careful readings;
override by ``watch.misread`` in ``programme.toml``."""
DAY_ONLY_SD_H = 5.0
"""Spread of a dial read's time that stands on the full hour to the second: mostly just the day was written [h]. Our
assumption: the dial was read within working hours."""
CLOCK_SD_H = {"fitter": 0.1, "reader": 0.25, "customer": 1.0, "photo": 0.1, "": 0.5}
"""Spread of the time written beside a dial read [h]. Our assumption: handheld, round, customer's memory."""
BRIDGE_DAYS = 0.4
"""Memory of demand between two reads [day]: a gap of G days is G/0.4 nearly independent draws. Our assumption."""
DRIFT_DAYS = 7.0
"""Time in which a place may change its rate between two reads [day]. Our assumption; hourly reads do not feel it."""
LOOK_PAST_US = 8 * DAY_US
"""A dial read this long after the last index read is no pair. Our assumption."""
START_ODDS = 2.5
"""Log-odds from which the looks have settled whether the start or the dial's text is wrong [nat]. Our assumption: one
in thirteen is no longer open."""
BACKWARD_DAYS = 3.0
"""Days of expected use that an index may have run back since the fitting and be the same index. Our assumption."""


@dataclass(slots=True)
class Pairs:
    """Dial and index since the fitting, one row per dial read, sorted by fitting and time.

    Shapes (m,): ``fitting`` int64; ``at_us``; ``dial_l`` moved on the dial [L], unwrapped; ``index_l`` moved on the
    index at that moment, in recorded units [L]; ``index_count`` the count as sent (-1 unknown); ``bridge_l`` standard
    deviation of ``index_l`` from time and interpolation [L]; ``misread`` share; ``odd`` 1 where the dial ran back or
    further than the meter can pass; ``usable`` 0 where no index stands beside the dial. ``first`` (n + 1,) row
    ranges by fitting. ``start_gap`` (n,) counts from the keyed start index to the first read; ``start_broken`` (n,) 1
    where that is no possible flow; ``anchored`` (n,) 0 where the fitting's dial is
    not known and the first dial read stands in.
    """

    fitting: Ints
    at_us: Ints
    dial_l: Floats
    index_l: Floats
    index_count: Ints
    bridge_l: Floats
    misread: Floats
    odd: NDArray[np.int8]
    usable: NDArray[np.int8]
    first: Ints
    start_gap: Ints
    start_broken: NDArray[np.int8]
    anchored: NDArray[np.int8]

    def rows_of(self, fitting: int) -> Ints:
        """Return the rows of one fitting's usable pairs, in order of time."""
        first = int(self.first[fitting])
        return np.flatnonzero(self.usable[first : self.first[fitting + 1]]) + first

    def last_rows(self) -> Ints:
        """Return the row of each fitting's last usable pair, -1 where it has none; (n,)."""
        begin, end = self.first[:-1], self.first[1:]
        if not len(self.at_us):
            return np.full(len(begin), -1, np.int64)
        last = np.maximum.accumulate(np.where(self.usable == 1, np.arange(len(self.at_us)), -1))
        found = np.where(end > begin, last[np.maximum(end - 1, 0)], -1)
        return np.where(found >= begin, found, -1)


def look_step_l(fleet: Fleet) -> Floats:
    """Return the standard deviation that the steps of dial, pulse and index give to index less dial, (n,) [L].

    Source
    ------
    Each step spreads a reading evenly over itself; a difference of two such is triangular, a sixth of its square.
    """
    return np.sqrt((fleet.quantum_dial_l**2 + fleet.weight_set_l**2 + fleet.quantum_index_l**2) / 6)


def start_gaps(fleet: Fleet, scan: Scan) -> tuple[Ints, NDArray[np.int8]]:
    """Return the counts from the keyed start to the first read, and where they are no possible flow.

    A fast setting may multiply the flow, so the bound is the meter's limit over the gap plus a tenth of a day's flow.
    """
    figures, capacity = scan.figures, fleet.capacity_counts
    gap = figures["first_count"] - fleet.start_count
    gap = np.where((capacity > 0) & (gap < 0), gap + capacity, gap)
    span_s = np.maximum(figures["first_us"] - fleet.fit_us, 0) / 1e6
    most = fleet.flow_limit_l_s * (span_s + 1800.0) / fleet.quantum_index_l
    most += 3 * fleet.weight_set_l / fleet.quantum_index_l + 2
    backward = np.where(capacity > 0, gap - capacity, gap)
    # Backwards it goes at the pace of the place at the most: a turned meter, not another meter's index.
    pace_l_day = np.where(fleet.use_l_day > 0, fleet.use_l_day, 500.0)
    least = pace_l_day * (span_s / 86_400.0 * 1.5 + BACKWARD_DAYS) / fleet.quantum_index_l
    backward_fine = (backward < 0) & (
        -backward <= np.minimum(most, least + 3 * fleet.weight_set_l / fleet.quantum_index_l)
    )
    known = (figures["n"] > 0) & (fleet.start_count >= 0)
    fine = ((gap >= 0) & (gap <= most)) | backward_fine
    gap = np.where(~((gap >= 0) & (gap <= most)) & backward_fine, backward, gap)
    broken = known & ~fine
    return np.where(known & fine, gap, 0), broken.astype(np.int8)


@njit(cache=True, nogil=True)
def _unwrap(first, dial_raw, at_us, fit_l, fit_us, capacity, quantum, limit_l_s, moved, odd, anchored):
    for f in range(first.shape[0] - 1):
        last = fit_l[f]
        last_us = fit_us[f]
        total = 0.0
        for j in range(first[f], first[f + 1]):
            if np.isnan(last):
                anchored[f] = 0
                last = dial_raw[j]
                last_us = at_us[j]
                moved[j] = 0.0
                continue
            step = dial_raw[j] - last
            most = limit_l_s[f] * max(at_us[j] - last_us, 0) / 1e6 + 2 * quantum[f] + limit_l_s[f] * 1800.0
            if step < 0 and step + capacity[f] <= most:
                step += capacity[f]
            if step < 0 or step > most:
                odd[j] = 1
            total += step
            moved[j] = total
            last = dial_raw[j]
            last_us = at_us[j]


def lay_pairs(
    fleet: Fleet, scan: Scan, *, fitting: Ints, at_us: Ints, dial_raw_l: Floats, misread: Floats, clock_sd_h: Floats
) -> Pairs:
    """Lay each dial read beside the index.

    Parameters
    ----------
    fleet : Fleet
        n fittings.
    scan : Scan
        Finished figures, whose pair rows are in the order of ``fitting``.
    fitting, at_us, dial_raw_l, misread, clock_sd_h : arrays, shape (m,)
        Dial reads sorted by fitting and time: row of the fleet, time [µs], dial as seen [L], share misread [-],
        spread of the written time [h].

    Returns
    -------
    Pairs
        m rows.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption: between two reads demand is a renewal stream, so the index at a moment inside the gap scatters as a
    bridge, sd = step * sqrt(f (1 - f) / (1 + gap / 0.4 d)); override by ``BRIDGE_DAYS``.
    """
    m = len(fitting)
    first = np.searchsorted(fitting, np.arange(fleet.size + 1)).astype(np.int64)
    gap, broken = start_gaps(fleet, scan)
    moved, odd = np.zeros(m), np.zeros(m, np.int8)
    anchored = np.where(np.isnan(fleet.dial_fit_l), 0, 1).astype(np.int8)
    _unwrap(
        first, dial_raw_l, at_us, fleet.dial_fit_l, fleet.fit_us, fleet.capacity_dial_l, fleet.quantum_dial_l,
        fleet.flow_limit_l_s, moved, odd, anchored,
    )  # fmt: skip
    before, after = scan.pair_before.copy(), scan.pair_after
    # A dial read before the first index read is bracketed by the start index, keyed at the fitting.
    early = (before[:, 0] < 0) & (after[:, 0] >= 0) & (fleet.start_count[fitting] >= 0) & (broken[fitting] == 0)
    before[early, 0] = np.minimum(fleet.fit_us[fitting[early]], at_us[early])
    before[early, 1] = -gap[fitting[early]]
    before[early, 2] = fleet.start_count[fitting[early]]
    both = (before[:, 0] >= 0) & (after[:, 0] >= 0)
    late = (before[:, 0] >= 0) & (after[:, 0] < 0) & (at_us - before[:, 0] <= LOOK_PAST_US)
    span_us = np.where(both, np.maximum(after[:, 0] - before[:, 0], 1), 1)
    share = np.clip(np.where(both, (at_us - before[:, 0]) / span_us, 0.0), 0.0, 1.0)
    step = np.where(both, after[:, 1] - before[:, 1], 0).astype(float)
    q = fleet.quantum_index_l[fitting]
    figures = scan.figures
    first_us = figures["first_us"][fitting]
    run_us = np.maximum(figures["last_us"][fitting] - first_us, HOUR_US)
    rate_us = np.abs(figures["walk"][fitting]) / run_us
    past_us = np.where(late, at_us - before[:, 0], 0)
    walk = before[:, 1] + step * share + rate_us * past_us
    own = np.where(broken[fitting] == 1, rate_us * (first_us - fleet.fit_us[fitting]), gap[fitting])
    bridge = np.abs(step) * np.sqrt(share * (1 - share) / (1 + span_us / (BRIDGE_DAYS * DAY_US)))
    # Over weeks the rate itself moves: somebody leaves, a garden starts.
    drawn_out = 1 - np.exp(-span_us / (DRIFT_DAYS * DAY_US))
    bridge = np.hypot(bridge, 0.5 * np.abs(step) * share * (1 - share) * drawn_out)
    bridge = np.hypot(bridge, 0.8 * rate_us * past_us)
    local = np.maximum(np.abs(step) / span_us, 0.7 * rate_us)
    bridge = np.hypot(bridge, local * clock_sd_h * HOUR_US)
    bridge = np.hypot(bridge, np.where(broken[fitting] == 1, own, 0.0))
    nearest = np.where(both & (share > 0.5), after[:, 2], before[:, 2])
    index_l = (walk + own) * q
    # Where no dial was seen at the fitting, both rows start at the first dial read.
    loose = anchored[fitting] == 0
    if m:
        head = first[fitting]
        index_l = np.where(loose, index_l - index_l[np.minimum(head, m - 1)], index_l)
    return Pairs(
        fitting=fitting, at_us=at_us, dial_l=moved, index_l=index_l, index_count=np.where(both | late, nearest, -1),
        bridge_l=bridge * q, misread=misread, odd=odd, usable=((both | late) & ~np.isnan(moved)).astype(np.int8),
        first=first, start_gap=gap, start_broken=broken, anchored=anchored,
    )  # fmt: skip


def start_against_looks(
    fleet: Fleet, scan: Scan, pairs: Pairs, dial_raw_l: Floats
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Ask the later looks which of two texts is wrong where start index and dial at the fitting disagree.

    Returns
    -------
    doubted, confirmed : bool, shape (n,)
        ``doubted``: the later looks say that the index stands where the dial stands, so the start was right and the
        dial's text in the record slipped. ``confirmed``: they say that the index is off by just that disagreement, so
        the start was keyed wrong. Neither where no later look was taken, where the looks fit neither, or where they
        cannot tell the two apart.

    Raises
    ------
    Never raises.

    Source
    ------
    The constant error of a wrong start (arithmetic). Each look adds the logarithm of the ratio of two densities, that
    of an error of nothing and that of the disagreement, a misread look apart; ``START_ODDS`` is our assumption.
    """
    n = fleet.size
    q, qd = fleet.quantum_index_l, fleet.quantum_dial_l
    with np.errstate(divide="ignore", invalid="ignore"):
        modulus = np.where(fleet.capacity_counts > 0, fleet.capacity_counts * q, np.inf)
        modulus = np.fmin(fleet.capacity_dial_l, modulus)
        wrong = _short_way(fleet.start_count * q - fleet.dial_fit_l, modulus)
        open_to = (fleet.start_count >= 0) & (modulus > 0) & (np.abs(wrong) > 0.5 * (qd + q))
    f = pairs.fitting
    seen = (pairs.usable == 1) & (pairs.start_broken[f] == 0) & open_to[f]
    with np.errstate(divide="ignore", invalid="ignore"):
        apart = _short_way(fleet.start_count[f] * q[f] + pairs.index_l - dial_raw_l, modulus[f])
        variance = look_step_l(fleet)[f] ** 2 + pairs.bridge_l**2
        misread = pairs.misread / (20.0 * np.sqrt(variance))
        right = np.exp(-0.5 * apart**2 / variance) / np.sqrt(2 * np.pi * variance)
        off = np.exp(-0.5 * (apart - wrong[f]) ** 2 / variance) / np.sqrt(2 * np.pi * variance)
    odds = np.bincount(f, np.where(seen, np.log((right + misread) / (off + misread)), 0.0), n)
    looks = np.bincount(f, seen, n)
    fit_right = np.bincount(f, seen & (right > misread), n)
    fit_off = np.bincount(f, seen & (off > misread), n)
    doubted = (odds > START_ODDS) & (2 * fit_right > looks)
    confirmed = (odds < -START_ODDS) & (2 * fit_off > looks)
    return doubted, confirmed


def _short_way(apart_l: Floats, modulus_l: Floats) -> Floats:
    """Return a difference of two registers taken the short way round the smaller one's turn. [L]"""
    short: Floats = np.mod(apart_l + modulus_l / 2, modulus_l) - modulus_l / 2
    return short
