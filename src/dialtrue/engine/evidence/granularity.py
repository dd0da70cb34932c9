"""Evidence of the numbers' grain: the greatest common divisor of the index steps, and whether all are even."""

from __future__ import annotations

import numpy as np
from numba import njit

from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.onsets import Onsets
from dialtrue.engine.parts import over_parts
from dialtrue.engine.scan_kernel import DAY_US

ENOUGH_STEPS = 20
"""Steps below which a common divisor may be chance. Our assumption."""
EVEN_STEP, TENTH_STEP = 0.5, 0.1
"""Chance that a step is an even multiple of the weight, and one of ten, though each pulse is counted once. Small steps
are odd more often than not, and of large ones one in two is even (arithmetic)."""
OWN_STEPS = 0.5
"""Share of a day's steps that are draws of their own, for households repeat themselves. Our assumption."""
LEAST_EVEN_DAY, LEAST_TENTH_DAY = 0.12, 0.05
"""No day's chance is taken to be less. Our assumption: a timer may fill the same tank every day."""
OTHERWISE_NAT = -6.0
"""Evidence of one day that is no such multiple though each pulse were counted twice at once [nat]. Our assumption."""
MOST_NAT = 14.0
AT_ONCE = 0.5
"""Share of double counts whose second count follows at once (bounce); with both edges odd steps occur. Our
assumption."""
TENFOLD, HUNDREDFOLD = 0.36, 0.12
"""Share of ten times and of a hundred times the weight among decade errors. Our assumption, as in ``ratios``."""


@njit(cache=True, nogil=True)
def look_at_days(days, g, moved, fits, seen, even, even_from, ten, ten_from, begin, end):
    """Fill figures (n,) of the rows from ``begin`` to before ``end``.

    ``moved`` days with a step, ``fits`` those whose steps are multiples of the weight, ``seen`` the common divisor of
    the latter; ``even`` and ``ten`` days at the end on which all steps are multiples of two and of ten weights, and the
    first day after the last that is none.
    """
    for f in range(begin, end):
        weight = g[f]
        for day in range(days.shape[1]):
            step = np.int64(days[f, day])
            if step <= 0:
                continue
            moved[f] += 1
            even[f] += 1
            ten[f] += 1
            if step % weight == 0:
                fits[f] += 1
                a, b = seen[f], step
                while b:
                    a, b = b, a % b
                seen[f] = a
            if step % (2 * weight):
                even[f], even_from[f] = 0, day + 1
            if step % (10 * weight):
                ten[f], ten_from[f] = 0, day + 1


@njit(cache=True, nogil=True)
def weigh_days(days, g, enough, even_nat, tenth_nat, span, even, tenfold, hundredfold, begin, end):
    """Fill (n, 1 + spans) evidence that every step after an onset is a multiple of 2, 10 and 100 weights [nat].

    ``span`` (n, days) is the span of each day, 1 on; a day counts for an onset in any span before its own. Rows from
    ``begin`` to before ``end`` are looked at.
    """
    width = even.shape[1]
    two, ten, hundred = np.zeros(width), np.zeros(width), np.zeros(width)
    for f in range(begin, end):
        if not enough[f]:
            continue
        two[:], ten[:], hundred[:] = 0.0, 0.0, 0.0
        for day in range(days.shape[1]):
            if days[f, day] <= 0:
                continue
            k = span[f, day]
            two[k] += even_nat[f] if days[f, day] % (2 * g[f]) == 0 else OTHERWISE_NAT
            ten[k] += tenth_nat[f] if days[f, day] % (10 * g[f]) == 0 else OTHERWISE_NAT
            hundred[k] += 2.0 * tenth_nat[f] if days[f, day] % (100 * g[f]) == 0 else OTHERWISE_NAT
        a, b, c = 0.0, 0.0, 0.0
        for k in range(width - 1, -1, -1):
            if k == 0:
                a, b, c = a + two[0], b + ten[0], c + hundred[0]
            even[f, k], tenfold[f, k], hundredfold[f, k] = a, b, c
            a, b, c = a + two[k], b + ten[k], c + hundred[k]


def _day_nat(chance_a_step: float, steps_a_day: np.ndarray, least: float) -> np.ndarray:
    """Return what one day of such multiples only says against chance. [nat]"""
    return -np.log(np.maximum(chance_a_step ** np.maximum(OWN_STEPS * steps_a_day, 1.0), least))


def weigh(case: Case, onsets: Onsets) -> Block:
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
    moved_days, fits, seen, even_days, even_from, ten_days, ten_from = found = np.zeros((7, n), np.int64)
    over_parts(n, lambda begin, end: look_at_days(days, g, *found, begin, end))
    share = fits / np.maximum(moved_days, 1)
    enough = whole & (figures["forward"] >= ENOUGH_STEPS) & (moved_days >= 4)
    steps_a_day = figures["forward"] / np.maximum(moved_days, 1)

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
    shape = onsets.at_us.shape
    twice, tenfold, hundredfold = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    middle_us = scan.calendar.start_us + np.arange(days.shape[1]) * DAY_US + DAY_US // 2
    span = np.maximum(onsets.span_of(np.broadcast_to(middle_us, days.shape)), 1)
    data = (
        days, g, enough, _day_nat(EVEN_STEP, steps_a_day, LEAST_EVEN_DAY),
        _day_nat(TENTH_STEP, steps_a_day, LEAST_TENTH_DAY), span, twice, tenfold, hundredfold,
    )  # fmt: skip
    over_parts(n, lambda begin, end: weigh_days(*data, begin, end))
    ten_at, hundred_at = (np.exp(np.clip(value, -60.0, MOST_NAT)) for value in (tenfold, hundredfold))
    # A coarser weight makes even steps too: what it explains is no sign of a second count.
    even_at = np.exp(np.clip(twice, -60.0, MOST_NAT)) / np.maximum(ten_at, 1.0)
    block.at_onset["double_count"] = np.log(AT_ONCE * even_at + 1.0 - AT_ONCE).astype(np.float32)
    # Finer weights leave no mark that the resolution would show, so steps of all sizes are no evidence against them.
    coarser = np.log(TENFOLD * ten_at + HUNDREDFOLD * hundred_at + 1.0 - TENFOLD - HUNDREDFOLD)
    block.at_onset["weight_decade"] = np.maximum(coarser, 0.0).astype(np.float32)
    late = enough & (even_days >= 5) & (even_days < moved_days)
    block.since_us[:, COLUMN["double_count"]] = np.where(late, scan.calendar.start_us + even_from * DAY_US, 0)
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
