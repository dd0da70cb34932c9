"""Evidence of dial/index pairs: the shape of the error over time names the family of fault."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence import pair_kernel as pk
from dialtrue.engine.evidence.frame import FLOOR, N_FAULTS, Block, Case
from dialtrue.engine.onset_prior import LATE_SHARE
from dialtrue.engine.onsets import Onsets
from dialtrue.engine.ratios import DECADE_RATIOS, UNIT_RATIOS
from dialtrue.engine.scan_kernel import DAY_US

STEADY_TOP_L_DAY = 1e10
"""Most that induced counts add in a day: mains hum at a coarse weight. Our assumption. [L/day]"""
NO_SLIP_SHARE = 0.2
"""Share of misread dials that are off by something else than one figure or two exchanged. Our assumption."""
BACKFLOW_TOP_L_DAY = 150.0
"""Most that reverse flow adds in a day. Our assumption: it is small and steady. [L/day]"""

_C = {code: COLUMN[code] for code in COLUMN}
SOUND, DEAD, LOST, DOUBLE, EXTRA, WET, STEADY, PATCHY, DECADE, UNIT, DIGITS, START = (
    _C[c] for c in ("sound", "dead_input", "lost_counts", "double_count", "extra_counts", "wet_counts", "steady_counts",
                    "intermittent", "weight_decade", "unit_slip", "digit_slip", "start_slip")
)  # fmt: skip
CROSSED, PORTS, DUPLICATE, EXCHANGED, STALE, CLOCK, BACKFLOW, RESET, REVERSED, OPEN = (
    _C[c] for c in ("crossed", "ports_swapped", "duplicate_serial", "meter_exchanged", "stale_index", "clock_shift",
                    "backflow_counted", "index_reset", "meter_reversed", "not_listed")
)  # fmt: skip


@njit(cache=True, inline="always")
def _merge(loglik, parameter, since, best, column, value, ratio, onset_us):
    """Add a hypothesis into a fault's sum, and keep the best one's figures."""
    top = max(loglik[column], value)
    loglik[column] = top + math.log(math.exp(loglik[column] - top) + math.exp(value - top))
    if value > best[column]:
        best[column] = value
        parameter[column] = ratio
        since[column] = onset_us


@njit(cache=True)
def _is_slip(offset, quantum, noise):
    """Whether an offset is a slip of the pen: two leading figures and zeros, in units of the dial's least digit."""
    steps = abs(offset) / quantum
    if not steps >= 100:
        return False
    power = 10.0 ** (math.floor(math.log10(steps)) - 1)
    return abs(steps - round(steps / power) * power) * quantum <= noise and power * quantum > 6 * noise


@njit(cache=True, inline="always")
def _onset_prior(late, column, for_fit, k_late):
    return math.log(1 - late[column]) if for_fit else math.log(late[column] / k_late)


@njit(cache=True)
def weigh_port(
    d, x, t_us, bridge, misread, odd, fresh, falls, wet_hours, wet_at_onset, qd, w, qe, step_counts_l,
    capacity_l, onset_us, onset_l, late,
    decade_ratio, decade_prior, unit_ratio, unit_prior, loglik, parameter, since,
):  # fmt: skip
    """Fill one port's row of log-likelihoods from its pairs (all arrays are of that port)."""
    best = np.full(loglik.shape[0], -1e30)
    base = pk.ratio_loglik(d, x, t_us, bridge, misread, qd, w, qe, 1.0, onset_us[0], 0.0)
    loglik[:] = base
    for c in (DEAD, LOST, DOUBLE, EXTRA, DECADE, UNIT, REVERSED, CROSSED, PORTS, DIGITS, START, EXCHANGED, RESET):
        loglik[c] = -1e30
    k_late = onset_us.shape[0] - 1
    for k in range(onset_us.shape[0]):
        for_fit = k == 0
        t0 = onset_us[k]
        v0 = 0.0 if for_fit else onset_l[k]

        value = pk.ratio_loglik(d, x, t_us, bridge, misread, qd, w, qe, 0.0, t0, v0)
        _merge(loglik, parameter, since, best, DEAD, value + _onset_prior(late, DEAD, for_fit, k_late), 0.0, t0)
        value = pk.ratio_loglik(d, x, t_us, bridge, misread, qd, w, qe, 2.0, t0, v0)
        _merge(loglik, parameter, since, best, DOUBLE, value + _onset_prior(late, DOUBLE, for_fit, k_late), 2.0, t0)
        value = pk.ratio_loglik(d, x, t_us, bridge, misread, qd, w, qe, -1.0, t0, v0)
        _merge(
            loglik, parameter, since, best, REVERSED, value + _onset_prior(late, REVERSED, for_fit, k_late), -1.0, t0
        )
        for i in range(decade_ratio.shape[0]):
            value = pk.ratio_loglik(d, x, t_us, bridge, misread, qd, w, qe, decade_ratio[i], t0, v0)
            _merge(
                loglik,
                parameter,
                since,
                best,
                DECADE,
                value + decade_prior[i] + _onset_prior(late, DECADE, for_fit, k_late),
                decade_ratio[i],
                t0,
            )
        for i in range(unit_ratio.shape[0]):
            value = pk.ratio_loglik(d, x, t_us, bridge, misread, qd, w, qe, unit_ratio[i], t0, v0)
            _merge(
                loglik,
                parameter,
                since,
                best,
                UNIT,
                value + unit_prior[i] + _onset_prior(late, UNIT, for_fit, k_late),
                unit_ratio[i],
                t0,
            )
        value, r = pk.free_ratio_loglik(d, x, t_us, bridge, misread, qd, w, qe, 0.02, 0.985, False, t0, v0)
        _merge(loglik, parameter, since, best, LOST, value + _onset_prior(late, LOST, for_fit, k_late), r, t0)
        value, r = pk.free_ratio_loglik(d, x, t_us, bridge, misread, qd, w, qe, 1.015, 1.95, False, t0, v0)
        _merge(loglik, parameter, since, best, EXTRA, value + _onset_prior(late, EXTRA, for_fit, k_late), r, t0)
        value, r = pk.free_ratio_loglik(d, x, t_us, bridge, misread, qd, w, qe, 0.01, 100.0, True, t0, v0)
        _merge(loglik, parameter, since, best, CROSSED, value + _onset_prior(late, CROSSED, for_fit, k_late), r, t0)
        _merge(loglik, parameter, since, best, PORTS, value + _onset_prior(late, PORTS, for_fit, k_late), r, t0)
    known_wet = wet_hours[-1] >= 0
    for c in (STEADY, BACKFLOW, WET):
        loglik[c] = -1e30
    for k in range(onset_us.shape[0]):
        days = np.maximum((t_us - onset_us[k]) / DAY_US, 0.0)
        share = math.log(0.4) if k == 0 else math.log(0.6 / k_late)
        value, rate = pk.drift_loglik(d, x, days, bridge, misread, qd, w, qe, STEADY_TOP_L_DAY)
        _merge(loglik, parameter, since, best, STEADY, value + share, rate, onset_us[k])
        value, rate = pk.drift_loglik(d, x, days, bridge, misread, qd, w, qe, BACKFLOW_TOP_L_DAY)
        _merge(loglik, parameter, since, best, BACKFLOW, value + share, rate, onset_us[k])
        if known_wet:
            wetted = np.maximum(wet_hours - wet_at_onset[k], 0.0)
            value, rate = pk.drift_loglik(d, x, wetted, bridge, misread, qd, w, qe, 2000.0)
        else:
            value, rate = pk.drift_loglik(d, x, days, bridge, misread, qd, w, qe, 1000.0)
        _merge(loglik, parameter, since, best, WET, value + share, rate, onset_us[k])
    loglik[PATCHY] = pk.patchy_loglik(d, x, bridge, misread, qd, w, qe)
    loglik[STALE] = pk.late_loglik(d, x, bridge, misread, qd, w, qe)
    # Start wrong: either the record shows it (no offset against the true start), or every look is off by one figure.
    value, offset = pk.offset_loglik(d, x, bridge, misread, qd, w, qe, 0, capacity_l)
    _merge(loglik, parameter, since, best, START, base + math.log(0.6), np.nan, onset_us[0])
    slip = 2.5 if _is_slip(offset, qd, 2 * pk._noise_l(1.0, qd, w, qe, bridge[0])) else 0.0
    _merge(loglik, parameter, since, best, START, value + slip + math.log(0.4), offset, onset_us[0])
    n = d.shape[0]
    for first in range(n):
        value, offset = pk.offset_loglik(d, x, bridge, misread, qd, w, qe, first, capacity_l)
        between = t_us[first] if first == 0 else (t_us[first] + t_us[first - 1]) // 2
        # A new dial starts near nothing: it shows no more than what was used since.
        change = (2.0 + 4.0 * fresh[first] if odd[first] else -1.5) - math.log(n + 0.0)
        _merge(loglik, parameter, since, best, EXCHANGED, value + change, offset, between)
        down = -math.log(n + 0.0) if offset < 0 and falls else -7.0
        _merge(loglik, parameter, since, best, RESET, value + down, offset, between)
    # A reset or exchange after the last look leaves every pair clean.
    _merge(loglik, parameter, since, best, EXCHANGED, base + math.log(0.15), np.nan, 0)
    _merge(loglik, parameter, since, best, RESET, base + math.log(0.3), np.nan, 0)
    modulus = step_counts_l * 1000.0
    options = 0
    # An early turn is a fall of the index: without one in the reads there was no turn.
    while falls and modulus < capacity_l * 0.5 and options < 8:
        value, turns = pk.capacity_loglik(d, x, bridge, misread, qd, w, qe, modulus)
        if turns > 0:
            _merge(loglik, parameter, since, best, DIGITS, value + math.log(0.1), modulus, onset_us[0])
        modulus *= 10.0
        options += 1
    _merge(loglik, parameter, since, best, DIGITS, base + math.log(0.4), np.nan, onset_us[0])
    spread = 0.0
    for j in range(n):
        sd = pk._noise_l(1.0, qd, w, qe, bridge[j])
        clean = math.exp(pk._pair_density(x[j] - d[j], sd, misread[j], pk._spread_l(d[j], x[j], sd, qd + w)))
        spread += math.log(0.3 * clean + 0.7 / pk._spread_l(d[j], x[j], sd, qd + w))
    loglik[OPEN] = max(spread, base - 2.0)
    # Another dial's course need not be in proportion to this one's.
    for c in (CROSSED, PORTS):
        loglik[c] = max(loglik[c], spread - 0.5)
    loglik[DUPLICATE] = max(spread + 0.5, base - 1.0)
    loglik[CLOCK] = base - 0.05


@njit(cache=True)
def weigh_all(
    first, d, x, t_us, bridge, misread, odd, fresh, falls, usable, wet_hours, wet_at_onset, qd, w, qe, capacity_l,
    onset_us, onset_l, late,
    decade_ratio, decade_prior, unit_ratio, unit_prior, loglik, parameter, since, used,
):  # fmt: skip
    """Run ``weigh_port`` over the fleet on the usable pairs of each port."""
    for f in range(first.shape[0] - 1):
        rows = np.flatnonzero(usable[first[f] : first[f + 1]]) + first[f]
        if rows.shape[0] == 0 or not (qd[f] > 0 and w[f] > 0 and qe[f] > 0):
            continue
        if rows.shape[0] > 24:
            rows = np.concatenate((rows[:12], rows[-12:]))
        used[f] = rows.shape[0]
        weigh_port(
            d[rows], x[rows], t_us[rows], bridge[rows], misread[rows], odd[rows], fresh[rows], falls[f],
            wet_hours[rows],
            wet_at_onset[f],
            qd[f], w[f], qe[f], qe[f], capacity_l[f], onset_us[f], onset_l[f], late,
            decade_ratio, decade_prior, unit_ratio, unit_prior, loglik[f], parameter[f], since[f],
        )  # fmt: skip


def _slip_of_the_pen(case: Case) -> np.ndarray:
    """Mark pairs whose error is what one wrong figure or two exchanged ones would make, bool (m,).

    One wrong figure is k * 10^p, two neighbours exchanged 9 k * 10^p, in units of the dial's least digit; an error
    within the reading noise of nothing counts as well.
    """
    fleet, pairs = case.fleet, case.pairs
    f = pairs.fitting
    quantum = fleet.quantum_dial_l[f]
    with np.errstate(divide="ignore", invalid="ignore"):
        steps = np.abs(pairs.index_l - pairs.dial_l) / quantum
        noise = 1.5 * (quantum + fleet.weight_set_l[f] + fleet.quantum_index_l[f] + 2 * pairs.bridge_l) / quantum
        found = ~np.isfinite(steps) | (steps <= noise)
        for places in range(10):
            for unit in (10.0**places, 9 * 10.0**places):
                k = np.round(steps / unit)
                found |= (k >= 1) & (k <= 9) & (np.abs(steps - k * unit) <= noise)
    return found


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

    def hours_at(at_us):
        hour = (at_us - case.scan.calendar.start_us) // 3_600_000_000
        return cumulative[np.clip(hour, 0, len(cumulative) - 1)].astype(float)

    wet_hours = (
        hours_at(pairs.at_us) - hours_at(fleet.fit_us[pairs.fitting]) if known else np.full(len(pairs.at_us), -1.0)
    )
    wet_at_onset = (hours_at(onsets.at_us) - hours_at(fleet.fit_us)[:, None]) if known else np.zeros(onsets.at_us.shape)
    seen_l = np.mod(
        np.nan_to_num(fleet.dial_fit_l[pairs.fitting]) + pairs.dial_l,
        np.nan_to_num(fleet.capacity_dial_l[pairs.fitting], nan=1e12),
    )
    fresh = ((pairs.odd == 1) & (seen_l < 1.5 * np.maximum(pairs.index_l, 0) + 2000.0)).astype(np.int8)
    falls = ((case.scan.figures["backs"] > 0) | (case.scan.figures["beyond"] > 0)).astype(np.int8)
    misread = pairs.misread * np.where(_slip_of_the_pen(case), 1.0, NO_SLIP_SHARE)
    late = np.full(N_FAULTS, 0.5)
    for code, share in LATE_SHARE.items():
        late[COLUMN[code]] = share
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
    weigh_all(
        pairs.first, pairs.dial_l, pairs.index_l, pairs.at_us, pairs.bridge_l, misread, pairs.odd, fresh, falls,
        pairs.usable, wet_hours, wet_at_onset, fleet.quantum_dial_l, fleet.weight_set_l, fleet.quantum_index_l,
        capacity_l, onsets.at_us, onsets.index_l, late,
        DECADE_RATIOS[0], DECADE_RATIOS[1], UNIT_RATIOS[0], UNIT_RATIOS[1], block.loglik,
        block.parameter, block.since_us, used,
    )  # fmt: skip
    top = block.loglik.max(axis=1, keepdims=True)
    block.loglik = np.maximum(block.loglik - top, 2.5 * FLOOR)
    case.notes.pairs_used = used
    return block
