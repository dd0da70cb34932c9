"""Evidence of dial/index pairs: the shape of the error over time names the family of fault."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence import pair_kernel as pk
from dialtrue.engine.evidence.falls import TURNS
from dialtrue.engine.evidence.frame import FLOOR, Block, Case
from dialtrue.engine.evidence.misreading import slip_density
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.onset_prior import onset_log_prior
from dialtrue.engine.onsets import SPANS, Onsets
from dialtrue.engine.parts import over_parts
from dialtrue.engine.ratios import DECADE_RATIOS, UNIT_RATIOS
from dialtrue.engine.scan_kernel import DAY_US, HOUR_US

STEADY_TOP_L_DAY = 1e10
"""Most that induced counts add in a day: mains hum at a coarse weight. Our assumption. [L/day]"""
WET_TOP_L_H = 2000.0
"""Most that damp adds in a wet hour. Our assumption. [L/h]"""
OTHER_WEIGHT = 0.1
"""Share of replaced meters with a pulse weight a decade off the old one. Our assumption."""
FRESH_SHARE, FRESH_L = 0.55, 3000.0
"""Share of replaced dials that start near nothing, and what they may have run before [L]. Our assumption."""
BACKFLOW_TOP_L_DAY, BACKFLOW_TOP_PULSES = 400.0, 60.0
"""Most that reverse flow adds in a day [L/day], or the pulses of it where they are coarse. Our assumption: it is small
and steady, a contact that rocks a few times in an hour."""
ROOT_12 = math.sqrt(12.0)
NEAREST = 0.166
"""No setting's ratio r comes nearer to one than |1 - r| = NEAREST * max(1, r): the imperial gallon's. (``NIST-SP-811``)
"""
OWN_A_DAY = (1.0, 2.0, 4.0, 6.0, 12.0, 24.0, 48.0, 96.0)
"""Transmissions in a day: radios send by the day, the quarter, the hour. Common practice, no source."""
METRONOMIC = 0.85
"""Share of steady counts that keep closely to their mean from look to look; reverse flow goes by the pressure, and does
so in one case of two. Our assumption."""
OWN_SHARE, OWN_SCATTER = 0.3, 0.01
"""Share of steady counts that are the endpoint's own transmissions, and how far their rate varies. Our assumption."""
UNSEEN_FALL, HIDDEN_FALL = -7.0, -1.0
"""What is taken off a fall of the index that no read shows, and off one small enough to hide between two reads [nat].
Our assumption."""
FALLEN_SHARE = 0.05
"""How far what an index lost may differ from the fall that the reads show, beside a step between two reads. Our
assumption."""
CALM_STRIDE = 4
"""Spans of which one is worked out where every look is true. Our assumption: they tell the same."""
MOST_PAIRS = 24
"""Pairs of one port that are weighed: the first and the last dozen. Our assumption: they hold the shape."""
LEAST_LOG = -45.0
"""No span's likelihood against a true count is taken as worse than this [nat]. Our assumption: numbers end there."""

TIMED = (
    "dead_input", "double_count", "meter_reversed", "weight_decade", "unit_slip", "lost_counts", "extra_counts",
    "steady_counts", "backflow_counted", "wet_counts", "index_reset", "meter_exchanged", "intermittent",
)  # fmt: skip
"""Faults whose onset the pairs can place, in the order of ``weigh_port``'s rows."""
DEAD, DOUBLE, REVERSED, DECADE, UNIT, LOST, EXTRA, STEADY, BACKFLOW, WET, RESET, EXCHANGED, PATCHY = range(13)
DIGITS, START, CROSSED, PORTS, DUPLICATE, STALE, OPEN = (
    COLUMN[code] for code in ("digit_slip", "start_slip", "crossed", "ports_swapped", "duplicate_serial", "stale_index",
                              "not_listed")
)  # fmt: skip


@njit(cache=True)
def _is_slip(offset, quantum, noise):
    """Whether an offset is a slip of the pen: two leading figures and zeros, in units of the dial's least digit."""
    steps = abs(offset) / quantum
    if not steps >= 100:
        return False
    power = 10.0 ** (math.floor(math.log10(steps)) - 1)
    return abs(steps - round(steps / power) * power) * quantum <= noise and power * quantum > 6 * noise


@njit(cache=True)
def first_sights(d, x, least_d, least_x):
    """Return which looks (n,) find dial or index where no earlier look found both."""
    kept = np.ones(d.shape[0], np.bool_)
    for j in range(1, d.shape[0]):
        for i in range(j):
            if kept[i] and abs(d[j] - d[i]) < least_d and abs(x[j] - x[i]) < least_x:
                kept[j] = False
                break
    return kept


@njit(cache=True)
def _drawn_in_wet(d, t_us, wet_hours, fit_us, share, total):
    """Fill the share of wet hours before each look since the look before, and the water drawn in such hours so far [L].

    Between two looks the water is taken as drawn evenly.
    """
    last_d, last_us, last_wet, so_far = 0.0, fit_us, 0.0, 0.0
    for j in range(d.shape[0]):
        hours = max((t_us[j] - last_us) / HOUR_US, 1.0)
        share[j] = min(max(wet_hours[j] - last_wet, 0.0) / hours, 1.0)
        so_far += share[j] * max(d[j] - last_d, 0.0)
        total[j] = so_far
        last_d, last_us, last_wet = d[j], t_us[j], wet_hours[j]


@njit(cache=True)
def _same_again(d, x, bridge, misread, qd, w, qe, kept, base):
    """Return ``base`` with what a true count says of a look that finds what an earlier one found, given that one."""
    out = base.copy()
    for j in range(1, d.shape[0]):
        if kept[j]:
            continue
        i = j - 1
        while i > 0 and (abs(d[j] - d[i]) >= 0.5 * qd or abs(x[j] - x[i]) >= 0.5 * qe):
            i -= 1
        sd = math.hypot(pk.noise_l(1.0, qd, w, qe, bridge[j]), bridge[i])
        out[j] = pk.pair_density(x[j] - x[i] - d[j] + d[i], sd, misread[j], pk.spread_l(d[j], x[j], sd, qd + w))
    return out


@njit(cache=True)
def _settings(
    row, d, x, bridge, misread, qd, w, qe, ratios, shares, first, low_l, high_l, base, floor, at_onset, ratio_at, k
):  # fmt: skip
    """Write the likelihood of a family of exact ratios beginning in one span, and the ratio that fits best."""
    total = 0.0
    best = -1e300
    for i in range(ratios.shape[0]):
        value = pk.fixed_ratio(d, x, bridge, misread, qd, w, qe, ratios[i], first, low_l, high_l, base, floor)
        if value + math.log(shares[i]) > best:
            best = value + math.log(shares[i])
            ratio_at[row, k] = ratios[i]
        if value > floor:
            total += shares[i] * (math.exp(min(value - floor, 600.0)) - 1.0)
    at_onset[row, k] = floor + math.log(1.0 + total)


@njit(cache=True)
def _own_transmissions(
    value, rate, d, x, clock, bridge, misread, qd, w, qe, first, onset_l, blur_days, base
):  # fmt: skip
    """Add to steady counts at any rate those at one pulse in each transmission, so many of them a day."""
    total = value + math.log(1.0 - OWN_SHARE)
    for times in OWN_A_DAY:
        if abs(times * w - rate) < 0.05 * rate:
            exact = pk.walk_on(d, x, clock, bridge, misread, qd, w, qe, first, onset_l, 0.0, blur_days, 1.0, times * w,
                             OWN_SCATTER, base)  # fmt: skip
            total = pk.log_add(total, exact + math.log(OWN_SHARE / len(OWN_A_DAY)))
    return total


@njit(cache=True)
def weigh_port(
    d, x, t_us, bridge, misread, slip, seen, fallen, span_fallen, falls, between_l, day_l, wet_hours, wet_edge, qd, w,
    qe, capacity_l,
    dial_l, edge_us, edge_l, decade_ratio, decade_share, unit_ratio, unit_share, loglik, parameter, at_onset, ratio_at,
):  # fmt: skip
    """Fill one port's static row and its (timed, 1 + spans) log-likelihoods against a true count from its pairs.

    ``slip`` (n,) as ``pair_kernel.true_logs`` takes it; ``seen`` (n,) the dial as it stood [L], ``dial_l`` what it
    holds; ``fallen`` (n,) how far the reads show the index to have fallen before the look [L], ``span_fallen`` when it
    first did, -1 if not known; ``falls`` is 1 where the index falls in the reads, and 2 more where its first read is
    not where the start was keyed; ``between_l`` is what a step between two reads is, ``day_l`` what a day draws;
    ``wet_hours`` (n,) and ``wet_edge`` (spans + 1,) wet hours since the fitting, -1 where the weather is not known.
    ``ratio_at`` gets the best ratio, rate or offset.
    """
    spans = edge_us.shape[0] - 1
    base = np.zeros(d.shape[0])
    pk.true_logs(d, x, bridge, misread, slip, day_l, qd, w, qe, base)
    # A look that finds dial and index where an earlier one found them has the same residual: it speaks only of what
    # grows with time.
    fresh_look = first_sights(d, x, 0.5 * qd, 0.5 * qe)
    all_d, all_x, all_bridge, all_misread, clock = d, x, bridge, misread, np.zeros(d.shape[0])
    all_base = _same_again(d, x, bridge, misread, qd, w, qe, fresh_look, base)
    all_us, d, x, t_us, bridge = t_us, d[fresh_look], x[fresh_look], t_us[fresh_look], bridge[fresh_look]
    misread, seen, base, fallen = misread[fresh_look], seen[fresh_look], base[fresh_look], fallen[fresh_look]
    total = base.sum()
    n = d.shape[0]
    step = np.full(n + 1, -1e300)
    other = np.full((2, n + 1), -1e300)
    step_l = np.zeros(n + 1)
    # What every look says if it was misread, added up from each look to the last.
    floors = np.zeros(n + 1)
    calm = True
    for j in range(n - 1, -1, -1):
        sd = pk.noise_l(1.0, qd, w, qe, bridge[j])
        floors[j] = floors[j + 1] + math.log(misread[j] / pk.spread_l(d[j], x[j], sd, qd + w)) - base[j]
        calm = calm and abs(x[j] - d[j]) < 3.0 * sd
    attempts = 1 if calm else 3
    known_wet = wet_edge[0] >= 0
    wet_share, in_wet, in_wet_since = np.zeros(n), np.zeros(n), np.zeros(n)
    if known_wet and not calm:
        _drawn_in_wet(d, t_us, wet_hours[fresh_look], edge_us[0], wet_share, in_wet)
    for k in range(spans + 1):
        if calm and k > 1 and (k - 1) % CALM_STRIDE:
            # Where every look is true the spans hardly differ: one of a few stands for its neighbours.
            at_onset[:, k], ratio_at[:, k] = at_onset[:, k - 1], ratio_at[:, k - 1]
            continue
        begin_us = edge_us[0] if k == 0 else (edge_us[k - 1] + edge_us[k]) // 2
        low_l = 0.0 if k == 0 else edge_l[k - 1]
        high_l = 0.0 if k == 0 else edge_l[k]
        middle_l = 0.5 * (low_l + high_l)
        # An onset somewhere in a span is spread evenly over it: its standard deviation is the length over root twelve.
        blur_l = (high_l - low_l) / ROOT_12
        blur_days = 0.0 if k == 0 else (edge_us[k] - edge_us[k - 1]) / DAY_US / ROOT_12
        first = 0
        while first < n and t_us[first] <= begin_us:
            first += 1
        since = 0
        while since < clock.shape[0] and all_us[since] <= begin_us:
            since += 1
        for j in range(clock.shape[0]):
            clock[j] = max((all_us[j] - begin_us) / DAY_US, 0.0)
        at_onset[STEADY, k], ratio_at[STEADY, k] = pk.drift(
            all_d, all_x, clock, all_bridge, all_misread, qd, w, qe, STEADY_TOP_L_DAY, pk.REGULAR, pk.LOOSE, METRONOMIC,
            since, middle_l, blur_days, all_base, attempts,
        )  # fmt: skip
        if not calm:
            at_onset[STEADY, k] = _own_transmissions(
                at_onset[STEADY, k], ratio_at[STEADY, k], all_d, all_x, clock, all_bridge, all_misread, qd, w, qe,
                since, middle_l, blur_days, all_base,
            )  # fmt: skip
        most = max(BACKFLOW_TOP_L_DAY, BACKFLOW_TOP_PULSES * w)
        if calm and ratio_at[STEADY, k] <= most:
            at_onset[BACKFLOW, k], ratio_at[BACKFLOW, k] = at_onset[STEADY, k], ratio_at[STEADY, k]
        else:
            at_onset[BACKFLOW, k], ratio_at[BACKFLOW, k] = pk.drift(
                all_d, all_x, clock, all_bridge, all_misread, qd, w, qe, most, pk.REGULAR, pk.LOOSE, 0.5, since,
                middle_l, blur_days, all_base, attempts,
            )  # fmt: skip
        wet_top, blur_wet = 1000.0, blur_days
        if known_wet:
            wet_top = WET_TOP_L_H
            blur_wet = 0.0 if k == 0 else (wet_edge[k] - wet_edge[k - 1]) / ROOT_12
            wetted = wet_edge[0] if k == 0 else 0.5 * (wet_edge[k - 1] + wet_edge[k])
            for j in range(clock.shape[0]):
                clock[j] = max(wet_hours[j] - wetted, 0.0)
        at_onset[WET, k], ratio_at[WET, k] = pk.drift(
            all_d, all_x, clock, all_bridge, all_misread, qd, w, qe, wet_top, pk.DAMP, pk.SOAKED, 0.5, since,
            middle_l, blur_wet, all_base, attempts,
        )  # fmt: skip
        if first == n:
            # Nobody has found anything new since: the pairs cannot tell such a beginning from none.
            for row in (DEAD, DOUBLE, REVERSED, DECADE, UNIT, LOST, EXTRA, RESET, EXCHANGED, PATCHY):
                at_onset[row, k] = 0.0
            continue
        last_sd = pk.noise_l(1.0, qd, w, qe, bridge[n - 1])
        if calm and NEAREST * (d[n - 1] - high_l) > 10.0 * last_sd:
            # The last look is true to within its noise, and every setting would have moved it far beyond.
            for row in (DEAD, DOUBLE, REVERSED, DECADE, UNIT):
                at_onset[row, k] = floors[first]
        else:
            for row, ratio in ((DEAD, 0.0), (DOUBLE, 2.0), (REVERSED, -1.0)):
                high = high_l
                if row == REVERSED and k > 0:
                    # The index turns somewhere in the span: at its end it may be back where it began.
                    pace_l = abs(d[n - 1]) / max((t_us[n - 1] - edge_us[0]) / DAY_US, 1.0)
                    high = max(high, low_l + 1.5 * pace_l * (edge_us[k] - edge_us[k - 1]) / DAY_US)
                at_onset[row, k] = pk.fixed_ratio(
                    d, x, bridge, misread, qd, w, qe, ratio, first, low_l, high, base, floors[first]
                )
                ratio_at[row, k] = ratio
            _settings(DECADE, d, x, bridge, misread, qd, w, qe, decade_ratio, decade_share, first, low_l, high_l, base,
                      floors[first], at_onset, ratio_at, k)  # fmt: skip
            _settings(UNIT, d, x, bridge, misread, qd, w, qe, unit_ratio, unit_share, first, low_l, high_l, base,
                      floors[first], at_onset, ratio_at, k)  # fmt: skip
        for row, low, high in ((LOST, 0.02, 0.985), (EXTRA, 1.015, 1.95)):
            value, r = pk.free_share(
                d, x, clock, bridge, misread, qd, w, qe, low, high, first, middle_l, blur_l, base, attempts
            )
            at_onset[row, k] = value
            ratio_at[row, k] = r
        if step[first] < -1e299:
            step[first], step_l[first] = pk.offset(d, x, bridge, misread, qd, w, qe, first, base)
            for i in range(2):
                # The new meter may give another weight than the endpoint was told: a decade is the usual one.
                ratio = 0.1 if i == 0 else 10.0
                other[i, first], _ = pk.offset(ratio * d, x, bridge, misread, ratio * qd, w, qe, first, base)
        # A new dial starts near nothing, and then shows no more than what was used since; or it may show anything.
        used_l = max(x[first] - middle_l, 0.0) + FRESH_L
        fresh = FRESH_SHARE / used_l if seen[first] <= used_l else 0.0
        seen_so = math.log(fresh + (1.0 - FRESH_SHARE) / dial_l)
        at_onset[EXCHANGED, k] = step[first] + seen_so + math.log(1.0 - OTHER_WEIGHT)
        for i in range(2):
            scale = math.log(0.1 if i == 0 else 10.0)
            at_onset[EXCHANGED, k] = pk.log_add(
                at_onset[EXCHANGED, k], other[i, first] + seen_so - scale + math.log(0.5 * OTHER_WEIGHT)
            )
        ratio_at[EXCHANGED, k] = step_l[first]
        least = 2.0 * pk.noise_l(1.0, qd, w, qe, bridge[first])
        # A fall smaller than what a read's interval draws hides between two reads.
        down = UNSEEN_FALL
        if step_l[first] < -0.5 * least and (falls & 1 or -step_l[first] < 1.5 * between_l):
            down = 0.0 if falls & 1 else HIDDEN_FALL
        at_onset[RESET, k] = step[first] + down + pk.any_size(step_l[first], least, capacity_l)
        ratio_at[RESET, k] = step_l[first]
        at_onset[PATCHY, k], ratio_at[PATCHY, k] = pk.stops(
            d, x, clock, bridge, misread, qd, w, qe, first, middle_l, blur_l, base, attempts
        )
        if known_wet and not calm:
            before_l = 0.0 if first == 0 else d[first - 1]
            onset_l = in_wet[first] - wet_share[first] * max(d[first] - max(middle_l, before_l), 0.0)
            for j in range(n):
                in_wet_since[j] = max(in_wet[j] - onset_l, 0.0)
            value, share = pk.shunted(
                d, x, in_wet_since, bridge, misread, qd, w, qe, first, middle_l, blur_l * wet_share[first], base,
                attempts,
            )  # fmt: skip
            value += math.log(pk.SHUNT_SHARE)
            at_onset[PATCHY, k] += math.log(1.0 - pk.SHUNT_SHARE)
            if value > at_onset[PATCHY, k]:
                ratio_at[PATCHY, k] = 1.0 - share * in_wet_since[n - 1] / max(d[n - 1] - middle_l, w)
            at_onset[PATCHY, k] = pk.log_add(at_onset[PATCHY, k], value)
    if span_fallen >= 0 and not calm:
        # The reads tell when it fell and how far: the looks after must be short by about as much.
        known = 0.0
        for j in range(n):
            sd = pk.noise_l(1.0, qd, w, qe, bridge[j])
            sd = math.hypot(sd, FALLEN_SHARE * fallen[j] + (between_l if fallen[j] > 0 else 0.0))
            known += (
                pk.pair_density(x[j] - d[j] + fallen[j], sd, misread[j], pk.spread_l(d[j], x[j], sd, qd + w)) - base[j]
            )
        at_onset[RESET, span_fallen] = pk.log_add(at_onset[RESET, span_fallen], known + math.log(float(spans)))
    for row in range(at_onset.shape[0]):
        for k in range(spans + 1):
            at_onset[row, k] = max(at_onset[row, k], LEAST_LOG)
    _static(d, x, bridge, misread, falls, qd, w, qe, capacity_l, base, total, loglik, parameter)


@njit(cache=True)
def _static(d, x, bridge, misread, falls, qd, w, qe, capacity_l, base, total, loglik, parameter):
    """Fill the row of faults without an onset of their own: they begin with the fitting, or look at single pairs."""
    n = d.shape[0]
    loglik[:] = 0.0
    loglik[STALE] = pk.late(d, x, bridge, misread, qd, w, qe) - total
    # Start wrong: either the record shows it (no offset against the true start), or every look is off by one figure.
    value, offset = pk.offset(d, x, bridge, misread, qd, w, qe, 0, base)
    least = 2 * pk.noise_l(1.0, qd, w, qe, bridge[0])
    value += pk.any_size(offset, least, capacity_l)
    slip = 2.5 if _is_slip(offset, qd, least) else 0.0
    loglik[START] = pk.log_add(math.log(0.6), value + slip + math.log(0.4))
    if value + slip + math.log(0.4) > math.log(0.6):
        parameter[START] = offset
    loglik[DIGITS] = math.log(0.4)
    # An early turn is a fall of the index, or a first read without the start's top digits: else there was no turn.
    for turn in TURNS:
        modulus = qe * turn
        if not falls or modulus >= capacity_l * 0.5:
            continue
        value, turns = pk.capacity(d, x, bridge, misread, qd, w, qe, modulus)
        if turns > 0:
            value += math.log(0.1) - total
            if value > loglik[DIGITS]:
                parameter[DIGITS] = modulus
            loglik[DIGITS] = pk.log_add(loglik[DIGITS], value)
    spread = 0.0
    for j in range(n):
        sd = pk.noise_l(1.0, qd, w, qe, bridge[j])
        wide = pk.spread_l(d[j], x[j], sd, qd + w)
        spread += math.log(0.3 * math.exp(base[j]) + 0.7 / wide) - base[j]
    loglik[OPEN] = max(spread, -2.0)
    loglik[DUPLICATE] = max(spread + 0.5, -1.0)
    value, r = pk.other_course(d, x, bridge, misread, qd, w, qe, base)
    # Another dial's course need not be in proportion to this one's.
    for c in (CROSSED, PORTS):
        loglik[c] = max(value, spread - 0.5)
        parameter[c] = r


@njit(cache=True, nogil=True)
def weigh_all(
    first, d, x, t_us, bridge, misread, slip, seen, fallen, span_fallen, falls, between_l, day_l, usable,
    wet_hours, wet_edge, qd, w, qe, capacity_l, dial_l, edge_us, edge_l, decade_ratio, decade_share, unit_ratio,
    unit_share, loglik, parameter, at_onset, best_at, log_prior, used, begin, end,
):  # fmt: skip
    """Run ``weigh_port`` over the rows from ``begin`` to before ``end``.

    ``at_onset`` (timed, n, 1 + spans) is filled, and ``best_at`` (timed, n) gets the best ratio, rate or offset.
    """
    timed = at_onset.shape[0]
    spans = edge_us.shape[1] - 1
    told = np.zeros((timed, spans + 1))
    ratio_at = np.zeros((timed, spans + 1))
    for f in range(begin, end):
        rows = np.flatnonzero(usable[first[f] : first[f + 1]]) + first[f]
        if rows.shape[0] == 0 or not (qd[f] > 0 and w[f] > 0 and qe[f] > 0):
            continue
        if rows.shape[0] > MOST_PAIRS:
            rows = np.concatenate((rows[: MOST_PAIRS // 2], rows[-(MOST_PAIRS // 2) :]))
        used[f] = rows.shape[0]
        ratio_at[:, :] = np.nan
        weigh_port(
            d[rows], x[rows], t_us[rows], bridge[rows], misread[rows], slip[rows], seen[rows], fallen[rows],
            span_fallen[f], falls[f],
            between_l[f], day_l[f], wet_hours[rows], wet_edge[f], qd[f], w[f], qe[f], capacity_l[f], dial_l[f],
            edge_us[f], edge_l[f],
            decade_ratio, decade_share, unit_ratio, unit_share, loglik[f], parameter[f], told, ratio_at,
        )  # fmt: skip
        for row in range(timed):
            best = -1e300
            for k in range(spans + 1):
                at_onset[row, f, k] = told[row, k]
                value = told[row, k] + log_prior[row, k]
                if value > best and not math.isnan(ratio_at[row, k]):
                    best = value
                    best_at[row, f] = ratio_at[row, k]


def fallen_before(case: Case, onsets: Onsets) -> tuple[Floats, Ints]:
    """Return how far the reads show the index to have fallen before each look, (m,) [L], and the first fall's span.

    The span is (n,), -1 where the index never fell, or so often that not every fall was kept.
    """
    back, figures, pairs = case.scan.back, case.scan.figures, case.pairs
    kept = (figures["backs"] > 0) & (figures["backs"] <= back.shape[1])
    span = np.where(kept, onsets.span_of(back[:, 0, 1].copy()), -1)
    size = np.where(back[:, :, 1] > 0, back[:, :, 2] - back[:, :, 3], 0)[pairs.fitting]
    before = back[pairs.fitting, :, 1] <= pairs.at_us[:, None]
    fallen = (size * before).sum(axis=1) * case.fleet.quantum_index_l[pairs.fitting]
    return np.where(kept[pairs.fitting], fallen, 0.0), span


def weigh(case: Case, onsets: Onsets) -> Block:
    """Weigh every port's pairs; a port without a usable pair keeps a row of zeros.

    Returns
    -------
    Block
        ``parameter`` holds ratios, rates [L/day or L/wet h] or offsets [L] as the fault asks.

    Source
    ------
    The shapes of an error (arithmetic): constant, proportional, with time, with flow, flat then jump. Our assumption:
    residuals are Gaussian with a share of misread dials; override the share by source in ``pairing.MISREAD``.
    """
    fleet, pairs = case.fleet, case.pairs
    n = fleet.size
    wet = np.where(case.scan.calendar.wet < 0, 0, case.scan.calendar.wet)
    known = bool((case.scan.calendar.wet >= 0).any())
    cumulative = np.concatenate(([0], np.cumsum(wet)))
    fallen_l, span_fallen = fallen_before(case, onsets)

    def hours_at(at_us):
        hour = (at_us - case.scan.calendar.start_us) // 3_600_000_000
        return cumulative[np.clip(hour, 0, len(cumulative) - 1)].astype(float)

    wet_hours = (
        hours_at(pairs.at_us) - hours_at(fleet.fit_us[pairs.fitting]) if known else np.full(len(pairs.at_us), -1.0)
    )
    wet_edge = (
        hours_at(onsets.edge_us) - hours_at(fleet.fit_us)[:, None] if known else np.full(onsets.edge_us.shape, -1.0)
    )
    dial_l = np.nan_to_num(fleet.capacity_dial_l, nan=1e9)
    seen_l = np.mod(np.nan_to_num(fleet.dial_fit_l[pairs.fitting]) + pairs.dial_l, dial_l[pairs.fitting])
    figures = case.scan.figures
    between_l = np.abs(figures["walk"]) * fleet.quantum_index_l / np.maximum(figures["n"] - 1, 1)
    falls = ((case.scan.figures["backs"] > 0) | (case.scan.figures["beyond"] > 0)).astype(np.int8)
    falls |= 2 * (pairs.start_broken == 1).astype(np.int8)
    used = np.zeros(n, np.int64)

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        last = pairs.rows_of(row)[-1]
        d, x = float(pairs.dial_l[last]), float(pairs.index_l[last])
        ratio = x / d if abs(d) > 0 else math.nan
        noise = pairs.bridge_l[last] + fleet.quantum_dial_l[row] + fleet.weight_set_l[row]
        figures: dict[str, Figure] = {
            "dial_moved_l": round(d, 3), "index_moved_l": round(x, 3), "pairs": int(used[row]),
            "reading_noise_l": round(float(noise), 3),
        }  # fmt: skip
        if math.isfinite(ratio):
            figures["index_over_dial"] = round(ratio, 5)
        return "Dial and index compared at the same moments since the fitting.", figures

    block = Block.blank("pairs", n, says)
    capacity_l = np.where(fleet.capacity_counts > 0, fleet.capacity_counts * fleet.quantum_index_l, 1e12)
    told = np.zeros((len(TIMED), n, 1 + SPANS), np.float32)
    best_at = np.full((len(TIMED), n), np.nan)
    log_prior = np.maximum(np.stack([onset_log_prior(code, SPANS) for code in TIMED]), 5 * FLOOR)
    data = (
        pairs.first, pairs.dial_l, pairs.index_l - case.start_lag_l[pairs.fitting], pairs.at_us, pairs.bridge_l,
        pairs.misread, slip_density(case), seen_l, fallen_l, span_fallen, falls, between_l,
        np.abs(onsets.rate_l_day), pairs.usable,
        wet_hours, wet_edge, fleet.quantum_dial_l, fleet.weight_set_l, fleet.quantum_index_l, capacity_l, dial_l,
        onsets.edge_us, onsets.edge_l, DECADE_RATIOS[0], np.exp(DECADE_RATIOS[1]), UNIT_RATIOS[0],
        np.exp(UNIT_RATIOS[1]), block.loglik, block.measured(), told, best_at, log_prior, used,
    )  # fmt: skip
    over_parts(n, lambda begin, end: weigh_all(*data, begin, end))
    block.loglik = np.maximum(block.loglik, 2.5 * FLOOR)
    for number, code in enumerate(TIMED):
        block.at_onset[code] = told[number]
        block.measured()[:, COLUMN[code]] = best_at[number]
    case.notes.pairs_used = used
    return block
