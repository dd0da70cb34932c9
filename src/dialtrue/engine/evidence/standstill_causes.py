"""Standstills as events in time, and what each cause of them makes of the longest few and of the one still open.

Under every cause the pauses longer than a bound come at a rate, so the longest of them have the exact density of a
Poisson process's points: the product of the rates at each, times the chance of no other above the bound.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammainc

from dialtrue.engine.evidence import pauses
from dialtrue.engine.evidence.catch_up import SEASON, log_all_at_once, log_first_draw, pulses_of
from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.evidence.pause_kernel import weigh_pauses
from dialtrue.engine.evidence.pauses import Pace
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.onsets import SPANS, Onsets
from dialtrue.engine.parts import over_parts
from dialtrue.engine.scan_kernel import DAY_US, HOUR_US

LEAST_DAYS = 0.4
"""Shorter pauses are nights and say nothing. Our assumption."""
OUTAGES = tuple((rate, mean) for rate in (1 / 100.0, 1 / 15.0, 1 / 4.0) for mean in (0.5, 1.5, 4.0, 12.0))
"""Rates [1/day] and mean lengths [day] of a bad joint's outages, equally likely. Our assumption."""
HOLDS = tuple((rate, mean) for rate in (1 / 250.0, 1 / 50.0) for mean in (2.0, 5.0, 14.0))
"""Rates and mean lengths of stretches in which an old index is delivered again. Our assumption."""
IRREGULAR_SHARE = 0.03
"""Share of places whose people come and go as a bad joint does: weekend houses, timers. Our assumption."""
VACANT_MEAN_DAYS = 150.0
"""Mean length of an empty house's emptiness. Our assumption."""
NEVER_STARTED_EMPTY = 0.004
"""Share of fittings made while people are away for long. Our assumption."""
SHARED_PORTS, SHARED_PART = 5, 0.2
"""Ports that must stand still from and to the same hour for one cause of all, and the part of the fleet from which it
is the import's or the collector's own. Our assumption."""
VISIT_PULSES, VISIT_DAYS, VISIT_GAP_US = 4, 5.0, 2 * DAY_US
"""A visitor in an empty house: at most so many counts after at least so many days [day], within a day or two [µs]. Our
assumption."""
VISITED_NAT = -6.0
"""A dead input that lets a visitor's counts through [nat]. Our assumption."""
OUTLAST_DAYS = 500.0
"""How much longer a dead input stays dead than an empty house stays empty, once either has lasted to the end. Our
assumption: both are put right in the course of a year or two."""
IN_USE_SHARE = 0.95
"""Share of places with a dead input that are in use as before. Our assumption."""
WORST = -12.0
"""Nothing is more against a cause than this: a few counts may be noise [nat]. Our assumption."""


@dataclass(slots=True)
class Standstills:
    """The longest closed pauses and the open one of each port.

    ``length``, ``from_us``, ``pulses``, ``step_days`` (n, m): length [day], start, and the step that ended each;
    ``known`` (n, m) says which are pauses worth the name. ``bound`` (n,) length above which all are known [day];
    ``open_days`` (n,) the pause that lasts, ``open_from_us`` its start, ``open_known`` whether it is worth the name,
    ``visited`` whether a few counts of a visitor lie in it; ``never`` (n,) no count since the first read; ``shared``
    (n, m) ports with the same standstill.
    """

    length: Floats
    from_us: Ints
    pulses: Floats
    step_days: Floats
    known: NDArray[np.bool_]
    bound: Floats
    open_days: Floats
    open_from_us: Ints
    visited: NDArray[np.bool_]
    open_known: NDArray[np.bool_]
    never: NDArray[np.bool_]
    shared: Ints


def find_standstills(case: Case) -> Standstills:
    """Lay out the standstills that the scan kept."""
    figures, freeze = case.scan.figures, case.scan.freeze
    from_us, to_us, step_us = freeze[:, :, 0], freeze[:, :, 1], freeze[:, :, 3]
    length = np.maximum(to_us - step_us - from_us, 0) / DAY_US
    heard = figures["n"] >= 3
    known = (length >= LEAST_DAYS) & heard[:, None]
    full = known.all(axis=1)
    bound = np.maximum(np.where(full, length[:, -1], LEAST_DAYS), LEAST_DAYS)
    shared = _shared(from_us, to_us, known)
    open_days = np.where(heard, (figures["last_us"] - figures["moved_us"]) / DAY_US, 0.0)
    never = heard & (figures["walk"] == 0) & (figures["forward"] == 0)
    pulses = pulses_of(freeze[:, :, 2].astype(float), case)
    stills = Standstills(
        length, from_us.copy(), pulses, step_us / DAY_US, known, bound, open_days, figures["moved_us"].copy(),
        np.zeros(len(length), bool), open_days >= LEAST_DAYS, never, shared,
    )  # fmt: skip
    _join_visits(stills, to_us, case)
    return stills


def _join_visits(stills: Standstills, to_us: Ints, case: Case) -> None:
    """Make one pause of long ones that only a visitor's few counts part."""
    order = np.argsort(stills.from_us + np.where(stills.known, 0, np.int64(1) << 60), axis=1, kind="stable")
    row = np.arange(len(order))
    end = to_us - np.rint(stills.step_days * DAY_US).astype(np.int64)
    last = stills.length.shape[1] - 1
    for i in range(last + 1):
        a = order[:, i]
        few = (stills.pulses[row, a] <= VISIT_PULSES) & (stills.length[row, a] >= VISIT_DAYS) & stills.known[row, a]
        if i < last:
            b = order[:, i + 1]
            near = stills.from_us[row, b] - end[row, a] <= VISIT_GAP_US + stills.step_days[row, a] * DAY_US
            join = few & near & stills.known[row, b]
            stills.from_us[row, b] = np.where(join, stills.from_us[row, a], stills.from_us[row, b])
            joined = (end[row, b] - stills.from_us[row, b]) / DAY_US
            stills.length[row, b] = np.where(join, joined, stills.length[row, b])
            stills.known[row, a] &= ~join
            few &= ~join
        near = stills.open_from_us - end[row, a] <= VISIT_GAP_US + stills.step_days[row, a] * DAY_US
        open_too = few & near & (stills.open_days >= 1.0)
        stills.visited |= open_too
        stills.open_from_us = np.where(open_too, stills.from_us[row, a], stills.open_from_us)
        stills.known[row, a] &= ~open_too
    moved = (case.scan.figures["last_us"] - stills.open_from_us) / DAY_US
    stills.open_days = np.where(stills.visited, moved, stills.open_days)


def _shared(from_us: Ints, to_us: Ints, known: NDArray[np.bool_]) -> Ints:
    """Count the ports whose standstill begins and ends in the same hours."""
    key = from_us // HOUR_US * 100_003 + (to_us - from_us) // HOUR_US
    out = np.zeros(key.shape, np.int64)
    if known.any():
        _, place, count = np.unique(key[known], return_inverse=True, return_counts=True)
        out[known] = count[place]
    return out


@dataclass(slots=True)
class Causes:
    """Log-likelihoods relative to a sound port [nat]: ``by_onset`` code to (n, 1 + SPANS); ``catch_up`` (n, m) the step
    that ended each pause, all at once against a first draw; ``plain`` (n,) how much the irregular user explains."""

    by_onset: dict[str, Floats]
    catch_up: Floats
    plain: Floats


def weigh_causes(case: Case, onsets: Onsets, stills: Standstills, pace: Pace) -> Causes:
    """Weigh dead input, empty house, bad joint and repeated index for each span of the onset.

    Cost O(n x SPANS x pauses x grid). Never raises.

    Source
    ------
    Points of a Poisson process, see the module; constants are our assumptions, beside each.
    """
    n, m = stills.length.shape
    span_days = np.maximum((onsets.edge_us[:, -1] - onsets.edge_us[:, 0]) / (DAY_US * SPANS), 1e-4)
    length = np.maximum(stills.length, LEAST_DAYS)
    usual = pauses.density(length, pace)
    caught = log_all_at_once(stills.pulses, length, stills.step_days, pace) - log_first_draw(
        stills.pulses, stills.step_days, case, pace
    )
    caught = np.where(stills.known, caught, 0.0)
    shared = stills.shared >= SHARED_PORTS
    everyone = shared & (stills.shared >= SHARED_PART * n) & (stills.shared >= 4 * SHARED_PORTS)
    alone = stills.known & ~(shared & (caught > 1.0)) & ~everyone

    # What is open at the end: chance of it under a sound port, and of nothing drawn before the line went dead.
    gap = np.maximum(1.0 / pace.per_day, 0.25 + pace.step_days)
    lasting = stills.open_days
    own_open = pauses.no_pulse(lasting, pace)
    away = pauses.absent_longer(lasting) * gap
    idle = pauses.no_pulse(pace.days, pace) + NEVER_STARTED_EMPTY * np.exp(-pace.days / 20.0)
    sound_open = np.where(stills.never, idle, own_open + away) + 1e-9

    span_of = onsets.span_of(stills.from_us)
    moved_us = stills.open_from_us
    open_span = onsets.span_of(moved_us)
    left_days = np.maximum((onsets.edge_us[:, -1:] - onsets.at_us) / DAY_US, 0.0)

    def process(
        grid: tuple[tuple[float, float], ...], mark: Floats, where: NDArray[np.bool_], *, whole_reads: bool
    ) -> Floats:
        out = np.empty((n, 1 + SPANS))
        rates, means = np.array(grid).T.copy()
        data = (
            rates, means, whole_reads, pace.step_days, length, usual, mark, where, span_of, gap, lasting, sound_open,
            open_span, stills.open_known, stills.bound, left_days, out,
        )  # fmt: skip
        over_parts(n, lambda begin, end: weigh_pauses(*data, begin, end))
        return out

    none = np.zeros((n, m))
    outages = process(OUTAGES, none, alone, whole_reads=False)
    plain = np.logaddexp(np.log(1 - IRREGULAR_SHARE), np.log(IRREGULAR_SHARE) + outages[:, 0])
    repeated = stills.known & ~everyone
    holds = process(HOLDS, caught + np.where(shared & (caught > 1.0), 3.0, 0.0), repeated, whole_reads=True)
    stopped = _stopped(onsets, stills, moved_us, gap, sound_open, span_days)
    returned = _came_back(stills, span_of, span_days, np.where(span_of == 0, pauses.longer(length, pace), usual), alone)
    begun = stills.visited & (open_span == 0)
    stopped[:, 0] = np.where(begun, -np.log(sound_open), stopped[:, 0])
    empty = np.logaddexp(stopped - (stills.open_days / OUTLAST_DAYS)[:, None], returned)
    known = (case.scan.figures["n"] >= 3)[:, None]
    dead = stopped + np.where(stills.visited, VISITED_NAT, 0.0)[:, None]
    values = {"dead_input": dead, "vacant": empty, "intermittent": outages, "stale_index": holds}
    by_onset = {code: np.where(known, np.maximum(value - plain[:, None], WORST), 0.0) for code, value in values.items()}
    return Causes(by_onset, caught, np.where(known[:, 0], plain, 0.0))


def _stopped(
    onsets: Onsets, stills: Standstills, moved_us: Ints, gap: Floats, sound_open: Floats, span_days: Floats
) -> Floats:
    """Return (n, 1 + SPANS) a stop for good in each span: it must lie after the last count, and not long after it."""
    edge = (onsets.edge_us - moved_us[:, None]) / DAY_US
    low, high = edge[:, :-1], edge[:, 1:]
    weight = np.exp(-np.maximum(low, 0.0) / gap[:, None]) - np.exp(-np.maximum(high, 0.0) / gap[:, None])
    share = gap[:, None] * weight / span_days[:, None]
    out = np.full((len(low), 1 + SPANS), -50.0)
    with np.errstate(divide="ignore"):
        out[:, 1:] = np.where(high > 0, np.log(share), -50.0)
    out[:, 0] = np.where(stills.never, 0.0, -50.0)
    return out - np.log(sound_open)[:, None]


def _came_back(
    stills: Standstills, span_of: Ints, span_days: Floats, usual: Floats, where: NDArray[np.bool_]
) -> Floats:
    """Return (n, 1 + SPANS) a house that stood empty and has people again: one long pause of the closed ones."""
    out = np.full((len(span_days), 1 + SPANS), -50.0)
    rate = np.exp(-stills.length / VACANT_MEAN_DAYS) / VACANT_MEAN_DAYS
    value = np.where(where, np.log(rate / usual), -50.0)
    row = np.arange(len(span_days))
    for k in range(stills.length.shape[1]):
        at = span_of[:, k]
        # At the fitting the moment is given; in a later span the start is even over the span.
        amount = value[:, k] - np.where(at == 0, 0.0, np.log(span_days))
        out[row, at] = np.logaddexp(out[row, at], amount)
    return out


def dial_meanwhile(case: Case, onsets: Onsets) -> tuple[Floats, Floats]:
    """Return how far the dial went after the index's last move [L], and in how many days; nan where nobody looked."""
    pairs, moved_us = case.pairs, case.scan.figures["moved_us"]
    n = len(moved_us)
    last = np.full(n, -1, np.int64)
    late = (pairs.usable > 0) & (pairs.at_us > moved_us[pairs.fitting] + DAY_US // 2) & (pairs.odd == 0)
    np.maximum.at(last, pairs.fitting[late], np.flatnonzero(late))
    seen = (last >= 0) & (pairs.anchored == 1)
    moved, over = np.full(n, np.nan), np.full(n, np.nan)
    moved[seen] = pairs.dial_l[last[seen]] - onsets.still_l[seen]
    over[seen] = (pairs.at_us[last[seen]] - moved_us[seen]) / DAY_US
    return moved, over


def dial_stood_too(moved_l: Floats, over_days: Floats, case: Case, pace: Pace) -> Floats:
    """Return the log-probability that a place in use moves its dial no further than was seen; 0 where nobody looked.

    Source
    ------
    Gamma volume at the port's own pace; ``IN_USE_SHARE`` of dead inputs stand where people live on.
    """
    with np.errstate(invalid="ignore"):
        weight = np.where(case.fleet.weight_set_l > 0, case.fleet.weight_set_l, 1.0)
        reach = np.maximum(moved_l, 0.0) + case.fleet.quantum_dial_l
        shape = 1.0 / (1.0 / (pace.shape * np.maximum(over_days, 1e-3)) + SEASON**2)
        below = gammainc(shape, shape * reach / (pace.per_day * weight * np.maximum(over_days, 1e-3)))
    return np.where(np.isfinite(below), np.log(1 - IN_USE_SHARE + IN_USE_SHARE * np.nan_to_num(below, nan=1.0)), 0.0)
