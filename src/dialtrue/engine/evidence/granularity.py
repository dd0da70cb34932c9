"""Evidence of the numbers' grain: the greatest common divisor of the index steps, and whether all are even."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.scan_kernel import DAY_US

ENOUGH_STEPS = 20
"""Steps below which a common divisor may be chance. Our assumption."""
EVEN_DAY = 0.35
"""Chance that all steps of one day are even multiples of the weight though each pulse is counted once. Our assumption
for ports of many steps a day; raised where few steps a day are seen."""


def weigh(case: Case) -> Block:
    """Weigh the grain of the index steps against the weight the endpoint was told.

    Source
    ------
    Arithmetic: steps are multiples of weight over resolution. Shares are our assumption.
    """
    fleet, scan, n = case.fleet, case.scan, case.fleet.size
    figures = scan.figures
    with np.errstate(invalid="ignore", divide="ignore"):
        grain = fleet.weight_set_l / fleet.quantum_index_l
    whole = np.isfinite(grain) & (np.abs(grain - np.round(grain)) < 1e-6) & (grain > 0.999)
    g = np.where(whole, np.round(grain), 1).astype(np.int64)
    days = scan.day_granule
    moved = days > 0
    moved_days = moved.sum(axis=1)
    fits = (moved & (days % g[:, None] == 0)).sum(axis=1)
    share = fits / np.maximum(moved_days, 1)
    enough = whole & (figures["forward"] >= ENOUGH_STEPS) & (moved_days >= 4)
    seen = np.gcd.reduce(np.where(moved & (days % g[:, None] == 0), days, 0), axis=1)
    steps_a_day = figures["forward"] / np.maximum(moved_days, 1)

    def trailing(multiple: int) -> tuple[np.ndarray, np.ndarray]:
        """Days at the end on which all steps are such a multiple, and the first of them."""
        bad = moved & (days % (multiple * g[:, None]) != 0)
        width = days.shape[1]
        last_bad = np.where(bad.any(axis=1), width - 1 - np.argmax(bad[:, ::-1], axis=1), -1)
        after = np.arange(width)[None, :] > last_bad[:, None]
        return (moved & after).sum(axis=1), last_bad + 1

    even_days, even_from = trailing(2)
    ten_days, ten_from = trailing(10)
    chance = np.clip(EVEN_DAY + 0.5 / np.maximum(steps_a_day, 0.5), 0.3, 0.95)
    even = enough & (even_days >= 5)
    ten = enough & (ten_days >= 4)
    broken = enough & (g > 1) & (share < 0.7)
    fine = enough & ~even & ~broken

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        figures_said: dict[str, Figure] = {
            "weight_over_resolution": int(g[row]), "common_divisor_of_steps": int(seen[row] or figures["granule"][row]),
            "steps": int(figures["forward"][row]), "odd_steps": int(figures["odd"][row]),
            "even_days": int(even_days[row]),
        }  # fmt: skip
        if ten[row]:
            return "Every index step is a multiple of ten pulse weights.", figures_said
        if even[row]:
            return (
                "Every index step is an even number of pulse weights: the second count follows at once.",
                figures_said,
            )
        if broken[row]:
            return "The index steps are not multiples of the weight that the record says was set.", figures_said
        return "The index steps are multiples of the weight set.", figures_said

    block = Block.blank("granularity", n, says)
    amount = np.where(even, np.minimum(-np.log(chance) * even_days, 14.0), 0.0)
    every = even & (even_days == moved_days)
    block.add("double_count", even, amount + np.where(every, 0.0, np.log(0.4)) + np.log(0.5))
    block.add("double_count", fine, np.log(0.5))
    block.since_us[:, COLUMN["double_count"]] = np.where(even & ~every, scan.calendar.start_us + even_from * DAY_US, 0)
    block.add("double_count", ten, -np.where(even, amount, 0.0))
    block.add("weight_decade", ten, np.minimum(1.2 * ten_days, 14.0) + np.log(0.4))
    block.since_us[:, COLUMN["weight_decade"]] = np.where(
        ten & (ten_days < moved_days), scan.calendar.start_us + ten_from * DAY_US, 0
    )
    block.add("unit_slip", broken, np.log(0.35))
    block.add("weight_decade", broken, np.log(0.3))
    block.add("not_listed", broken, np.log(0.1))
    block.add("duplicate_serial", broken, np.log(0.3))
    block.add(
        ("lost_counts", "extra_counts", "steady_counts", "wet_counts", "dead_input", "intermittent"), broken, -6.0
    )
    settled = ("sound", "customer_leak", "vacant", "use_change", "double_count", "start_slip", "digit_slip", "crossed",
               "ports_swapped", "meter_exchanged", "stale_index", "clock_shift", "backflow_counted", "index_reset",
               "meter_reversed", "port_unread", "register_mismatch")  # fmt: skip
    block.add(settled, broken, -6.0)
    block.add(("unit_slip",), fine & (g > 1), np.log(0.75))
    block.add(("weight_decade",), fine & (g > 1), np.log(0.75))
    return block
