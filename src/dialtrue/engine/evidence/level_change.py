"""Evidence of one change of level in the daily series: when, by how much, and whether a setting could do it."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.evidence.level_kernel import day_levels, weigh_levels
from dialtrue.engine.evidence.town_days import day_spans, town_days
from dialtrue.engine.onsets import SPANS, Onsets, day_read_us, filled_walk
from dialtrue.engine.parts import over_parts
from dialtrue.engine.ratios import DECADE_RATIOS, UNIT_RATIOS
from dialtrue.engine.scan_kernel import DAY_US

EXCHANGE = {0.1: 0.04, 1.0: 0.92, 10.0: 0.04}
"""How the level changes where the dial was replaced: mostly not, sometimes the new one has another weight. Our
assumption."""
_SHARES_LOST = ((-2.3, -1.2, 0.15), (-1.2, -0.6, 0.25), (-0.6, -0.25, 0.27), (-0.25, -0.03, 0.33))
PIECES = {
    "lost_counts": _SHARES_LOST,
    "intermittent": _SHARES_LOST,
    "extra_counts": ((0.03, 0.2, 0.4), (0.2, 0.47, 0.45), (0.47, 0.67, 0.15)),
    "vacant": ((-7.0, -2.5, 0.7), (-2.5, -0.9, 0.3)),
    "customer_leak": ((0.05, 0.4, 0.5), (0.4, 1.0, 0.35), (1.0, 2.2, 0.15)),
    "wet_counts": ((-0.1, 0.3, 0.6), (0.3, 1.0, 0.4)),
    "steady_counts": ((0.05, 0.7, 0.5), (0.7, 2.0, 0.3), (2.0, 7.0, 0.2)),
    "backflow_counted": ((0.02, 0.3, 0.7), (0.3, 0.8, 0.3)),
    "use_change": ((-4.0, -1.6, 0.18), (-1.6, -0.7, 0.27), (-0.7, -0.2, 0.13), (0.2, 0.7, 0.13), (0.7, 1.6, 0.21),
                   (1.6, 3.0, 0.08)),
}  # fmt: skip
"""Log ratios, after over before, that each cause makes: (from, to, share) of evenly spread pieces. A share of pulses
lost is evenly spread itself, so its logarithm is not. Our assumption from the trade's ranges. [nat, nat, -]"""
INDEPENDENT_DAY, MEMORY_DAYS = 0.45, 5.0
"""Share of days that are draws of their own where every day is read, and the days over which that memory fades. Our
assumption, from household series whose day-to-day correlation is 0.3 to 0.5."""
SEASON_SHARE, SEASON_DAYS = 0.018, 150.0
"""Share of sound ports whose garden begins or ends its season in a window of so many days; in longer ones a season
comes and goes, and is no lasting change. Our assumption."""
TOWN_PORTS, TOWN_SAMPLE = 40, 1000
"""Ports from which the town's own day is taken out, and how many are asked for it. Our assumption."""
EXACT = ("double_count", "weight_decade", "unit_slip", "meter_exchanged")
STILL_DAYS = 2.5
"""A port that has stood still for so long at the end is left to the standstill block. Our assumption."""
CODES = (*EXACT, *PIECES)


def daily_levels(case: Case) -> tuple[np.ndarray, np.ndarray]:
    """Return square roots of daily volumes over each port's mean (n, days), and which days have a read of their own.

    Standstills at the end and the longest one on the way are left out, for the standstill block speaks of them; what
    the whole town does on a day (heat, feast, drought rule) is divided out. Never raises.
    """
    scan, figures = case.scan, case.scan.figures
    days = scan.day_walk.shape[1]
    begin_us = scan.calendar.start_us + np.arange(days, dtype=np.int64) * DAY_US
    paused = figures["longest_us"] > 1.5 * DAY_US
    until = np.where(paused, figures["longest_from_us"] + figures["longest_us"], 0)
    level, fresh = np.zeros(scan.day_walk.shape), np.zeros(scan.day_walk.shape, np.bool_)
    data = (
        filled_walk(scan), scan.day_walk, begin_us, np.ascontiguousarray(figures["moved_us"]),
        np.ascontiguousarray(figures["longest_from_us"]), until, level, fresh,
    )  # fmt: skip
    over_parts(len(level), lambda begin, end: day_levels(*data, begin, end))
    if len(level) >= TOWN_PORTS:
        every = max(len(level) // TOWN_SAMPLE, 1)
        level /= town_days(level, fresh, least_ports=TOWN_PORTS, every=every)
    return level, fresh


def weigh(case: Case, onsets: Onsets) -> Block:
    """Weigh one change of daily level in each span of time.

    Source
    ------
    Two-segment least squares with unknown scatter (the likelihood ratio is a power of the residual sums); Laplace's
    approximation over the size of the change. Shares and spreads are our assumption, beside each constant.
    """
    n, days = case.scan.day_walk.shape
    level, fresh = daily_levels(case)
    # A day's volume begins with the last read of the day before.
    first_us = case.scan.calendar.start_us - DAY_US + day_read_us(case.scan.figures, case.scan.calendar.start_us)
    span = day_spans(first_us, onsets, days)
    gap = (fresh.shape[1] if days else 0) / np.maximum(fresh.sum(axis=1), 1)
    independent = 1.0 - (1.0 - INDEPENDENT_DAY) * np.exp(-np.maximum(gap - 1.0, 0.0) / MEMORY_DAYS)
    window = np.maximum(onsets.edge_us[:, -1] - onsets.edge_us[:, 0], 1) / DAY_US
    season = SEASON_SHARE * np.exp(-np.maximum(window - SEASON_DAYS, 0.0) / SEASON_DAYS)
    families = ({2.0: 0.0}, dict(zip(*DECADE_RATIOS, strict=True)), dict(zip(*UNIT_RATIOS, strict=True)),
                {ratio: float(np.log(share)) for ratio, share in EXCHANGE.items()})  # fmt: skip
    log_ratios = np.log(np.array([ratio for family in families for ratio in family]))
    log_shares = np.array([share for family in families for share in family.values()])
    family_of = np.array([i for i, family in enumerate(families) for _ in family])
    out = np.zeros((len(CODES), n, 1 + SPANS), np.float32)
    best_day, gain, rho = np.zeros(n, np.int64), np.zeros(n), np.zeros(n)
    data = (
        level, fresh, span, independent, season, log_ratios, log_shares, family_of,
        *(np.array([piece[i] for pieces in PIECES.values() for piece in pieces]) for i in range(3)),
        np.array([len(EXACT) + i for i, pieces in enumerate(PIECES.values()) for _ in pieces]),
        out, best_day, gain, rho,
    )  # fmt: skip
    over_parts(n, lambda begin, end: weigh_levels(*data, begin, end))

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        words = "changes once and stays changed" if gain[row] > 3.0 else "does not change"
        return f"The daily level {words}.", {
            "after_over_before": round(float(np.exp(rho[row])), 4), "gain_nat": round(float(gain[row]), 2),
        }  # fmt: skip

    block = Block.blank("level change", n, says)
    # A house that is empty to the end has no day after its beginning here: the standstill block speaks of it alone.
    figures = case.scan.figures
    still = figures["last_us"] - figures["moved_us"] > STILL_DAYS * DAY_US
    out[CODES.index("vacant"), still] = 0.0
    case.notes.level_log_ratio = np.where((gain > 3.0) & (best_day >= 0), rho, np.nan)
    for number, code in enumerate(CODES):
        block.at_onset[code] = out[number]
        block.since_us[:, COLUMN[code]] = np.where((gain > 3.0) & (best_day >= 0), first_us + best_day * DAY_US, 0)
    return block
