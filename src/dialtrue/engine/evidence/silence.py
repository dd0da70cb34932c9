"""Evidence of standstills: an index that stops for good, one that stops and resumes, one that stops and catches up."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.onsets import Onsets
from dialtrue.engine.scan_kernel import DAY_US

HOLIDAY_SHARE = 0.06
"""Share of ports with one long absence in a quarter year. Our assumption."""
HOLIDAY_DAYS = 6.0
"""Mean length beyond the first days. Our assumption."""


def _still_logp(days, per_day):
    """Log-probability that an occupied place shows no count for so long: thinning of visits, or a holiday."""
    busy = np.exp(-np.minimum(0.5 * per_day, 3.0) * days)
    away = HOLIDAY_SHARE * np.exp(-days / HOLIDAY_DAYS) + 0.002 * np.exp(-days / 40.0)
    return np.log(np.minimum(busy + away, 1.0))


def weigh(case: Case, onsets: Onsets) -> Block:
    """Weigh standstills against the port's own pace (or its history, where it never moved).

    Source
    ------
    Our assumptions, beside each constant; the tell of each cause is common practice (it catches up, it never does).
    """
    fleet, n = case.fleet, case.fleet.size
    figures, pairs = case.scan.figures, case.pairs
    q, w = fleet.quantum_index_l, fleet.weight_set_l
    days = case.days
    heard = (figures["n"] >= 3) & (days >= 2)
    still = np.where(heard, (figures["last_us"] - figures["moved_us"]) / DAY_US, 0.0)
    moving_days = np.maximum(days - still - figures["longest_us"] / DAY_US, 0.5)
    own = np.abs(figures["walk"]) * q / moving_days
    never = heard & (figures["walk"] == 0) & (figures["forward"] == 0)
    pace = np.where(never | (own <= 0), np.where(np.isnan(fleet.use_l_day), 300.0, fleet.use_l_day), own)
    with np.errstate(divide="ignore", invalid="ignore"):
        per_day = np.where(w > 0, pace / w, pace / np.maximum(q, 1e-9))
        per_day = np.where(np.isfinite(per_day), per_day, 1.0)
    long_still = heard & (still > np.maximum(2.0, 6 / np.maximum(per_day, 1e-3)))

    # Did the dial move while the index stood still?
    dial_after = np.full(n, np.nan)
    for f in np.flatnonzero(long_still):
        rows = pairs.rows_of(f)
        rows = rows[pairs.at_us[rows] > figures["moved_us"][f] + DAY_US]
        if len(rows):
            dial_after[f] = pairs.dial_l[rows[-1]] - onsets.still_l[f]
    step = 2 * fleet.quantum_dial_l + w
    waited = np.maximum(figures["last_us"] - figures["moved_us"], 0) / DAY_US
    dial_still = long_still & (dial_after <= np.maximum(step, 0.02 * pace * waited))
    jump_l = figures["longest_jump"] * q
    longest = figures["longest_us"] / DAY_US
    gap_known = heard & (longest > np.maximum(1.2, 4 / np.maximum(per_day, 1e-3)))
    missed_l = pace * longest
    caught_up = gap_known & (jump_l > 0.4 * missed_l) & (jump_l > 6 * w)
    # What the place draws in its busiest step without a standstill before it.
    busiest_l_us = np.maximum(figures["busiest"] * q, 1e-12)
    # A shorter standstill that ends in one impossible step is a late delivery too.
    jump_any_l = figures["jump"] * q
    standing = (figures["jump_to_us"] - figures["jump_from_us"]) / DAY_US
    with np.errstate(divide="ignore", invalid="ignore"):
        rush = jump_any_l / np.maximum(figures["jump_step_us"] / DAY_US, 1e-6) / np.maximum(pace, 1e-9)
    surge = jump_any_l / np.maximum(figures["jump_step_us"], 1) / busiest_l_us
    burst = heard & (standing > 0.3) & (jump_any_l > 0.4 * pace * standing) & (surge > 2.0) & (jump_any_l > 8 * w)
    late = caught_up & (rush > 4) & ((surge > 1.2) | (rush > 40)) | burst
    # A garden on a timer stands still most of the week and draws at once: its pauses are its habit.
    habit = (figures["frozen_us"] - figures["longest_us"]) / DAY_US > 0.5 * np.maximum(days - longest, 0.5)
    # One pause far beyond the others is none of the habit (coarse pulses pause most of the day too).
    others = (figures["frozen_us"] - figures["longest_us"]) / DAY_US / np.maximum(figures["freezes"] - 1, 1)
    habit &= longest < 6 * others
    late &= ~habit
    resumed = gap_known & ~late & ~habit
    many = heard & (figures["freezes"] >= 4) & (figures["frozen_us"] / DAY_US > 0.15 * days) & (per_day > 8) & ~habit

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        said: dict[str, Figure] = {
            "still_at_end_days": round(float(still[row]), 2), "longest_still_days": round(float(longest[row]), 2),
            "expected_pulses_a_day": round(float(per_day[row]), 2),
        }  # fmt: skip
        if never[row]:
            return "The index has never moved since the fitting.", said
        if late[row]:
            said["catch_up_l"] = round(float(max(jump_l[row], jump_any_l[row])), 1)
            return "The index stood still, then caught up in one step.", said
        if long_still[row]:
            if np.isfinite(dial_after[row]):
                said["dial_moved_meanwhile_l"] = round(float(dial_after[row]), 1)
            return "The index has stopped and has not resumed.", said
        if resumed[row] or many[row]:
            return "The index stood still and went on without catching up.", said
        return "No standstill longer than this place's own pauses.", said

    block = Block.blank("standstill", n, says)
    quiet = _still_logp(still, per_day)
    stopped = ("dead_input", "vacant")
    block.add_all_but(stopped, long_still, quiet)
    block.add("dead_input", long_still, np.where(never, np.log(0.35), np.log(0.4)))
    idle = never & (days > 14) & ~long_still
    block.add("vacant", idle, 2.5)
    block.add("sound", idle, -2.5)
    # An empty house at the very day of the fitting is rarer than one that empties later.
    block.add("vacant", long_still, np.where(never, np.log(0.15), np.log(0.3)))
    block.add("dead_input", dial_still, -5.0)
    block.add("dead_input", heard & ~long_still, np.where(resumed, -4.0, -9.0))
    block.add("vacant", heard & ~long_still & (per_day * days > 3), np.where(resumed, -4.0, -9.0))
    block.add(("stale_index",), long_still, np.maximum(-1.5 - quiet, -1.0))
    block.add("steady_counts", long_still, -3.0)
    block.add("customer_leak", long_still, -4.0)
    moved_us = np.where(never, np.minimum(fleet.fit_us, figures["first_us"]), figures["moved_us"])
    for code in stopped:
        block.since_us[:, COLUMN[code]] = np.where(long_still, moved_us, 0)
    strength = -np.clip(1.5 + 3.0 * np.log(np.maximum(surge, 1.0)), 1.5, 9.0)
    block.add_all_but(("stale_index", "duplicate_serial"), late, strength)
    block.add("stale_index", late, np.log(0.6))
    block.add("stale_index", heard & ~late & ~long_still, np.log(0.06))
    began = np.where(burst & ~caught_up, figures["jump_from_us"], figures["longest_from_us"])
    block.since_us[:, COLUMN["stale_index"]] = np.where(late, began, 0)
    pause = _still_logp(longest, per_day)
    block.add_all_but(("intermittent", "vacant", "dead_input", "use_change", "stale_index"), resumed, pause)
    block.add("use_change", resumed, np.maximum(pause, np.log(0.05)))
    block.add("intermittent", resumed, np.where(many, np.log(0.35), np.log(0.2)))
    block.add("intermittent", heard & ~resumed & ~many, np.log(0.15))
    block.add("intermittent", many & ~resumed, np.log(0.4))
    block.since_us[:, COLUMN["intermittent"]] = np.where(resumed, figures["longest_from_us"], 0)
    return block
