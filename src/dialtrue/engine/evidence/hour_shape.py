"""Evidence of a proven surplus in the hours of the day: does it fill still hours, clump, follow water or a machine?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.evidence.hour_kernel import BACKFLOW, DOUBLE, EXTRA, HOURS, STEADY, WET, weigh_hours
from dialtrue.engine.evidence.night_share import quiet_hours
from dialtrue.engine.evidence.surplus import surplus_a_day
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.parts import over_parts

CODES = {"steady_counts": STEADY, "backflow_counted": BACKFLOW, "extra_counts": EXTRA, "wet_counts": WET,
         "double_count": DOUBLE}  # fmt: skip
TOWN_PORTS = 30
"""Ports from which the town's day is learned. Our assumption."""
TOWN_SPREAD = (0.35, 1.2)
"""Least and most that places differ from the town's day in one hour [nat]. Our assumption."""
DRAW_L = 12.0
"""Water of one draw, where the town is too small to tell it [L]. Our assumption: a flush and some."""
GRAINS = np.array([-1.2, 0.0, 1.2, 2.4])
GRAIN_SPREAD = (0.15, 0.8)
"""Sizes of a place's draws that are averaged over, in standard deviations of the town's; and the least and most that
those may be [nat]. Our assumption."""
LEAST_WATCHED = 20
"""Hours of each local hour that must have been heard. Our assumption."""
MOST_NAT = 14.0
"""No more than this is said of the hours [nat]. Our assumption."""


def heard_by_hour(case: Case) -> NDArray[np.bool_]:
    """Mark ports of which counts and moves were kept for each local hour often enough; (n,). Never raises."""
    scan = case.scan
    watched, steps = scan.wet_hours.sum(axis=2).min(axis=1), scan.hour_steps.sum(axis=1).min(axis=1)
    marked: NDArray[np.bool_] = (watched >= LEAST_WATCHED) & (steps >= LEAST_WATCHED) & (case.fleet.weight_set_l > 0)
    return marked


def hours_told(case: Case, odd: NDArray[np.bool_], rows: Ints) -> tuple[dict[str, Floats], NDArray[np.bool_]]:
    """Weigh the hours of the day of ports that count too much.

    Parameters
    ----------
    case : Case
    odd : bool, shape (n,)
        Ports that the looks show to be wrong: the town's day is learned from the others.
    rows : int64, shape (m,)
        Ports that count too much.

    Returns
    -------
    told : dict of code to float64, shape (m,)
        Log-likelihood against counts in proportion to the volume. [nat]
    known : bool, shape (m,)
        The hours can tell: counts of each hour of the day were kept.

    Raises
    ------
    Never raises.

    Source
    ------
    The trade's tells of each cause (common practice); how places differ from their town's day is learned from it, the
    laws' shares are our assumption.
    """
    scan, fleet = case.scan, case.fleet
    none = {code: np.zeros(len(rows)) for code in CODES}
    watched = scan.wet_hours.sum(axis=2).astype(float)
    if not len(rows) or not watched.any():
        return none, np.zeros(len(rows), bool)
    # What the index can show: a pulse, or its least digit where that is coarser.
    unit_l = np.maximum(fleet.weight_set_l, fleet.quantum_index_l)
    moves, steps = scan.hour_moves.sum(axis=1).astype(float), scan.hour_steps.sum(axis=1).astype(float)
    heard = heard_by_hour(case)
    with np.errstate(divide="ignore", invalid="ignore"):
        count = scan.wet_counts.sum(axis=2) / np.maximum(watched, 1) * (fleet.quantum_index_l / unit_l)[:, None]
        share = moves / np.maximum(steps, 1)
        total = count.sum(axis=1)
        lively = heard & ~odd & (total * watched.mean(axis=1) / HOURS > 60) & (share.mean(axis=1) < 0.8)
    town, spread = np.full(HOURS, 1.0 / HOURS), np.full(HOURS, TOWN_SPREAD[1])
    draw_l = DRAW_L
    if lively.sum() < TOWN_PORTS:
        return none, np.zeros(len(rows), bool)
    part = count[lively] / total[lively, None]
    town = np.median(part, axis=0)
    town = np.maximum(town, 0.2 / HOURS / 10) / np.maximum(town, 0.2 / HOURS / 10).sum()
    apart = np.log((part + 0.003) / (town + 0.003))
    spread = np.clip(1.48 * np.median(np.abs(apart), axis=0), *TOWN_SPREAD)
    # One draw's water: what moving hours bring more than one pulse.
    moved = np.clip(share[lively], 1e-3, 0.95)
    grain_l = np.median(count[lively] / -np.log1p(-moved), axis=1) * unit_l[lively]
    fine = unit_l[lively] < 0.5 * DRAW_L
    if fine.sum() >= TOWN_PORTS:
        draw_l = float(np.median(grain_l[fine]))
    apart = np.log(np.maximum(grain_l, 1e-6) / (unit_l[lively] + draw_l))
    grain_nat = float(np.clip(1.48 * np.median(np.abs(apart - np.median(apart))), *GRAIN_SPREAD))
    steps_nat = grain_nat * GRAINS
    grain = np.maximum(np.exp(np.median(apart) + steps_nat) * (1.0 + draw_l / unit_l[rows, None]), 1.0)
    grain_log_share = -0.5 * GRAINS**2 - np.log(np.exp(-0.5 * GRAINS**2).sum())
    rate, active = surplus_a_day(case, rows)
    rate = rate / unit_l[rows]
    # No more can be counted too much than was counted at all: a look that says so is misread.
    over = rate * active / np.maximum(total[rows], 1e-9)
    use = np.maximum(total[rows] - rate * active, 0.002 * total[rows])
    known = heard[rows] & (over > 0.02) & (over < 0.999) & (total[rows] > 0)
    out = np.zeros((len(rows), len(CODES)))
    at = np.flatnonzero(known)
    told = np.zeros((len(at), len(CODES)))
    quiet = quiet_hours(moves, steps)
    data = (
        count[rows][at], share[rows][at], watched[rows][at], town, spread, grain[at], grain_log_share, quiet, use[at],
        np.maximum(rate[at], 1e-6), active[at], told,
    )  # fmt: skip
    over_parts(len(at), lambda begin, end: weigh_hours(*data, begin, end))
    # Beyond the most that is believed the causes still stand apart.
    beyond = np.maximum(told.max(axis=1, keepdims=True, initial=-MOST_NAT) - MOST_NAT, 0.0)
    out[at] = np.clip(told - beyond, -MOST_NAT, MOST_NAT)
    return {code: out[:, column] for code, column in CODES.items()}, known
