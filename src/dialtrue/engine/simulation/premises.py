"""Everything that is not a household's tap: gardens on timers, shops and works, leaks, water running backward."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dialtrue.engine.simulation.demand import NO_EVENTS, Calendar, Events, hours_by, together
from dialtrue.engine.simulation.meters import GAL_PER_MIN_L_S
from dialtrue.engine.simulation.sky import DAY_S, HOUR_S

LEAK_L_S = 90 * 60 * GAL_PER_MIN_L_S / DAY_S
"""Least leak that counts as one: 90 gal a day (``EPA-LEAK``). [L/s]"""

_OFFICE = np.array([0.1, 0.1, 0.1, 0.1, 0.2, 0.5, 1.5, 4, 6, 7, 7, 7, 8, 7, 7, 6.5, 5, 3, 1.5, 0.8, 0.4, 0.3, 0.2, 0.1])
_EVENING = np.array(
    [0.6, 0.2, 0.1, 0.1, 0.1, 0.2, 0.6, 1.5, 2.5, 3.5, 5, 7, 7.5, 6, 4, 4, 5, 7, 8.5, 8.5, 7.5, 6, 3.5, 1.5]
)
_DAYTIME = np.array([0.0, 0, 0, 0, 0, 0.2, 1, 3, 6, 8, 8, 8, 7, 7, 7, 7, 6.5, 6, 5, 4, 2, 1, 0.3, 0.1])
_SHIFTS = np.array([1.0, 1, 1, 1, 1.2, 2.5, 5, 5.5, 5.5, 5.5, 5.5, 5.5, 4.5, 5.5, 5.5, 5, 5, 5, 5, 5, 4.5, 3, 1.5, 1])
_HOUSING = np.array(
    [1.2, 0.8, 0.6, 0.6, 0.9, 2, 4.5, 6, 5.5, 4.5, 4, 3.8, 3.9, 3.7, 3.6, 3.8, 4.2, 5, 5.6, 5.5, 5, 4.4, 3.2, 2]
)
_WARD = np.array(
    [2.5, 2.2, 2.1, 2.1, 2.4, 3.2, 4.6, 5.6, 6, 6, 5.6, 5.4, 5.2, 5, 4.8, 4.6, 4.6, 4.6, 4.6, 4.4, 4, 3.6, 3.1, 2.8]
)


@dataclass(frozen=True, slots=True)
class Trade:
    """How one kind of premises draws. Volumes a working day [L], size of one draw [L], flow as a share of the meter's.

    ``night_share`` is the share of the day's volume that runs evenly round the clock (boilers, cooling, urinals).
    """

    name: str
    share: float
    size: str
    volume_l_day: float
    draw_l: float
    flow_share: float
    weekend: float
    night_share: float
    hours: np.ndarray


TRADES = (
    Trade("shop", 0.045, "5/8in", 350, 6, 0.12, 0.8, 0.0, _DAYTIME),
    Trade("office", 0.040, "3/4in", 1_100, 7, 0.12, 0.1, 0.02, _OFFICE),
    Trade("restaurant", 0.022, "1in", 5_500, 14, 0.12, 1.3, 0.01, _EVENING),
    Trade("laundry", 0.010, "1-1/2in", 12_000, 80, 0.22, 1.2, 0.0, _DAYTIME),
    Trade("flats", 0.030, "1-1/2in", 9_000, 14, 0.10, 1.08, 0.05, _HOUSING),
    Trade("school", 0.008, "2in", 14_000, 20, 0.10, 0.08, 0.03, _OFFICE),
    Trade("works", 0.008, "3in", 60_000, 500, 0.25, 0.3, 0.08, _SHIFTS),
    Trade("large works", 0.004, "4in", 180_000, 1_500, 0.30, 0.6, 0.10, _SHIFTS),
    Trade("hospital", 0.0, "4in", 120_000, 90, 0.10, 0.85, 0.12, _WARD),
)
"""Our assumption: shares and sizes of a small town's premises; override by editing the table."""
TRADE = {trade.name: trade for trade in TRADES}


def trade_events(
    rng: np.random.Generator, trade: Trade, calendar: Calendar, level: np.ndarray, *, max_flow_l_s: float, scale: float
) -> Events:
    """Return the draws of a business.

    Parameters
    ----------
    rng : numpy Generator
    trade : Trade
    calendar : Calendar
    level : float64, shape (days,)
        Multiplier of the day's use. [-, >= 0]
    max_flow_l_s : float
        Greatest flow of its meter. [L/s, > 0]
    scale : float
        Size of this business against the table's. [-, > 0]

    Returns
    -------
    Events

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption throughout; override by editing ``TRADES``.
    """
    busy = scale * level * np.where(calendar.weekend, trade.weekend, 1.0) * np.exp(rng.normal(0, 0.12, len(calendar)))
    drawn = trade.volume_l_day * (1 - trade.night_share)
    daily = rng.poisson(drawn / trade.draw_l * busy)
    day = np.repeat(np.arange(len(calendar)), daily)
    start = calendar.midnight_s[day] + hours_by(rng, calendar.weekend[day], trade.hours, trade.hours)
    volume = trade.draw_l * np.exp(rng.normal(-0.18, 0.6, len(day)))
    flow = trade.flow_share * max_flow_l_s * np.exp(rng.normal(-0.3, 0.5, len(day)))
    flow = np.minimum(flow, 0.8 * max_flow_l_s)
    draws = Events(start, volume / flow, flow)
    if not trade.night_share:
        return draws
    base = trade.volume_l_day * trade.night_share / DAY_S * scale * level
    even = Events(calendar.midnight_s.astype(float), np.full(len(calendar), float(DAY_S)), base)
    return together(draws, even)


def trade_mean_l_day(trade: Trade, scale: float) -> float:
    """Return the expected use of a mean day of the week. [L/day]"""
    return scale * trade.volume_l_day * (5 + 2 * trade.weekend) / 7


@dataclass(frozen=True, slots=True)
class Garden:
    """A garden on a timer: days of the week, hour, zones, minutes and flow a zone at full thirst."""

    weekdays: tuple[int, ...]
    start_h: float
    zones: int
    zone_min: float
    flow_l_s: float

    def volume_l(self, calendar: Calendar) -> np.ndarray:
        """Return the volume of each day: timer days, times thirst. [L]"""
        on = np.isin(calendar.weekday, self.weekdays)
        return on * calendar.thirst * self.zones * self.zone_min * 60 * self.flow_l_s


def garden_from(rng: np.random.Generator, *, max_flow_l_s: float) -> Garden:
    """Draw a timer's programme; homes draw 6 to 12 gal/min a zone, larger meters up to half their greatest flow."""
    flow = min(float(rng.uniform(6, 12)) * GAL_PER_MIN_L_S, 0.6 * max_flow_l_s)
    if max_flow_l_s > 60 * GAL_PER_MIN_L_S:
        flow = float(rng.uniform(0.35, 0.9)) * max_flow_l_s
    days = ((0, 2, 4), (1, 3, 5), (2, 5), (0, 3, 6), tuple(range(7)))[int(rng.integers(0, 5))]
    return Garden(days, float(rng.uniform(3.0, 7.0)), int(rng.integers(3, 7)), float(rng.uniform(5, 12)), flow)


def garden_events(garden: Garden, calendar: Calendar, level: np.ndarray) -> Events:
    """Return the runs of the zones, one after the other, on the days when the garden is thirsty."""
    volume = garden.volume_l(calendar) * (level > 0)
    on = volume > 5.0
    run_s = volume[on] / garden.zones / garden.flow_l_s
    first = calendar.midnight_s[on] + garden.start_h * HOUR_S
    start = np.concatenate([first + zone * (run_s + 5) for zone in range(garden.zones)])
    wobble = 1 + 0.08 * np.sin(np.arange(garden.zones))
    return Events(start, np.tile(run_s, garden.zones), np.repeat(garden.flow_l_s * wobble, on.sum()))


def leak(start_s: float, end_s: float, *, flow_l_s: float) -> Events:
    """Return one leak that runs without pause. [L/s]"""
    if end_s <= start_s:
        return NO_EVENTS
    return Events(np.array([start_s]), np.array([end_s - start_s]), np.array([flow_l_s]))


def backflow_events(
    rng: np.random.Generator, start_s: float, end_s: float, *, swing_l: float, per_day: float
) -> Events:
    """Return pressure swings: water runs back, and soon after the same volume runs forward again, mostly at night.

    Source
    ------
    Swings of some litres beside pumps and heaters without a check valve: common practice, no source.
    """
    count = int(rng.poisson(max(end_s - start_s, 0) / DAY_S * per_day))
    at = np.sort(rng.uniform(start_s, max(end_s - 900, start_s), count))
    volume = swing_l * np.exp(rng.normal(0, 0.4, count))
    back_s = rng.uniform(20, 60, count)
    pause_s = rng.uniform(5, 60, count)
    flow = volume / back_s
    return together(Events(at, back_s, -flow), Events(at + back_s + pause_s, back_s, flow))
