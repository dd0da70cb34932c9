"""Evidence of use before the fitting: a wrong setting multiplies what the place used to use."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import N_FAULTS, Block, Case
from dialtrue.engine.fleet import Floats
from dialtrue.engine.onsets import Onsets
from dialtrue.engine.ratios import DECADE_RATIOS, UNIT_RATIOS
from dialtrue.engine.stakes import last_pair

SEASON_SPREAD = 0.25
"""Spread of one season against another of the same place [nat]. Our assumption."""
MOVE_SHARE, MOVE_SPREAD = 0.08, 1.0
"""Share of places whose use is no longer what it was, and by how much [nat]. Our assumption."""


OF_THE_DIAL = ("customer_leak", "vacant", "use_change", "register_mismatch")
"""Causes that change what the dial itself shows."""
LEAST_LOOK_DAYS = 12.0
"""Days between fitting and look from which the dial tells a rate. Our assumption."""


def dial_rate(case: Case) -> np.ndarray:
    """Return the dial's own rate from the fitting to its last look, nan where no look tells one; (n,) [L/day]."""
    pairs, fleet = case.pairs, case.fleet
    last = last_pair(pairs, fleet.size)
    pick = np.maximum(last, 0)
    if not len(pairs.at_us):
        return np.full(fleet.size, np.nan)
    days = (pairs.at_us[pick] - fleet.fit_us) / 86_400e6
    moved = pairs.dial_l[pick]
    told = (last >= 0) & (pairs.anchored == 1) & (days >= LEAST_LOOK_DAYS) & (moved > 0) & (pairs.odd[pick] == 0)
    return np.where(told, moved / np.maximum(days, 1.0), np.nan)


def _normal(x, mean, sd):
    return -0.5 * ((x - mean) / sd) ** 2 - np.log(sd)


@dataclass(slots=True)
class UseBefore:
    """Use since the fitting against use before it; shapes (n,).

    ``known`` where both are; ``dialled`` where the dial itself was looked at again and tells the use, whatever the
    index did; ``index_l_day`` what the index says, ``rate_l_day`` the dial where it tells, else the index;
    ``log_ratio`` after over before less the town's own shift [nat]; ``spread_nat`` by how much a place differs from
    itself.
    """

    known: NDArray[np.bool_]
    dialled: NDArray[np.bool_]
    index_l_day: Floats
    rate_l_day: Floats
    log_ratio: Floats
    spread_nat: Floats
    shift_nat: float


def use_before(case: Case) -> UseBefore:
    """Lay use since the fitting beside use before it.

    A fall of the index is no use: where it fell, only what went forward counts. The town's own shift (median over ports
    with a history) is taken out: in a dry summer everybody rises. Never raises.
    """
    fleet, figures = case.fleet, case.scan.figures
    forward = figures["walk"] - figures["back_total"]
    fell = (figures["backs"] > 0) & (forward > 0.2 * np.abs(figures["back_total"]))
    index = np.where(fell, forward, np.abs(figures["walk"])) * fleet.quantum_index_l / case.days
    seen = dial_rate(case)
    dialled = np.isfinite(seen)
    rate = np.where(dialled, seen, index)
    known = (fleet.use_l_day > 0) & (figures["n"] >= 3) & (case.days >= 5)
    with np.errstate(divide="ignore", invalid="ignore"):
        z = np.log(np.maximum(rate, 1e-9) / fleet.use_l_day)
    usable = known & (rate > 0.02 * np.where(known, fleet.use_l_day, 1.0))
    shift = float(np.median(z[usable])) if usable.sum() >= 20 else 0.0
    z = np.where(known, np.clip(z - shift, -9.0, 9.0), 0.0)
    s = np.sqrt(SEASON_SPREAD**2 + np.nan_to_num(fleet.use_spread, nan=0.4) ** 2 * 0.6 + 2.0 / np.maximum(case.days, 1))
    return UseBefore(known, dialled, index, rate, z, s, shift)


def weigh(case: Case, onsets: Onsets) -> Block:
    """Weigh the rate since the fitting against the rate before it.

    Source
    ------
    Log-normal use, our assumption; spread from the port's own billed periods.
    """
    fleet, n = case.fleet, case.fleet.size
    before = use_before(case)
    known, dialled, rate, z, s = before.known, before.dialled, before.rate_l_day, before.log_ratio, before.spread_nat

    def mixture(mean, sd=None):
        wide = np.sqrt((sd if sd is not None else s) ** 2 + 0.0)
        return np.logaddexp(
            np.log(1 - MOVE_SHARE) + _normal(z, mean, wide),
            np.log(MOVE_SHARE) + _normal(z, mean, np.hypot(wide, MOVE_SPREAD)),
        )

    def over(ratios, weights):
        parts = [mixture(np.log(r)) + lw for r, lw in zip(ratios, weights, strict=True)]
        return logsumexp(np.stack(parts), axis=0)

    def spread(low, high):
        points = np.linspace(low, high, 9)
        return logsumexp(np.stack([mixture(p) for p in points]), axis=0) - np.log(len(points))

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        said: dict[str, Figure] = {
            "use_before_l_day": round(float(fleet.use_l_day[row]), 1), "registered_l_day": round(float(rate[row]), 1),
            "ratio_to_town_shift": round(float(np.exp(z[row])), 4), "spread_nat": round(float(s[row]), 3),
        }  # fmt: skip
        return "Registered use compared with use before the fitting.", said

    block = Block.blank("history", n, says)
    same = mixture(0.0)
    value = np.repeat(same[:, None], N_FAULTS, axis=1)
    value[:, COLUMN["weight_decade"]] = over(
        np.array([*DECADE_RATIOS[0], 1.0]), [*(DECADE_RATIOS[1] + np.log(0.92)), np.log(0.08)]
    )
    value[:, COLUMN["unit_slip"]] = over(
        np.array([*UNIT_RATIOS[0], 1.0]), [*(UNIT_RATIOS[1] + np.log(0.92)), np.log(0.08)]
    )
    value[:, COLUMN["double_count"]] = np.logaddexp(
        mixture(np.log(2.0)) + np.log(0.6), spread(0.0, np.log(2.0)) + np.log(0.4)
    )
    value[:, COLUMN["lost_counts"]] = spread(np.log(0.08), 0.0)
    value[:, COLUMN["intermittent"]] = spread(np.log(0.2), 0.0)
    value[:, COLUMN["extra_counts"]] = spread(0.0, np.log(2.0))
    value[:, COLUMN["dead_input"]] = spread(-6.0, 0.0)
    value[:, COLUMN["vacant"]] = spread(-6.0, 0.3)
    value[:, COLUMN["use_change"]] = np.logaddexp(
        _normal(z, 0.0, np.hypot(s, 1.0)) + np.log(0.8), spread(-1.5, 1.5) + np.log(0.2)
    )
    value[:, COLUMN["customer_leak"]] = spread(0.0, 1.8)
    # No count at all suits an empty house and a dead chain as well as any other ratio does.
    nothing = z < -2.5
    for code in ("vacant", "dead_input"):
        value[:, COLUMN[code]] = np.where(nothing, value.max(axis=1), value[:, COLUMN[code]])
    for code, top in (("wet_counts", 1.5), ("steady_counts", 4.0), ("backflow_counted", 1.0)):
        value[:, COLUMN[code]] = spread(0.0, top)
    # Hum counts every half wave or wave of the mains: hundreds or thousands of times the use.
    value[:, COLUMN["steady_counts"]] = np.logaddexp(
        value[:, COLUMN["steady_counts"]] + np.log(0.85), spread(4.0, 9.0) + np.log(0.15)
    )
    for code in ("crossed", "ports_swapped", "duplicate_serial", "not_listed", "index_reset", "digit_slip"):
        value[:, COLUMN[code]] = np.logaddexp(_normal(z, 0.0, np.hypot(s, 1.2)), same + np.log(0.3))
    bodies = np.array([0.4, 0.5, 0.6, 0.6667, 1.5, 1.6667, 2.0, 2.5])
    value[:, COLUMN["register_mismatch"]] = over(bodies, [np.log(1 / len(bodies))] * len(bodies))
    value[:, COLUMN["port_unread"]] = same
    # The dial's own rate says nothing of the chain behind it, only of the customer and of the register.
    for code in COLUMN:
        if code not in OF_THE_DIAL:
            value[:, COLUMN[code]] = np.where(dialled, same, value[:, COLUMN[code]])
    # Two courses under one serial may add up to anything.
    value[:, COLUMN["duplicate_serial"]] = np.where(
        dialled, same, np.maximum(value[:, COLUMN["duplicate_serial"]], value.max(axis=1) - 1.5)
    )
    block.loglik = np.where(known[:, None], value - value.max(axis=1, keepdims=True), 0.0)
    block.loglik = np.maximum(block.loglik, -12.0)
    case.notes.history_log_ratio = np.where(known, z, np.nan)
    return block
