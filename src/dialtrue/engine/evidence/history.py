"""Evidence of use before the fitting: a wrong setting multiplies what the place used to use."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import N_FAULTS, Block, Case
from dialtrue.engine.evidence.use_density import at_ratios, over_logs, over_shares
from dialtrue.engine.fleet import Floats
from dialtrue.engine.onset_prior import LATE_SHARE
from dialtrue.engine.onsets import Onsets
from dialtrue.engine.ratios import DECADE_RATIOS, UNIT_RATIOS

SEASON_SPREAD = 0.18
"""Spread of one season against the same of another year at one place, wider as years go by [nat]. Our assumption."""
LATE_KEEPS = 0.5
"""Share of late beginnings that hardly move the mean. Our assumption: they come at any time."""
SETTINGS = ("weight_decade", "unit_slip")
AT_ONCE = 0.92
"""Share of wrong settings that show in the whole of the use since; the rest came late. Our assumption."""
BODIES = np.array([0.25, 0.4, 0.5, 0.6, 0.6667, 1.5, 1.6667, 2.0, 2.5, 4.0])
"""Ratios of one meter body to another whose registers fit. Our assumption, from flow per turn of common sizes."""
LEAST = 1e-6
"""Density that no use is without. Our assumption. [1/nat]"""


OF_THE_DIAL = ("customer_leak", "vacant", "use_change", "register_mismatch")
"""Causes that change what the dial itself shows."""
LEAST_LOOK_DAYS = 12.0
"""Days between fitting and look from which the dial tells a rate. Our assumption."""


def dial_rate(case: Case) -> np.ndarray:
    """Return the dial's own rate from the fitting to its last look, nan where no look tells one; (n,) [L/day]."""
    pairs, fleet = case.pairs, case.fleet
    last = pairs.last_rows()
    pick = np.maximum(last, 0)
    if not len(pairs.at_us):
        return np.full(fleet.size, np.nan)
    days = (pairs.at_us[pick] - fleet.fit_us) / 86_400e6
    moved = pairs.dial_l[pick]
    told = (last >= 0) & (pairs.anchored == 1) & (days >= LEAST_LOOK_DAYS) & (moved > 0) & (pairs.odd[pick] == 0)
    return np.where(told, moved / np.maximum(days, 1.0), np.nan)


def _normal(x: Floats, sd: Floats) -> Floats:
    density: Floats = np.exp(-0.5 * (x / sd) ** 2) / (sd * np.sqrt(2 * np.pi))
    return density


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
    drift = SEASON_SPREAD**2 * (1.0 + case.days / 365.0)
    s = np.sqrt(drift + np.nan_to_num(fleet.use_spread, nan=0.4) ** 2 * 0.6 + 2.0 / np.maximum(case.days, 1))
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

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        figures: dict[str, Figure] = {
            "use_before_l_day": round(float(fleet.use_l_day[row]), 1), "registered_l_day": round(float(rate[row]), 1),
            "ratio_to_town_shift": round(float(np.exp(z[row])), 4), "spread_nat": round(float(s[row]), 3),
        }  # fmt: skip
        return "Registered use compared with use before the fitting.", figures

    block = Block.blank("history", n, says)
    same = at_ratios(z, s, np.zeros(1), np.ones(1))
    said: dict[str, Floats] = {}
    for code, (ratios, log_shares) in zip(SETTINGS, (DECADE_RATIOS, UNIT_RATIOS), strict=True):
        share = np.concatenate((AT_ONCE * np.exp(log_shares), [1.0 - AT_ONCE]))
        said[code] = at_ratios(z, s, np.log(np.append(ratios, 1.0)), share)
    said["double_count"] = 0.6 * at_ratios(z, s, np.log([2.0]), np.ones(1)) + 0.4 * over_logs(z, s, 0.0, np.log(2.0))
    said["lost_counts"] = 0.85 * over_shares(z, s, 0.1, 1.0) + 0.15 * over_logs(z, s, -3.0, 0.0)
    said["intermittent"] = over_shares(z, s, 0.1, 1.0)
    said["extra_counts"] = over_logs(z, s, 0.0, np.log(2.0))
    said["dead_input"] = over_logs(z, s, -6.0, 0.0)
    said["vacant"] = over_logs(z, s, -6.0, 0.3)
    said["use_change"] = 0.8 * _normal(z, np.hypot(s, 1.0)) + 0.2 * over_logs(z, s, -1.5, 1.5)
    said["customer_leak"] = over_logs(z, s, 0.0, 1.8)
    said["wet_counts"] = over_logs(z, s, 0.0, 1.5)
    said["backflow_counted"] = over_logs(z, s, 0.0, 1.0)
    # Hum counts every half wave or wave of the mains: hundreds or thousands of times the use.
    said["steady_counts"] = 0.85 * over_logs(z, s, 0.0, 4.0) + 0.15 * over_logs(z, s, 4.0, 9.0)
    for code in ("crossed", "ports_swapped", "not_listed", "index_reset", "digit_slip"):
        said[code] = 0.75 * _normal(z, np.hypot(s, 1.2)) + 0.25 * same
    said["duplicate_serial"] = 0.5 * _normal(z, np.hypot(s, 1.2)) + 0.5 * over_logs(z, s, -2.0, 9.0)
    said["register_mismatch"] = at_ratios(z, s, np.log(BODIES), np.full(len(BODIES), 1 / len(BODIES)))
    # What begins late leaves the mean of the whole time nearly as it was.
    for code in said:
        late = LATE_KEEPS * LATE_SHARE.get(code, 0.0) if code not in SETTINGS else 0.0
        said[code] = (1.0 - late) * said[code] + late * same
    value = np.repeat(np.log(same + LEAST)[:, None], N_FAULTS, axis=1)
    for code, density in said.items():
        value[:, COLUMN[code]] = np.log(density + LEAST)
    # No count at all suits an empty house and a dead chain as well as any other ratio does.
    nothing = z < -4.0
    for code in ("vacant", "dead_input"):
        value[:, COLUMN[code]] = np.where(nothing, value.max(axis=1), value[:, COLUMN[code]])
    # The dial's own rate says nothing of the chain behind it, only of the customer and of the register.
    for code in COLUMN:
        if code not in OF_THE_DIAL:
            value[:, COLUMN[code]] = np.where(dialled, np.log(same + LEAST), value[:, COLUMN[code]])
    block.loglik = np.where(known[:, None], value - value.max(axis=1, keepdims=True), 0.0)
    block.loglik = np.maximum(block.loglik, -12.0)
    case.notes.history_log_ratio = np.where(known, z, np.nan)
    return block
