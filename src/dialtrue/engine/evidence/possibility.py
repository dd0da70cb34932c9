"""Evidence of what is possible: flow above the meter's most, an index that falls, turns early, or jumps about."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import Block, Case

BINARY_TURNS = (65_536, 1_048_576, 16_777_216)
"""Counters of 16, 20 and 24 bits. Source: powers of two; that such counters are met is common practice, no source."""


def _turn_of_fall(before: float, after: float, capacity: float, most: float) -> float:
    """Return the smaller modulus that a fall is one turn of, or 0. ``most`` bounds the counts in the step."""
    fall = before - after
    turns = [10.0**k for k in range(2, 16)] + [float(turn) for turn in BINARY_TURNS]
    for modulus in turns:
        if (capacity and modulus >= capacity) or before >= modulus:
            continue
        if 0 <= modulus - fall <= most and after <= most:
            return modulus
    return 0.0


def weigh(case: Case) -> Block:
    """Weigh falls of the index and flows above the meter's most.

    Source
    ------
    Flow limits by size: ``US-FLOW-LIMITS``, ``OIML-R49``. Shares are our assumption.
    """
    fleet, scan, n = case.fleet, case.scan, case.fleet.size
    figures = scan.figures
    q = fleet.quantum_index_l
    backs, over = figures["backs"], figures["over"]
    kind = np.zeros(n, np.int8)
    modulus, fell_at, size = np.zeros(n), np.zeros(n, np.int64), np.zeros(n)
    with np.errstate(invalid="ignore", divide="ignore"):
        grain = np.where(np.isfinite(fleet.weight_set_l / q), fleet.weight_set_l / q, 1.0)
    mostly_back = backs > 0.8 * (backs + figures["forward"])
    small = np.abs(figures["back_total"]) <= 2 * grain * np.maximum(backs, 1) + 2
    for f in np.flatnonzero(backs > 0):
        step_s = figures["step_us_total"][f] / max(int(figures["n"][f]) - 1, 1) / 1e6
        gentle = (
            -figures["back_total"][f] / backs[f] * q[f]
            <= 0.5 * fleet.flow_limit_l_s[f] * step_s + 2 * fleet.weight_set_l[f]
        )
        if backs[f] >= 5 and (mostly_back[f] or (gentle and not small[f])):
            # Falls of the size of a draw, many of them: the count runs the wrong way.
            kind[f] = 5
            continue
        if backs[f] > 8 and not small[f]:
            kind[f] = 4
            continue
        for e in range(min(int(backs[f]), scan.back.shape[1])):
            from_us, to_us, before, after = (int(v) for v in scan.back[f, e])
            span = max(to_us - from_us, 1)
            burst = max(float(figures["fastest"][f]), fleet.flow_limit_l_s[f] / q[f] / 1e6 if q[f] > 0 else 0.0)
            turn = _turn_of_fall(before, after, float(fleet.capacity_counts[f]), 1.5 * burst * span + 3 * grain[f] + 2)
            if turn:
                kind[f], modulus[f], fell_at[f] = 1, turn, to_us
                break
            fall = before - after
            if fall > size[f] and fall > 2 * grain[f] + 2:
                close = 1.5 * burst * span + 3 * grain[f] + 2
                to_start = abs(after - int(fleet.start_count[f])) <= close
                kind[f] = 2 if to_start or after <= close else 3
                size[f], fell_at[f] = fall, to_us
    # Turns by the dozen, each after a leap, are two courses under one serial.
    kind[(figures["rolls"] > 3) & (over >= figures["rolls"]) & (kind == 0)] = 4
    beyond = figures["beyond"] > 0
    over_share = over / np.maximum(figures["forward"], 1)
    much_over = (over >= 4) & (over_share > 0.02)
    some_over = (over > 0) & ~much_over
    clash = figures["clashes"] > 2

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        said: dict[str, Figure] = {
            "falls": int(backs[row]), "steps_over_meter_limit": int(over[row]),
            "worst_share_of_limit": round(float(figures["over_worst"][row]), 2),
            "rollovers": int(figures["rolls"][row]),
        }  # fmt: skip
        if beyond[row]:
            said["reads_beyond_recorded_digits"] = int(figures["beyond"][row])
            return "The index shows more digits than the record says it has.", said
        if kind[row] == 1:
            said["turns_at_counts"] = int(modulus[row])
            return "The index turned over before its recorded capacity.", said
        if kind[row] in (2, 3):
            said["fell_by_counts"] = int(size[row])
            to = "its start or to zero" if kind[row] == 2 else "an earlier value"
            return f"The index fell back to {to}.", said
        if kind[row] == 4 or clash[row]:
            return "The index jumps between two courses.", said
        if kind[row] == 5:
            return "The index falls as a rule.", said
        if much_over[row]:
            return "The index implies more flow than the meter can pass.", said
        return "Every step is a possible flow.", said

    block = Block.blank("possibility", n, says)
    none = kind == 0
    block.add("digit_slip", none & ~beyond, np.log(0.1))
    block.add("index_reset", none, np.log(0.03))
    block.add("meter_reversed", none, np.log(0.45))
    block.add("duplicate_serial", none & ~clash, np.log(0.6))
    block.add_all_but(("digit_slip",), kind == 1, -11.0)
    block.add("digit_slip", kind == 1, np.log(0.6))
    block.parameter[:, COLUMN["digit_slip"]] = np.where(kind == 1, modulus * q, np.nan)
    block.add_all_but(("index_reset", "duplicate_serial", "not_listed", "digit_slip"), kind == 2, -9.0)
    block.add("index_reset", kind == 2, np.log(0.6))
    block.add_all_but(("index_reset", "duplicate_serial", "not_listed", "digit_slip"), kind == 3, -8.0)
    block.add("index_reset", kind == 3, np.log(0.35))
    block.add("digit_slip", (kind == 2) | (kind == 3), np.log(0.004))
    block.add("duplicate_serial", (kind == 2) | (kind == 3), np.log(0.02))
    block.add("not_listed", (kind == 2) | (kind == 3), np.log(0.02))
    reset = (kind == 2) | (kind == 3)
    block.parameter[:, COLUMN["index_reset"]] = np.where(reset, -size * q, np.nan)
    block.since_us[:, COLUMN["index_reset"]] = np.where(reset, fell_at, 0)
    block.add_all_but(("duplicate_serial",), (kind == 4) | clash, -7.0)
    block.add_all_but(("meter_reversed", "duplicate_serial"), kind == 5, -12.0)
    block.add_all_but(("digit_slip",), beyond, -8.0)
    # Flow above the meter's most is no water of this meter: a setting, electricity, or another meter's pulses.
    loud = ("weight_decade", "unit_slip", "steady_counts", "duplicate_serial")
    block.add_all_but((*loud, "crossed", "ports_swapped", "extra_counts", "double_count", "stale_index",
                       "wet_counts", "not_listed"), much_over, -7.0)  # fmt: skip
    block.add(
        ("crossed", "ports_swapped", "double_count", "extra_counts", "wet_counts", "stale_index"), much_over, -2.5
    )
    block.add(("not_listed",), much_over, -2.0)
    block.add_all_but((*loud, "stale_index", "clock_shift", "double_count", "crossed", "not_listed"), some_over, -2.0)
    return block
