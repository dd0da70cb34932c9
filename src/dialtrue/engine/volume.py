"""How far the registered volume is from the true one, under each likely fault, with its uncertainty."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dialtrue.domain.faults import FAULTS
from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.evidence.records import start_offset_counts
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.mixture_kernel import mixture_quantiles
from dialtrue.engine.onsets import Onsets, filled_walk, walk_at
from dialtrue.engine.pairing import look_step_l
from dialtrue.engine.parts import over_parts
from dialtrue.engine.scan_kernel import DAY_US

RATIO_CODES = ("weight_decade", "unit_slip", "double_count", "lost_counts", "extra_counts", "meter_reversed",
               "register_mismatch")  # fmt: skip
ADDED_CODES = ("wet_counts", "steady_counts", "backflow_counted", "not_listed")
SPREAD_OWN, SPREAD_DIAL, SPREAD_HISTORY, SPREAD_NONE = 0.3, 0.3, 0.5, 0.9
"""Spread of a place's use over the weeks ahead, told by its own index before, by its dial, by its history before the
fitting, or by nothing [nat]. Our assumption."""
USE_L_DAY = 400.0
"""Use of a place of which nothing is known. Our assumption, near the median home of ``REU-2016``. [L/day]"""
SHARE_SPREAD = 0.12
"""How far a share of lost or doubled pulses drifts after the last look. Our assumption."""
ADDED_SPREAD = 0.7
"""How far counts without water drift after the last look. Our assumption."""


@dataclass(slots=True)
class VolumeUnder:
    """``middle_l``, ``sd_l`` (n,): registered minus true since the fitting if one fault holds; nan if unknown [L]."""

    middle_l: Floats
    sd_l: Floats


@dataclass(slots=True)
class VolumeError:
    """``middle_l``, ``low_l``, ``high_l`` (n,): registered minus true since the fitting and its 90 % interval [L]."""

    middle_l: Floats
    low_l: Floats
    high_l: Floats


@dataclass(slots=True)
class Standing:
    """What volumes stand in the reads and the last look of each port; all (n,) [L] unless said.

    ``registered`` by the contract's definition; ``moved`` by the index since its start; ``offset`` of the keyed start;
    ``dial``, ``index`` at the last usable look at ``look_us`` with spread ``look_sd`` (``seen`` False where none), of
    which ``bridge`` is the index's between two reads; ``lately`` how much more than the index the dial moved between
    the last two looks [-];
    ``grain_middle``, ``grain_sd`` of a sound port's error from start, phase and steps; ``fell`` the falls of the index;
    ``walk_l`` (n, days) the walk with its gaps bridged.
    """

    registered: Floats
    moved: Floats
    offset: Floats
    dial: Floats
    index: Floats
    look_us: Ints
    look_sd: Floats
    bridge: Floats
    lately: Floats
    seen: NDArray[np.bool_]
    grain_middle: Floats
    grain_sd: Floats
    fell: Floats
    walk_l: Floats


def standing_of(case: Case) -> Standing:
    """Lay out the volumes of every port.

    Source
    ------
    Register arithmetic: counts times weight less the volume lie triangularly within one weight; an index coarser than
    the weight or the dial loses its remainder.
    """
    fleet, figures, pairs, n = case.fleet, case.scan.figures, case.pairs, case.fleet.size
    q, w, qd = fleet.quantum_index_l, fleet.weight_set_l, fleet.quantum_dial_l
    broken = pairs.start_broken == 1
    offset = np.nan_to_num(start_offset_counts(case)) * q
    gap = np.where(broken, figures["first_count"] - fleet.start_count, pairs.start_gap)
    gap = np.where(fleet.start_count >= 0, gap, 0)
    # Where the first read cannot be reached from the start, what ran before it goes by the rate since.
    run = np.maximum(figures["last_us"] - figures["first_us"], DAY_US)
    ahead = np.abs(figures["walk"]) / run * np.clip(figures["first_us"] - fleet.fit_us, 0, 40 * DAY_US)
    moved = (figures["walk"] + np.where(broken, ahead, pairs.start_gap)) * q
    known_w = np.nan_to_num(w, nan=0.0)
    with np.errstate(invalid="ignore"):
        rest = np.nan_to_num(np.mod(fleet.dial_fit_l, np.where(q > 0, q, 1.0)))
    # A remainder of nearly a whole count is a rounding of the floats.
    rest = np.where(rest > 0.999 * q, 0.0, rest)
    last = pairs.last_rows()
    rows = np.flatnonzero(pairs.usable)
    seen = (last >= 0) & (pairs.anchored == 1)
    pick = np.maximum(last, 0)

    def of(column: Floats) -> Floats:
        return np.where(seen, column[pick], 0.0) if len(column) else np.zeros(n)

    look_sd = np.hypot(of(pairs.bridge_l), np.nan_to_num(look_step_l(fleet)))
    look_us = np.where(seen, pairs.at_us[pick], 0) if len(pairs.at_us) else np.zeros(n, np.int64)
    dial_step, index_step = of(pairs.dial_l), of(pairs.index_l)
    if len(rows):
        first = np.full(n, -1, np.int64)
        same = pairs.fitting[rows[1:]] == pairs.fitting[rows[:-1]]
        first[pairs.fitting[rows[1:]][same]] = rows[:-1][same]
        two = seen & (first >= 0)
        dial_step = np.where(two, dial_step - pairs.dial_l[np.maximum(first, 0)], dial_step)
        index_step = np.where(two, index_step - pairs.index_l[np.maximum(first, 0)], index_step)
    with np.errstate(divide="ignore", invalid="ignore"):
        lately = np.where(index_step > 0, np.clip(dial_step / np.where(index_step > 0, index_step, 1), 0.2, 5.0), 1.0)
    coarse = np.maximum(q - known_w, 0.0)
    sd = np.sqrt(known_w**2 / 6 + np.maximum(q**2 - known_w**2, 0.0) / 12 + (0.1 * qd) ** 2 + 1e-6)
    return Standing(
        registered=offset - rest + (gap + figures["walk"]) * q, moved=moved, offset=offset - rest,
        dial=of(pairs.dial_l), index=of(pairs.index_l), look_us=look_us, look_sd=look_sd, bridge=of(pairs.bridge_l),
        lately=lately, seen=seen,
        grain_middle=offset - rest - coarse / 2 + case.start_lag_l, grain_sd=np.nan_to_num(sd, nan=1.0),
        fell=np.abs(figures["back_total"].astype(float)) * q, walk_l=filled_walk(case.scan) * q[:, None],
    )  # fmt: skip


def _pace(case: Case, standing: Standing, onset_l: Floats, since_us: Ints) -> tuple[Floats, Floats]:
    """Return the use per day that a place would have drawn, and its spread, from the best source at hand."""
    fleet = case.fleet
    own_days = (since_us - fleet.fit_us) / DAY_US
    dial_days = (standing.look_us - fleet.fit_us) / DAY_US
    history = np.where(np.isnan(fleet.use_l_day), USE_L_DAY, fleet.use_l_day)
    spread = np.where(np.isnan(fleet.use_l_day), SPREAD_NONE, SPREAD_HISTORY)
    dial = standing.seen & (dial_days >= 5) & (standing.dial > 0)
    pace = np.where(dial, standing.dial / np.maximum(dial_days, 1), history)
    spread = np.where(dial, SPREAD_DIAL, spread)
    own = ~dial & (own_days >= 5) & (onset_l > 0)
    return np.where(own, onset_l / np.maximum(own_days, 1), pace), np.where(own, SPREAD_OWN, spread)


def _counted_elsewhere(case: Case, standing: Standing) -> Floats:
    """Return what another channel of its ring counted of each meter's water, nan where no ring is known. [L]"""
    volume = np.full(case.fleet.size, np.nan)
    for ring in case.notes.rings:
        for row, by in zip(ring.rows, ring.counted_by, strict=True):
            volume[row] = standing.moved[by] * case.fleet.weight_meter_l[row] / case.fleet.weight_set_l[by]
    return volume


def volume_under(
    case: Case, onsets: Onsets, standing: Standing, *, code: Ints, parameter: Floats, since_us: Ints, low_us: Ints,
    high_us: Ints,
) -> VolumeUnder:  # fmt: skip
    """Estimate the volume error of each port if one fault holds.

    Parameters
    ----------
    case, onsets, standing
    code : int64, shape (n,)
        Column of the fault.
    parameter : float64, shape (n,)
        Its ratio, rate or offset, nan where it has none.
    since_us, low_us, high_us : int64, shape (n,)
        Its onset and the interval that holds it.

    Returns
    -------
    VolumeUnder
        nan where nothing bounds it.

    Source
    ------
    The dial is the truth up to the last good look; after it the index divided by the ratio. Spreads: our assumption.
    """
    fleet, figures = case.fleet, case.scan.figures
    s, q = standing, fleet.quantum_index_l
    name = np.array(FAULTS)[code]
    times = np.stack([since_us, low_us, high_us], axis=1)
    at = walk_at(times, s.walk_l, case.scan.calendar.start_us, figures, q)
    gap_l = case.pairs.start_gap * q
    at = np.where(times <= figures["first_us"][:, None], 0.0, at + gap_l[:, None])
    onset_l, onset_sd = at[:, 0], np.abs(at[:, 2] - at[:, 1]) / 3.3
    later = s.seen & (since_us > s.look_us)
    pace, spread = _pace(case, s, onset_l, since_us)
    end = figures["last_us"]
    middle, sd = s.grain_middle.copy(), s.grain_sd.copy()
    # What was true up to the last look or the onset, and what the index moved since.
    from_look = s.seen & ~later
    known = np.where(from_look, s.dial, np.where(s.seen, s.dial + onset_l - s.index, onset_l))
    after = s.moved - np.where(from_look, s.index, onset_l)
    known_sd = np.where(from_look, s.look_sd, np.where(s.seen, s.look_sd, s.grain_sd))

    scaled = np.isin(name, RATIO_CODES) & np.isfinite(parameter) & (parameter != 0)
    r = np.where(scaled, parameter, 1.0)
    body = name == "register_mismatch"
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        more = np.abs(after / r)
        loose = np.where(np.isin(name, ("lost_counts", "extra_counts")), SHARE_SPREAD * np.abs(1 - 1 / r), 0.0)
        loose = np.where(
            ~s.seen & np.isin(name, ("lost_counts", "extra_counts")), 0.3 * np.abs(1 - 1 / r) + 0.05, loose
        )
        true = np.where(body, np.abs(s.moved / r), known + more)
        blur = np.where(from_look, 0.0, onset_sd * np.abs(1 - 1 / r))
        width = np.sqrt(
            known_sd**2 + (loose * np.abs(after)) ** 2 + blur**2
            + (np.hypot(s.grain_sd, np.where(from_look, s.bridge, 0.0)) / np.abs(r)) ** 2
            + np.where(body, 0.15 * true, 0.0) ** 2
        )  # fmt: skip
    middle = np.where(scaled, s.registered - true, middle)
    sd = np.where(scaled, width, sd)

    # A meter turned round: where the index still rises it was right all along; where it falls, each step counts twice.
    turned = name == "meter_reversed"
    rising = turned & (figures["backs"] < figures["forward"])
    middle = np.where(rising, s.registered - s.moved, middle)
    sd = np.where(rising, s.grain_sd * 2, sd)

    slip = name == "start_slip"
    told = np.isfinite(parameter) & (np.abs(parameter) > np.abs(s.offset))
    middle = np.where(slip, np.where(told, parameter, s.registered - s.moved), middle)

    lost = np.isin(name, ("dead_input", "stale_index", "port_unread"))
    lost &= ~((name == "stale_index") & (end - figures["moved_us"] < 1.5 * DAY_US))
    missing_days = np.maximum(end - np.where(from_look, s.look_us, since_us), 0) / DAY_US
    more = pace * missing_days
    middle = np.where(lost, s.registered - known - more, middle)
    sd = np.where(lost, np.hypot(known_sd, np.hypot(spread * more, np.where(from_look, 0.0, onset_sd))), sd)

    elsewhere = _counted_elsewhere(case, s)
    swapped = np.isin(name, ("crossed", "ports_swapped"))
    days = np.maximum(end - np.where(s.seen, s.look_us, fleet.fit_us), 0) / DAY_US
    drawn = s.dial + pace * days
    partner = np.isfinite(elsewhere)
    middle = np.where(swapped, s.registered - np.where(partner, elsewhere, drawn), middle)
    sd = np.where(swapped, np.where(partner, 2 * s.grain_sd + 0.01 * np.abs(np.nan_to_num(elsewhere)),
                                    np.hypot(s.look_sd, spread * pace * days)), sd)  # fmt: skip

    patchy = name == "intermittent"
    share = np.where(s.seen, np.clip(s.lately, 1.0, 5.0), 1.25)
    tail = np.maximum(s.moved - np.where(s.seen, s.index, 0.0), 0.0)
    middle = np.where(patchy, s.registered - np.where(s.seen, s.dial, 0.0) - tail * share, middle)
    sd = np.where(patchy, np.hypot(s.look_sd, 0.8 * tail * (share - 1.0) + 0.1 * tail), sd)

    reset = name == "index_reset"
    fell = np.where(np.isfinite(parameter) & (parameter < 0), parameter, -s.fell)
    middle = np.where(reset, fell + middle, middle)
    sd = np.where(reset, np.hypot(sd, 0.05 * pace), sd)
    # With a look after the fall the dial says it outright.
    middle = np.where(reset & from_look, s.registered - s.dial - after, middle)
    sd = np.where(reset & from_look, np.hypot(s.look_sd, s.grain_sd), sd)

    digits = name == "digit_slip"
    turn = np.nan_to_num(parameter)
    whole = np.where(s.seen, s.dial + after + np.where(after < 0, turn, 0.0),
                     s.moved + turn * np.maximum(figures["backs"], 0))  # fmt: skip
    middle = np.where(digits, s.registered - whole, middle)
    sd = np.where(digits, np.hypot(np.where(s.seen, s.look_sd, 0.0), s.grain_sd), sd)

    added = np.isin(name, ADDED_CODES)
    look_days = np.maximum((s.look_us - np.minimum(since_us, s.look_us)) / DAY_US, 0.5)
    extra = np.where(s.seen, (s.index - s.dial) / look_days * np.maximum(end - s.look_us, 0) / DAY_US, 0.0)
    blind = np.select(
        [name == "wet_counts", name == "steady_counts"],
        [np.nan_to_num(case.notes.wet_excess_l),
         np.nan_to_num(case.notes.floor_l_h) * 24 * np.maximum(end - since_us, 0) / DAY_US],
        0.1 * s.moved,
    )  # fmt: skip
    rest_l = s.registered - s.moved
    middle = np.where(added, np.where(s.seen, rest_l + s.index - s.dial + extra, rest_l + blind), middle)
    sd = np.where(added, np.where(s.seen, np.hypot(s.look_sd, ADDED_SPREAD * np.abs(extra)),
                                  0.6 * np.abs(blind) + s.grain_sd), sd)  # fmt: skip

    unread = figures["n"] == 0
    span = np.maximum(case.end_us - fleet.fit_us, 0) / DAY_US
    history = np.where(np.isnan(fleet.use_l_day), USE_L_DAY, fleet.use_l_day)
    middle = np.where(unread, np.where(name == "port_unread", -history * span, np.nan), middle)
    sd = np.where(unread, SPREAD_HISTORY * history * span, sd)
    return VolumeUnder(middle, np.maximum(sd, 1e-6))


def mixed(under: list[VolumeUnder], weight: Floats) -> VolumeError:
    """Return the named fault's error with the 90 % interval of the mixture of likely faults.

    Parameters
    ----------
    under : list of VolumeUnder
        The named fault's first, then the runners-up; a fault without a figure is left out.
    weight : float64, shape (n, len(under))
        Their probabilities. [0, 1]

    Returns
    -------
    VolumeError
        nan where the named fault has no figure.

    Source
    ------
    The quantiles of a mixture of normal distributions, by bisection.
    """
    middle = np.stack([item.middle_l for item in under], axis=1)
    sd = np.stack([item.sd_l for item in under], axis=1)
    share = np.where(np.isnan(middle) | np.isnan(sd), 0.0, np.maximum(weight, 0.0))
    share = share / np.maximum(share.sum(axis=1, keepdims=True), 1e-12)
    m, s = np.nan_to_num(middle), np.maximum(np.nan_to_num(sd, nan=1.0), 1e-6)
    edges = np.empty((len(m), 2))
    tails = np.array([0.05, 0.95])
    over_parts(len(m), lambda begin, end: mixture_quantiles(share, m, s, tails, edges, begin, end))
    named = under[0].middle_l
    known = np.isfinite(named)
    return VolumeError(named, np.where(known, edges[:, 0], np.nan), np.where(known, edges[:, 1], np.nan))
