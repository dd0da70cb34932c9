"""Evidence of what is possible: a first read, falls and turns of the index, and flow above the meter's most."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence import falls
from dialtrue.engine.evidence.frame import FLOOR, Block, Case
from dialtrue.engine.fleet import Floats
from dialtrue.engine.scan_kernel import DAY_US

WIDEST_COUNTS = 1e9
"""Counts an index may hold where neither its digits nor the dial's are known. Our assumption."""
UNKNOWN_USE_L_DAY = 500.0
"""Use where nothing is known of a place. Our assumption. [L/day]"""
CAUSE_OF = {
    "digit_slip": falls.DIGITS, "index_reset": falls.RESET, "duplicate_serial": falls.TWO_COURSES,
    "meter_reversed": falls.REVERSED, "not_listed": falls.NOISE, "start_slip": falls.START,
    "weight_decade": falls.DECADE, "unit_slip": falls.DECADE, "steady_counts": falls.LOUD,
}  # fmt: skip


def capacity_counts(case: Case) -> Floats:
    """Return what the index may hold by the record, else what the dial holds, in counts. [count, > 0]"""
    fleet = case.fleet
    with np.errstate(divide="ignore", invalid="ignore"):
        dial = np.floor(fleet.capacity_dial_l / fleet.quantum_index_l)
    known = np.where(fleet.capacity_counts > 0, fleet.capacity_counts.astype(float), dial)
    return np.where(np.isfinite(known) & (known >= 1000), known, WIDEST_COUNTS)


def grain_counts(case: Case) -> Floats:
    """Return the pulse weight in counts, at least one. [count]"""
    with np.errstate(divide="ignore", invalid="ignore"):
        grain = case.fleet.weight_set_l / case.fleet.quantum_index_l
    return np.where(np.isfinite(grain), np.maximum(grain, 1.0), 1.0)


def expected_first_counts(case: Case) -> Floats:
    """Return the counts due between the fitting and the first read. [count, > 0]"""
    fleet, figures = case.fleet, case.scan.figures
    use = np.where(fleet.use_l_day > 0, fleet.use_l_day, UNKNOWN_USE_L_DAY)
    days = np.maximum((figures["first_us"] - fleet.fit_us) / DAY_US, 0.02)
    return use * days / fleet.quantum_index_l + grain_counts(case)


MANY_FALLS = 20
"""Falls from which an index that falls more than it rises runs backwards. Our assumption."""


def pace_counts_day(case: Case) -> Floats:
    """Return the counts a day that the index goes forward by; use before where leaps spoil that. [count/day, > 0]"""
    fleet, figures = case.fleet, case.scan.figures
    forward = figures["walk"] - figures["back_total"]
    # One that runs backwards as a rule has its pace in its falls.
    falling = (figures["backs"] >= MANY_FALLS) & (-figures["back_total"] > forward)
    own = np.where(falling, forward - figures["back_total"], forward) / case.days
    use = np.where(fleet.use_l_day > 0, fleet.use_l_day, UNKNOWN_USE_L_DAY) / fleet.quantum_index_l
    spoilt = ((figures["over"] > 0) & (own > 3 * use)) | (own <= 0)
    return np.maximum(np.where(spoilt, use, own), 0.05)


def weigh(case: Case) -> Block:
    """Weigh the first read, falls of the index and flows above the meter's most.

    Source
    ------
    Flow limits by size: ``US-FLOW-LIMITS``, ``OIML-R49``. Densities in ``falls``; shares are our assumption.
    """
    fleet, scan, n = case.fleet, case.scan, case.fleet.size
    figures = scan.figures
    q = fleet.quantum_index_l
    backs, over = figures["backs"], figures["over"]
    cause = np.zeros((n, falls.CAUSES))
    modulus = np.zeros(n)
    fell = backs > 0
    falls.weigh_all(
        figures["n"], figures["first_count"].astype(float), expected_first_counts(case),
        fleet.start_count.astype(float), figures["last_count"].astype(float), figures["last_us"], capacity_counts(case),
        grain_counts(case), pace_counts_day(case), scan.back, backs, figures["back_total"].astype(float), over,
        figures["walk"].astype(float), scan.day_walk, scan.calendar.start_us, cause, modulus,
    )  # fmt: skip
    cause = np.maximum(cause - cause.max(axis=1, keepdims=True), 1.5 * FLOOR)
    deepest = np.argmax(scan.back[:, :, 2] - scan.back[:, :, 3], axis=1)
    row = np.arange(n)
    size = (scan.back[row, deepest, 2] - scan.back[row, deepest, 3]).astype(float)
    fell_at = np.where(fell, scan.back[row, deepest, 1], 0)
    beyond = figures["beyond"] > 0
    over_share = over / np.maximum(figures["forward"], 1)
    much_over = (over >= 4) & (over_share > 0.02)
    some_over = (over > 0) & ~much_over
    clash = figures["clashes"] > 2
    # Leaps that were taken back at once, and turns by the dozen, each after a leap.
    to_and_fro = figures["spikes"] + np.where((figures["rolls"] > 3) & (over >= figures["rolls"]), figures["rolls"], 0)
    broken = case.pairs.start_broken == 1

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        said: dict[str, Figure] = {
            "falls": int(backs[row]), "steps_over_meter_limit": int(over[row]),
            "worst_share_of_limit": round(float(figures["over_worst"][row]), 2),
            "rollovers": int(figures["rolls"][row]),
        }  # fmt: skip
        if broken[row]:
            said |= {"start_count": int(fleet.start_count[row]), "first_count": int(figures["first_count"][row])}
        if beyond[row]:
            said["reads_beyond_recorded_digits"] = int(figures["beyond"][row])
            return "The index shows more digits than the record says it has.", said
        best = int(np.argmax(cause[row]))
        if best == falls.DIGITS and modulus[row]:
            said["turns_at_counts"] = int(modulus[row])
            if backs[row]:
                return "The index turned over before its recorded capacity.", said
            return "The first read is the keyed start without its top digits.", said
        if backs[row]:
            said["fell_by_counts"] = int(size[row])
            if best == falls.RESET:
                return "The index fell back to its start, to nothing or to an earlier value.", said
            if best == falls.TWO_COURSES or clash[row]:
                return "The index jumps between two courses.", said
            if best == falls.REVERSED:
                return "The index falls as a rule.", said
            if best == falls.SOUND:
                return "One read stands alone between reads that agree with each other.", said
            return "The index fell, and no turn, reset or second course explains it.", said
        if to_and_fro[row] >= 3:
            said["leaps_taken_back"] = int(to_and_fro[row])
            return "The index jumps between two courses.", said
        if much_over[row]:
            return "The index implies more flow than the meter can pass.", said
        if broken[row]:
            return "The first read cannot be reached from the keyed start.", said
        return "Every step is a possible flow.", said

    block = Block.blank("possibility", n, says)
    block.loglik[:] = cause[:, falls.SOUND : falls.SOUND + 1]
    for code, which in CAUSE_OF.items():
        block.loglik[:, COLUMN[code]] = cause[:, which]
    block.measured()[:, COLUMN["digit_slip"]] = np.where(modulus > 0, modulus * q, np.nan)
    block.measured()[:, COLUMN["index_reset"]] = np.where(fell, -size * q, np.nan)
    block.since_us[:, COLUMN["index_reset"]] = fell_at
    block.since_us[:, COLUMN["meter_reversed"]] = np.where(fell, scan.back[:, 0, 0], 0)
    block.add_all_but(("duplicate_serial",), clash, -7.0)
    # One absurd read is an accident; they come by the dozen where two courses share a serial, or memory fails.
    block.add_all_but(("duplicate_serial", "not_listed"), to_and_fro >= 3, -2.5 * np.minimum(to_and_fro - 2.0, 5.0))
    block.add("not_listed", to_and_fro >= 3, -3.0)
    block.add_all_but(("digit_slip",), beyond, -8.0)
    # Flow above the meter's most is no water of this meter: a setting, electricity, or another meter's pulses.
    loud = ("weight_decade", "unit_slip", "steady_counts", "duplicate_serial")
    block.add_all_but((*loud, "crossed", "ports_swapped", "extra_counts", "double_count", "stale_index",
                       "wet_counts", "not_listed"), much_over, -7.0)  # fmt: skip
    block.add(
        ("crossed", "ports_swapped", "double_count", "extra_counts", "wet_counts", "stale_index"), much_over, -2.5
    )
    block.add(("not_listed",), much_over, -2.0)
    block.add_all_but((*loud, "stale_index", "clock_shift", "double_count", "crossed", "not_listed", "digit_slip",
                       "index_reset", "meter_reversed"), some_over & ~fell, -2.0)  # fmt: skip
    return block
