"""Evidence of where in time the difference between dial and index arose: with the water, by the clock, or in rain.

The looks at the dial give how much was counted too much or too little; the index's own days and hours then tell when.
A share doubled or lost follows the water; induced counts and reverse flow come by the clock, nights too; damp comes
with rain; a loose joint leaves days without a count.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.evidence.hour_shape import hours_told
from dialtrue.engine.evidence.night_floor import COUNTED_TWICE
from dialtrue.engine.evidence.surplus import agreed_until, last_difference, proven
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.onsets import day_read_us
from dialtrue.engine.scan_kernel import DAY_US, HOUR_US, PERIOD_DAYS
from dialtrue.engine.walk_kernel import bridge_gaps

NIGHT_HOURS = (1, 2, 3, 4)
"""Local hours in which most places draw nothing. Source: hourly profiles of household use; the bounds are ours."""
NIGHT_SPREAD = 1.2
"""Spread of a place's night flow about the town's, where the town is too small to tell it [nat]. Our assumption."""
OWN_NIGHT_SPREAD = 0.5
"""Spread of a place's nights about its own earlier ones [nat]. Our assumption."""
RATE_SPREAD = 0.35
"""How far counts by the clock or in rain scatter about their mean from window to window [share]. Our assumption."""
MOST_NAT = 12.0
"""No more than this is said for a pattern in time [nat]. Our assumption: days clump."""
EMPTY_DAY = 0.1
"""A day with less than this share of the place's pace counts as one without a count. Our assumption."""


EMPTY_SHARE, OWN_DAYS = 0.03, 30.0
"""Share of days on which nobody draws in a usual place, and the days of its own past that this is worth. Our
assumption from household series."""


def _normal(x: Floats, mean: Floats | float, sd: Floats | float) -> Floats:
    return -0.5 * ((x - mean) / sd) ** 2 - np.log(sd)


def night_flow(case: Case, from_us: Ints, to_us: Ints) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the night flow between two moments, (n,) [L/h], and where hourly reads can tell it.

    Whole periods of the hourly profile are taken: those that lie between the moments, or the one around their middle.

    Source
    ------
    Counts of a night hour taken as Poisson: the share of hours without one is exp(-flow / weight).
    """
    scan = case.scan
    moves = scan.hour_moves[:, :, NIGHT_HOURS].sum(axis=2).astype(float)
    steps = scan.hour_steps[:, :, NIGHT_HOURS].sum(axis=2).astype(float)
    length = PERIOD_DAYS * DAY_US
    begin = scan.calendar.start_us + np.arange(moves.shape[1]) * length
    inside = (begin[None, :] >= from_us[:, None]) & (begin[None, :] + length <= to_us[:, None])
    middle = (from_us + to_us)[:, None] // 2
    around = (begin[None, :] <= middle) & (middle < begin[None, :] + length)
    taken = np.where(inside.any(axis=1)[:, None], inside, around)
    moved, watched = (moves * taken).sum(axis=1), (steps * taken).sum(axis=1)
    share = (moved + 0.5) / (watched + 1.0)
    known = (watched >= 40) & (case.fleet.weight_set_l > 0) & (share < 0.98)
    return -np.log1p(-np.minimum(share, 0.999)) * np.where(known, case.fleet.weight_set_l, 1.0), known


def nights_between_looks(case: Case, rows: Ints, town: float, scatter: float) -> tuple[Floats, Floats, Floats]:
    """Weigh the nights between the last two looks; (m,) gain of counts by the clock and of rocking, and the flow [L/h].

    The looks tell how much more was counted between them; where the looks before had agreed, the nights until then
    are the place's own, else the town's stand in.
    """
    pairs, fleet = case.pairs, case.fleet
    steady, rocking, shown = np.zeros(len(rows)), np.zeros(len(rows)), np.full(len(rows), np.nan)
    n = fleet.size
    before, last, own_until = fleet.fit_us.copy(), fleet.fit_us.copy(), np.zeros(n, np.int64)
    rate = np.zeros(n)
    for row in rows:
        looks = pairs.rows_of(int(row))
        apart = pairs.index_l[looks] - pairs.dial_l[looks] - case.start_lag_l[row]
        noise = 3 * np.hypot(pairs.bridge_l[looks], fleet.weight_set_l[row] + fleet.quantum_dial_l[row])
        agreed = np.abs(apart) <= noise
        at = np.concatenate(([fleet.fit_us[row]], pairs.at_us[looks]))
        gone = np.concatenate(([0.0], apart))
        before[row], last[row] = at[-2], at[-1]
        rate[row] = (gone[-1] - gone[-2]) / max((at[-1] - at[-2]) / DAY_US, 1.0) / 24.0
        if agreed.any() and not agreed[-1]:
            own_until[row] = pairs.at_us[looks[np.flatnonzero(agreed)[-1]]]
    flow, known = night_flow(case, before, last)
    own, own_known = night_flow(case, fleet.fit_us, own_until)
    for k, row in enumerate(rows):
        if not known[row] or rate[row] <= 0:
            continue
        have = own_known[row] and own_until[row] > fleet.fit_us[row]
        base, wide = (own[row], OWN_NIGHT_SPREAD) if have else (np.exp(town), scatter)
        observed = np.log(max(flow[row], 1e-6))
        plain = _normal(observed, np.log(max(base, 1e-6)) + 0.15, wide)

        def added(factor: float, base=base, wide=wide, observed=observed, row=row) -> Floats:
            mean = base + factor * rate[row]
            return _normal(observed, np.log(mean), np.hypot(wide * base / mean, RATE_SPREAD))

        by_clock = np.logaddexp(np.log(0.65) + added(1.0), np.log(0.35) + plain)
        at_night = np.logaddexp(np.log(0.35) + added(1.0), np.log(0.65) + added(2.2))
        steady[k], rocking[k], shown[k] = by_clock - plain, at_night - plain, flow[row]
    return np.clip(steady, -MOST_NAT, MOST_NAT), np.clip(rocking, -MOST_NAT, MOST_NAT), shown


def own_days_l(case: Case, rows: Ints) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the volume of each day of some ports, (m, days) [L], and which days lie between two reads of their own.

    A day inside a longer gap has only its share of what the gap drew: it tells nothing of that day.
    """
    day_walk = case.scan.day_walk[rows]
    walk = np.empty(day_walk.shape)
    bridge_gaps(day_walk, walk, 0, len(walk))
    daily = np.diff(walk * case.fleet.quantum_index_l[rows, None], axis=1, prepend=np.nan)
    own = ~np.isnan(day_walk)
    own[:, 1:] &= own[:, :-1]
    return daily, ~np.isnan(daily) & own


def rain_slope(case: Case, rows: Ints) -> tuple[Floats, Floats, Floats]:
    """Return how the index's days rise with wet hours: slope and its error [L/wet hour], and the wet hours; (m,).

    The slope's error uses the days' own scatter, so clumps of counts do not pass for many draws.
    """
    calendar = case.scan.calendar
    if not (calendar.wet >= 0).any():
        return np.zeros(len(rows)), np.full(len(rows), np.inf), np.zeros(len(rows))
    # A day of the index ends with its last read, which may be in the morning.
    read_hour = np.rint(day_read_us(case.scan.figures[rows], calendar.start_us) / HOUR_US).astype(np.int64)
    end = np.arange(calendar.days)[None, :] * 24 + read_hour[:, None]
    begin = np.maximum(end - 24, 0)
    wet_until = np.concatenate(([0], np.cumsum(calendar.wet == 1)))
    known_until = np.concatenate(([0], np.cumsum(calendar.wet >= 0)))
    known_day = known_until[end] - known_until[begin] == 24
    hours = np.where(known_day, wet_until[end] - wet_until[begin], 0).astype(float)
    daily, fresh = own_days_l(case, rows)
    fresh &= known_day
    count = np.maximum(fresh.sum(axis=1), 1)
    u, h = np.where(fresh, daily, 0.0), np.where(fresh, hours, 0.0)
    mean_u, mean_h = u.sum(axis=1) / count, h.sum(axis=1) / count
    du = np.where(fresh, daily - mean_u[:, None], 0.0)
    dh = np.where(fresh, hours - mean_h[:, None], 0.0)
    spread = np.maximum((dh**2).sum(axis=1), 1e-9)
    slope = (du * dh).sum(axis=1) / spread
    rest = np.where(fresh, du - slope[:, None] * dh, 0.0)
    error = np.sqrt((rest**2).sum(axis=1) / np.maximum(count - 2, 1) / spread)
    enough = (count >= 14) & (mean_h > 0.2)
    return np.where(enough, slope, 0.0), np.where(enough, np.maximum(error, 1e-6), np.inf), h.sum(axis=1)


def empty_days_l(
    case: Case, rows: Ints, pace: Floats, from_us: Ints | None = None, to_us: Ints | None = None
) -> tuple[Floats, NDArray[np.bool_]]:
    """Return what days without a count would have drawn at the place's pace, (m,) [L], and where days can tell.

    Between two moments; as many such days as the place had before, or as places have, are its own and are taken off.
    """
    daily, fresh = own_days_l(case, rows)
    # A day on which the index falls has a count, if a strange one.
    empty = fresh & (np.abs(np.nan_to_num(daily)) < EMPTY_DAY * pace[:, None])
    weight = case.fleet.weight_set_l[rows]
    known = (fresh.sum(axis=1) >= 14) & (pace > 4 * weight)
    if from_us is None or to_us is None:
        return empty.sum(axis=1) * pace, known
    calendar = case.scan.calendar
    end_us = calendar.start_us + np.arange(calendar.days)[None, :] * DAY_US
    end_us = end_us + day_read_us(case.scan.figures[rows], calendar.start_us)[:, None]
    inside = (end_us > from_us[:, None]) & (end_us <= to_us[:, None] + DAY_US)
    before = fresh & (end_us <= from_us[:, None])
    usual = ((empty & before).sum(axis=1) + OWN_DAYS * EMPTY_SHARE) / (before.sum(axis=1) + OWN_DAYS)
    gone = (empty & inside).sum(axis=1) - usual * (fresh & inside).sum(axis=1)
    return np.maximum(gone, 0.0) * pace, known & ((fresh & inside).sum(axis=1) >= 4)


def weigh(case: Case) -> Block:
    """Weigh when a proven difference arose; ports whose looks show none keep a row of zeros.

    Source
    ------
    The trade's tells of each cause (common practice); Gaussian errors with the days' own scatter; shares and spreads
    are our assumption.
    """
    n = case.fleet.size
    difference, _, dial, at = last_difference(case)
    odd = proven(case)
    span_days = np.maximum((at - case.fleet.fit_us) / DAY_US, 1.0)
    flow, hourly = night_flow(case, case.fleet.fit_us, case.scan.figures["last_us"])
    plain = hourly & ~odd & (flow > 0)
    town, scatter = 0.0, NIGHT_SPREAD
    if plain.sum() >= 30:
        logs = np.log(flow[plain])
        town = float(np.median(logs))
        scatter = float(np.clip(1.48 * np.median(np.abs(logs - town)), 0.5, 2.0))
    more, less = np.flatnonzero(odd & (difference > 0)), np.flatnonzero(odd & (difference < 0))
    night, slope_at, wet_at = np.full(n, np.nan), np.full(n, np.nan), np.full(n, np.nan)
    empty_share = np.full(n, np.nan)

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        said: dict[str, Figure] = {"index_less_dial_l": round(float(np.nan_to_num(difference[row])), 1)}
        if np.isfinite(night[row]):
            said["night_flow_l_h"] = round(float(night[row]), 3)
            said["town_night_flow_l_h"] = round(float(np.exp(town)), 3)
        if np.isfinite(slope_at[row]):
            said["more_per_wet_hour_l"] = round(float(slope_at[row]), 3)
            said["needed_per_wet_hour_l"] = round(float(wet_at[row]), 3)
        if np.isfinite(empty_share[row]):
            said["share_told_by_days_without_count"] = round(float(empty_share[row]), 3)
        return "When the difference between dial and index arose.", said

    block = Block.blank("excess in time", n, says)
    if len(more):
        by_clock, at_night, night[more] = nights_between_looks(case, more, town, scatter)
        slope, slope_error, wet_hours = rain_slope(case, more)
        needed = difference[more] / np.maximum(wet_hours * span_days[more] / np.maximum(case.days[more], 1.0), 1.0)
        known = np.isfinite(slope_error) & (wet_hours > 0)
        safe = np.where(known, slope_error, 1.0)
        # Real use falls a little in rain, so a slope of nothing may also be slightly below.
        dry = _normal(slope, 0.0, np.hypot(safe, 0.02 * needed))
        damp = _normal(slope, needed, np.hypot(safe, RATE_SPREAD * needed))
        in_rain = np.where(known, np.clip(damp - dry, -MOST_NAT, MOST_NAT), 0.0)
        slope_at[more], wet_at[more] = np.where(known, slope, np.nan), np.where(known, needed, np.nan)
        hours, known = hours_told(case, odd, more)
        said = {"steady_counts": by_clock, "backflow_counted": at_night}
        # Where the hours of the day tell how the counts clump, the share of still nights has nothing to add; and what
        # the still hours have said for counts without pause is not said again.
        nights = case.notes.nights_nat[more] if len(case.notes.nights_nat) else np.zeros(len(more))
        for code in COUNTED_TWICE:
            hours[code] = hours[code] - np.clip(nights, 0.0, np.maximum(hours[code], 0.0))
        said = {code: np.where(known, hours[code], said.get(code, 0.0)) for code in hours}
        said["wet_counts"] = said["wet_counts"] + in_rain
        for code, value in said.items():
            full = np.zeros(n)
            full[more] = value
            block.add(code, odd, full)
    if len(less):
        pace = np.where(dial[less] > 0, dial[less] / span_days[less], 0.0)
        told, known = empty_days_l(case, less, pace, agreed_until(case, less), at[less])
        q = np.clip(told / np.maximum(-difference[less], 1e-6), 0.0, 3.0)
        patchy = np.logaddexp(np.log(0.6) + _normal(q, 0.85, 0.3), np.log(0.4) + _normal(q, 0.1, 0.15))
        shared = np.logaddexp(np.log(0.93) + _normal(q, 0.03, 0.1), np.log(0.07 / 3.0) + 0.0 * q)
        value = np.where(known, np.clip(patchy - shared, -MOST_NAT, MOST_NAT), 0.0)
        empty_share[less] = np.where(known, q, np.nan)
        full = np.zeros(n)
        full[less] = value
        block.add("intermittent", odd, full)
    return block
