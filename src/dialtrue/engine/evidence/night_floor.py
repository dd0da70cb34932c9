"""Evidence of hours without a count: a leak, or counts that no tap makes, leave none."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.scan_kernel import DAY_US

LEAK_L_H = 14.2
"""A leak worth a word: 90 gal a day is 3.75 gal/h. Source: ``EPA-LEAK``. [L/h]"""


def weigh(case: Case) -> Block:
    """Weigh days in which every hour has a count.

    A port whose weight is over a leak's hourly volume cannot show it this way; it keeps a row of zeros.
    """
    fleet, scan, n = case.fleet, case.scan, case.fleet.size
    q, w = fleet.quantum_index_l, fleet.weight_set_l
    full = (scan.day_steps >= 20) & (scan.day_zero == 0)
    seen = scan.day_steps >= 20
    width = full.shape[1]
    gap = seen & ~full
    last_gap = np.where(gap.any(axis=1), width - 1 - np.argmax(gap[:, ::-1], axis=1), -1)
    run = (full & (np.arange(width)[None, :] > last_gap[:, None])).sum(axis=1)
    seen_days = seen.sum(axis=1)
    run_any = full.sum(axis=1)
    usual = run_any / np.maximum(seen_days, 1)
    watched = seen_days >= 5
    with np.errstate(invalid="ignore"):
        sharp = watched & (w <= 1.5 * LEAK_L_H)
        blunt = watched & ~sharp
    least = np.where(full, scan.day_least, np.inf)
    ordered = np.sort(least, axis=1)
    middle = ordered[np.arange(n), np.maximum((run_any - 1) // 2, 0)] if width else np.full(n, np.inf)
    floor = np.where(run_any > 0, np.where(np.isfinite(middle), middle, 0.0), np.nan) * q

    # A place that is never still from its first day on may simply be busy: shops and wards draw at night.
    always = watched & (usual > 0.85)
    began = watched & (run >= 3) & ~always

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        said: dict[str, Figure] = {
            "days_without_a_still_hour": int(run_any[row]), "of_days": int(seen_days[row]),
            "trailing_run_days": int(run[row]),
        }  # fmt: skip
        if run_any[row]:
            said["least_hour_l"] = round(float(np.nan_to_num(floor[row])), 2)
            return "On some days no hour passes without a count.", said
        return "Every day has hours without a count.", said

    block = Block.blank("night floor", n, says)
    lasting = ("customer_leak", "steady_counts", "backflow_counted")
    amount = -np.minimum(1.5 * run, 9.0)
    block.add_all_but(lasting, began, amount)
    block.add(("wet_counts", "extra_counts", "crossed", "ports_swapped"), began, -0.5 * amount)
    block.add_all_but(lasting, always, -1.5)
    block.add(("customer_leak",), sharp & (run_any == 0), -6.0)
    block.add(("customer_leak",), sharp & (run_any > 0) & ~began & ~always, -2.0)
    block.add(("customer_leak",), blunt & ~began & ~always, -0.7)
    block.add("steady_counts", watched & (run_any == 0), -1.0)
    block.add("backflow_counted", watched & (run_any == 0), -0.3)
    since = scan.calendar.start_us + (last_gap + 1) * DAY_US
    for code in lasting:
        block.since_us[:, COLUMN[code]] = np.where(began, since, 0)
    case.notes.floor_l_h = np.where(began | always, floor, np.nan)
    return block
