"""The water of one site over the window: who lives there, and what changes with the port's fate."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from dialtrue.engine.simulation.demand import NO_EVENTS, Calendar, UseCurve, curve_of, split_by_flow, together
from dialtrue.engine.simulation.household import home_events
from dialtrue.engine.simulation.meters import times
from dialtrue.engine.simulation.oddities import odd_events, odd_level, restless
from dialtrue.engine.simulation.places import RegisterSpec
from dialtrue.engine.simulation.port import Fate
from dialtrue.engine.simulation.premises import LEAK_L_S, TRADE, backflow_events, garden_events, leak, trade_events
from dialtrue.engine.simulation.sky import DAY_S

HISTORY_PERIODS = 24
WORN_SHARE = 0.25
"""Share of registers that took the place of a worn meter that read 4 to 20 % low. Our assumption."""
PERIOD_DAYS = 30
_MISMATCH_RATIOS = (0.625, 0.667, 0.8, 1.25, 1.5, 1.6)
# Ratios of neighbouring body sizes: our assumption; override by editing the tuple.


REPAIRED_SHARE = 0.3
"""Share of leaks that somebody mends within the window. Our assumption; override by editing the constant."""


@dataclass(frozen=True, slots=True)
class SiteUse:
    """Curve of each register of a site, and what the fate did to the use, for the label."""

    curves: tuple[UseCurve, ...]
    true_factor: float = 1.0
    parameter: float | None = None
    variant: str = ""


def use_of_site(
    rng: np.random.Generator,
    spec: RegisterSpec,
    fate: Fate,
    calendar: Calendar,
    *,
    first_s: int,
    start_s: int,
    end_s: int,
) -> SiteUse:
    """Let a site draw its water from ``first_s`` to ``end_s``.

    Parameters
    ----------
    rng : numpy Generator
    spec : RegisterSpec
        The site's register (the high one of a compound meter).
    fate : Fate
    calendar : Calendar
        Local days that cover the window.
    first_s, start_s, end_s : int
        Begin of the curve, of the window, end of both. [s since 1970]

    Returns
    -------
    SiteUse
        One curve, or high and low for a compound meter.

    Raises
    ------
    Never raises.

    Source
    ------
    ``RESIDENTIAL-END-USES``, ``EPA-LEAK``; changes of use are our assumption.
    """
    days = calendar.slice_from(first_s)
    level = restless(rng, len(days)) * odd_level(spec.oddity, days, start_s)
    shift_h = 0.0 if spec.oddity is None else spec.oddity.shift_h
    if spec.home is not None:
        away = ((days.midnight_s - start_s) // DAY_S)[:, None] - np.array([spec.home.holiday_days])
        level[(away[:, 0] >= 0) & (away[:, 1] < 0)] = 0.0
    parameter: float | None = None
    variant = ""
    after = days.midnight_s >= fate.onset_s - DAY_S // 2
    if fate.code == "use_change":
        grow = rng.random() < 0.5
        parameter = round(1.6 + 1.8 * fate.severity if grow else 0.65 - 0.45 * fate.severity, 4)
        level[after] *= parameter
        variant = "more" if grow else "less"
    garden_level = level.copy()
    if fate.code == "vacant":
        level[after] = 0.0
        garden_level[after] = 0.0
    if spec.home is not None:
        home = replace(spec.home, shift_h=spec.home.shift_h + round(shift_h))
        events = home_events(rng, home, days, level)
    elif spec.trade in TRADE:
        trade = replace(TRADE[spec.trade], hours=np.roll(TRADE[spec.trade].hours, round(shift_h)))
        events = trade_events(rng, trade, days, level, max_flow_l_s=spec.max_flow_l_s, scale=spec.scale)
    else:
        events = NO_EVENTS
    if spec.garden is not None:
        events = together(events, garden_events(spec.garden, days, garden_level))
    if spec.oddity is not None:
        events = together(events, odd_events(rng, spec.oddity, days, start_s))
    if fate.code == "vacant":
        events = events.keep(events.start_s < fate.onset_s)
        # Whoever leaves shuts the hose.
        left_s = np.maximum(fate.onset_s - events.start_s, 0.0)
        events = replace(events, duration_s=np.minimum(events.duration_s, left_s))
    if fate.code == "customer_leak":
        flow = LEAK_L_S * float(np.exp(2.2 * fate.severity))
        parameter, variant = round(flow * 3600, 3), "L_per_h"
        until_s = end_s
        if rng.random() < REPAIRED_SHARE:
            until_s, variant = (
                int(fate.onset_s + rng.uniform(0.3, 1.0) * (end_s - fate.onset_s)),
                "L_per_h_until_repaired",
            )
        events = together(events, leak(fate.onset_s, until_s, flow_l_s=flow))
    if fate.code == "backflow_counted":
        swings = backflow_events(
            rng, fate.onset_s, end_s, swing_l=0.5 + 3 * fate.severity, per_day=float(rng.uniform(20, 80))
        )
        events = together(events, swings)
    curve = curve_of(events, first_s=first_s, last_s=end_s, max_flow_l_s=spec.max_flow_l_s)
    if spec.role != "single":
        return SiteUse(split_by_flow(curve, crossover_l_s=0.035 * spec.max_flow_l_s), 1.0, parameter, variant)
    if fate.code == "register_mismatch":
        ratio = float(rng.choice(_MISMATCH_RATIOS))
        return SiteUse((curve.scaled(ratio),), ratio, ratio, "register_of_another_body")
    return SiteUse((curve,), 1.0, parameter, variant)


def billed_history(
    rng: np.random.Generator, spec: RegisterSpec, calendar: Calendar
) -> list[tuple[int, int, str, bool]]:
    """Return the billed periods before the fitting: first and last midnight [s], volume in the dial's unit, estimated.

    Source
    ------
    Thirty-day periods with 10 % scatter, one in forty estimated; a customer's level before differs by some 15 %, heavy
    in the tails, and a worn old meter read low: our assumption; override by editing this function.
    """
    before = calendar.until(spec.fitted_s)
    # Beyond a third more or less it would be a change of use, which has a code of its own.
    own = float(np.exp(np.clip(rng.standard_t(4) * 0.13, -0.3, 0.3)))
    if spec.oddity is not None:
        own *= spec.oddity.usual_share
    if rng.random() < WORN_SHARE:
        own *= float(rng.uniform(0.8, 0.96))
    periods = min(HISTORY_PERIODS, (len(before) - 1) // PERIOD_DAYS)
    rows: list[tuple[int, int, str, bool]] = []
    resolution = spec.face.resolution_l
    watered = np.concatenate(([0.0], np.cumsum(spec.garden.volume_l(before)))) if spec.garden is not None else None
    for step in range(periods, 0, -1):
        last = len(before) - 1 - (step - 1) * PERIOD_DAYS
        first = last - PERIOD_DAYS
        litres = spec.mean_l_day * own * PERIOD_DAYS * float(np.exp(rng.normal(0.0, 0.10)))
        if watered is not None:
            litres += float(watered[last] - watered[first])
        units = round(litres) * resolution.denominator // resolution.numerator
        volume = times(spec.face.resolution, units)
        rows.append((int(before.midnight_s[first]), int(before.midnight_s[last]), volume, bool(rng.random() < 0.025)))
    return rows
