"""Evidence of delivery: alarms, reads marked repeated, and the hours at which the counts come."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.contracts import ALARMS
from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import Block, Case

_ALARM_SHARE: dict[str, dict[str, float]] = {
    "cut_wire": {"dead_input": 0.4, "intermittent": 0.25, "wet_counts": 0.06, "": 0.012},
    "low_battery": {"index_reset": 0.3, "dead_input": 0.1, "stale_index": 0.06, "": 0.015},
    "reverse_flow": {"meter_reversed": 0.5, "backflow_counted": 0.45, "digit_slip": 0.15, "index_reset": 0.1,
                     "": 0.015},
    "continuous_flow": {"customer_leak": 0.6, "steady_counts": 0.45, "wet_counts": 0.15, "backflow_counted": 0.2,
                        "weight_decade": 0.08, "": 0.04},
}  # fmt: skip
"""Chance that a port raises the alarm in a quarter year, by cause ("" for all others). Our assumption."""
PROFILE_WEIGHT = 0.12
"""How far hours of one place count as independent draws of the town's day. Our assumption: one in eight."""


def _clock(case: Case) -> tuple[np.ndarray, np.ndarray]:
    """Return (gain [nat], shift [h]) of the best shift of a port's day against the town's."""
    moves, steps = case.scan.hour_moves.sum(axis=1).astype(float), case.scan.hour_steps.sum(axis=1).astype(float)
    n = len(moves)
    share = moves.sum(axis=1) / np.maximum(steps.sum(axis=1), 1)
    homes = (steps.sum(axis=1) > 24 * 14) & (share > 0.03) & (share < 0.85)
    gain, shift = np.zeros(n), np.zeros(n)
    if homes.sum() < 40:
        return gain, shift
    with np.errstate(invalid="ignore"):
        shape = moves / np.maximum(moves.sum(axis=1, keepdims=True), 1)
    town = np.median(shape[homes], axis=0) + 1e-3
    town /= town.sum()
    log_town = np.log(town)
    scores = np.stack([(moves * np.roll(log_town, s)).sum(axis=1) for s in range(24)], axis=1) * PROFILE_WEIGHT
    best = scores[:, 1:].max(axis=1) - scores[:, 0]
    where = scores[:, 1:].argmax(axis=1) + 1
    gain = np.where(homes, best, 0.0)
    shift = np.where(where > 12, where - 24, where)
    return gain, shift


def weigh(case: Case) -> Block:
    """Weigh alarms, repeated flags and the clock."""
    n = case.fleet.size
    figures = case.scan.figures
    gain, shift = _clock(case)

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        said: dict[str, Figure] = {name: int(case.alarm_counts[row, k]) for k, name in enumerate(ALARMS)}
        said |= {"reads_marked_repeated": int(figures["repeated"][row]), "clock_shift_h": float(shift[row])}
        return "Alarms, repeated reads, and the hours at which the counts come.", said

    block = Block.blank("delivery", n, says)
    any_alarms = bool(case.alarm_counts.sum())
    for k, name in enumerate(ALARMS):
        table = _ALARM_SHARE[name]
        rang = case.alarm_counts[:, k] > 0
        for code in COLUMN:
            p = table.get(code, table[""])
            if any_alarms:
                block.add(code, rang, np.log(p))
                block.add(code, ~rang, np.log1p(-p))
    repeated = figures["repeated"] >= 6
    block.add_all_but(("stale_index",), repeated, np.log(0.01))
    block.add("stale_index", repeated, np.log(0.4))
    # Night shifts, timers and shops have days of their own: a shift must stand out among the town's oddest days.
    gain = gain - (float(np.quantile(gain[gain > 0], 0.97)) if (gain > 0).sum() >= 20 else 2.0)
    shifted = gain > 1.0
    block.add("clock_shift", shifted, np.clip(gain, 0.0, 8.0))
    block.add("clock_shift", ~shifted, np.clip(-2.0 + gain, -4.0, 0.0))
    block.parameter[:, COLUMN["clock_shift"]] = np.where(shifted, shift * 3600.0, np.nan)
    return block
