"""How far the registered volume is from the true one, under the fault that was named, with its uncertainty."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dialtrue.domain.faults import FAULTS
from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.evidence.records import start_offset_counts
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.onsets import Onsets, filled_walk, walk_at
from dialtrue.engine.scan_kernel import DAY_US

Z90 = 1.645
RATIO_CODES = ("weight_decade", "unit_slip", "double_count", "lost_counts", "extra_counts", "meter_reversed",
               "register_mismatch")  # fmt: skip
EVEN_CODES = ("sound", "customer_leak", "vacant", "use_change", "clock_shift", "meter_exchanged", "duplicate_serial")
USE_SPREAD = 0.45
"""Spread of a place's use over weeks when only its history tells it [nat]. Our assumption."""


@dataclass(slots=True)
class VolumeError:
    """``middle_l``, ``low_l``, ``high_l`` (n,): registered minus true since the fitting and its 90 % interval [L]."""

    middle_l: Floats
    low_l: Floats
    high_l: Floats


def registered_since_fit(case: Case) -> Floats:
    """Return what the reads say has passed since the fitting, by the contract's definition. [L]

    The index now less the dial at the fitting, recorded rollovers counted, wrong starts and falls left as they stand.
    """
    fleet, figures, pairs = case.fleet, case.scan.figures, case.pairs
    q = fleet.quantum_index_l
    offset = np.nan_to_num(start_offset_counts(case))
    gap = np.where(pairs.start_broken == 1, figures["first_count"] - fleet.start_count, pairs.start_gap)
    gap = np.where(fleet.start_count >= 0, gap, 0)
    return (offset + gap + figures["walk"]) * q


def volume_error(case: Case, onsets: Onsets, code: Ints, parameter: Floats, since_us: Ints) -> VolumeError:
    """Estimate the volume error under the named fault.

    Parameters
    ----------
    code : int64, shape (n,)
        Column of the named fault.
    parameter : float64, shape (n,)
        Its ratio, rate or offset, nan where it has none.
    since_us : int64, shape (n,)
        Its onset.

    Returns
    -------
    VolumeError
        nan where nothing bounds it.

    Source
    ------
    The dial is the truth up to the last good pair; after it the index divided by the ratio. Spreads: our assumption.
    """
    fleet, figures, pairs, n = case.fleet, case.scan.figures, case.pairs, case.fleet.size
    q, w, qd = fleet.quantum_index_l, fleet.weight_set_l, fleet.quantum_dial_l
    registered = registered_since_fit(case)
    moved = (figures["walk"] + np.where(pairs.start_broken == 1, 0, pairs.start_gap)) * q
    rest = np.nan_to_num(np.hypot(np.hypot(w, q), qd), nan=1.0) * 0.6
    last = np.full(n, -1, np.int64)
    for f in range(n):
        rows = pairs.rows_of(f)
        if len(rows):
            last[f] = rows[-1]
    have = (last >= 0) & (pairs.anchored == 1)
    pick = np.maximum(last, 0)
    empty = len(pairs.dial_l) == 0
    dial_l = np.where(have, 0.0 if empty else pairs.dial_l[pick], 0.0)
    at_pair = np.where(have, 0.0 if empty else pairs.index_l[pick], 0.0)
    pair_us = np.where(have, 0 if empty else pairs.at_us[pick], 0)
    pair_sd = np.where(have, 0.0 if empty else pairs.bridge_l[pick], 0.0)
    walk_l = filled_walk(case.scan) * q[:, None]
    at_onset = walk_at(since_us[:, None], walk_l, case.scan.calendar.start_us, figures, q)[:, 0]
    at_onset = at_onset + np.where(since_us <= figures["first_us"], 0.0, pairs.start_gap * q)
    at_onset = np.where(since_us <= np.minimum(figures["first_us"], fleet.fit_us), 0.0, at_onset)
    name = np.array(FAULTS)[code]
    use = np.where(np.isnan(fleet.use_l_day), 400.0, fleet.use_l_day)
    days_from_onset = np.maximum(figures["last_us"] - since_us, 0) / DAY_US
    days_after_pair = np.maximum(figures["last_us"] - np.where(have, pair_us, since_us), 0) / DAY_US
    drive = np.where(have & (dial_l > 0), dial_l / np.maximum((pair_us - fleet.fit_us) / DAY_US, 0.5), use)

    middle = np.where(np.abs(registered - moved) <= 3 * rest, 0.0, registered - moved)
    sd = rest.copy()
    for f in range(n):
        what, r = name[f], parameter[f]
        after = moved[f] - (at_pair[f] if have[f] else at_onset[f])
        late = bool(have[f] and since_us[f] > pair_us[f])
        if what in EVEN_CODES:
            continue
        if what in RATIO_CODES and np.isfinite(r) and r != 0:
            known = dial_l[f] if have[f] else at_onset[f]
            if late:
                known, after = dial_l[f] + max(at_onset[f] - at_pair[f], 0.0), moved[f] - at_onset[f]
            if what == "register_mismatch":
                known, after = 0.0, moved[f]
            true = known + abs(after / r)
            loose = 0.12 if what in ("lost_counts", "extra_counts", "register_mismatch") else 0.004
            # One count of the index stands for 1/r of it in water.
            grain = 0.4 * float(np.hypot(q[f], w[f])) / abs(r)
            sd[f] = np.hypot(
                rest[f] + pair_sd[f] + grain, loose * abs(after / r) + (0.02 * abs(true) if not have[f] else 0)
            )
            middle[f] = registered[f] - true
        elif what == "start_slip":
            offset = registered[f] - moved[f]
            middle[f] = r if np.isfinite(r) and abs(r) > abs(offset) else offset
        elif what in ("dead_input", "intermittent", "port_unread", "crossed", "ports_swapped", "stale_index"):
            if what == "stale_index":
                still = figures["last_us"][f] - figures["moved_us"][f]
                if still < 1.5 * DAY_US:
                    continue
            known = dial_l[f] if have[f] else (at_onset[f] if what in ("dead_input", "stale_index") else 0.0)
            days = days_after_pair[f] if have[f] else days_from_onset[f]
            if late and what in ("dead_input", "stale_index"):
                known, days = dial_l[f] + max(at_onset[f] - at_pair[f], 0.0), days_from_onset[f]
            if what == "intermittent":
                share = min(max(dial_l[f] / at_pair[f], 1.0), 5.0) if have[f] and at_pair[f] > 0 else 1.25
                more = max(after, 0.0) * share
                spread = 0.5 * abs(more - max(after, 0.0)) + 0.05 * more
                known = dial_l[f] if have[f] else 0.0
            else:
                more = drive[f] * days
                spread = USE_SPREAD * more
            middle[f] = registered[f] - known - more
            sd[f] = rest[f] + pair_sd[f] + spread
        elif what == "index_reset":
            fell = r if np.isfinite(r) else -abs(float(figures["back_total"][f])) * q[f]
            middle[f] = fell + (registered[f] - moved[f] if abs(registered[f] - moved[f]) > 3 * rest[f] else 0.0)
            sd[f] = rest[f] + (drive[f] * 0.04)
        elif what == "digit_slip":
            true = (
                dial_l[f] + (after if after >= 0 else after + (r if np.isfinite(r) else 0.0))
                if have[f]
                else (moved[f] + (r if np.isfinite(r) else 0.0) * max(int(figures["backs"][f]), 0))
            )
            middle[f] = registered[f] - true
            sd[f] = rest[f] + pair_sd[f]
        elif what in ("wet_counts", "steady_counts", "backflow_counted", "not_listed"):
            if have[f]:
                share = (at_pair[f] - dial_l[f]) / max((pair_us[f] - fleet.fit_us[f]) / DAY_US, 0.5)
                extra = share * days_after_pair[f]
                middle[f] = registered[f] - dial_l[f] - (after - extra)
                sd[f] = rest[f] + pair_sd[f] + 0.7 * abs(extra)
            else:
                if what == "wet_counts":
                    excess = float(np.nan_to_num(case.notes.wet_excess_l[f]))
                elif what == "steady_counts":
                    excess = float(np.nan_to_num(case.notes.floor_l_h[f])) * 24 * days_from_onset[f]
                else:
                    excess = 0.1 * moved[f]
                middle[f] = excess
                sd[f] = rest[f] + 0.6 * abs(excess)
    unread = figures["n"] == 0
    span = np.maximum(case.end_us - fleet.fit_us, 0) / DAY_US
    middle = np.where(unread, np.where((name == "port_unread"), -use * span, np.nan), middle)
    sd = np.where(unread, USE_SPREAD * use * span, sd)
    return VolumeError(middle, middle - Z90 * sd, middle + Z90 * sd)


def either(named: VolumeError, runner_up: VolumeError, undecided: NDArray[np.bool_]) -> VolumeError:
    """Return the named fault's error with an interval that covers the runner-up's middle where the case is undecided.

    Never raises; nan of either side is passed over.
    """
    low = np.where(undecided, np.fmin(named.low_l, runner_up.middle_l), named.low_l)
    high = np.where(undecided, np.fmax(named.high_l, runner_up.middle_l), named.high_l)
    return VolumeError(named.middle_l, low, high)
