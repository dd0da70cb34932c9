"""One home's water: people, end uses, habits of the hour, small leaks, holidays.

Source
------
Mean indoor use 138 gal a household a day, toilets 24 % of it: ``RESIDENTIAL-END-USES``. Sizes and flows of single uses
are in the spirit of that study and rounded by us: our assumption; override by editing ``END_USES``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dialtrue.engine.simulation.demand import Calendar, Events, hours_by, together
from dialtrue.engine.simulation.measured_days import measured_events
from dialtrue.engine.simulation.sky import DAY_S

_NIGHT = [0.35, 0.22, 0.15, 0.13, 0.18, 0.5]
_MEALS = np.array([*_NIGHT, 2.0, 4.2, 4.0, 2.6, 2.0, 2.2, 3.0, 2.4, 1.9, 2.2, 3.0, 4.3, 5.0, 4.6, 3.8, 3.0, 2.0, 1.0])
_WASH = np.array([*_NIGHT, 5.0, 8.5, 6.5, 3.0, 1.8, 1.3, 1.1, 1.0, 1.0, 1.1, 1.4, 2.2, 3.0, 3.6, 4.0, 3.6, 2.4, 1.0])
_TOILET = np.array(
    [
        1.0,
        0.7,
        0.6,
        0.6,
        0.8,
        1.6,
        4.2,
        5.6,
        4.8,
        3.4,
        2.8,
        2.8,
        3.0,
        2.8,
        2.7,
        3.0,
        3.6,
        4.2,
        4.6,
        4.6,
        4.6,
        4.4,
        3.4,
        2.0,
    ]
)
_LAUNDRY = np.array([0.1, 0, 0, 0, 0, 0.2, 1, 2, 4, 5, 5, 4.5, 4, 3.6, 3.2, 3, 3, 3.2, 3.6, 3.6, 3.2, 2.2, 1, 0.4])
_DISHES = np.array([0.3, 0.1, 0, 0, 0, 0, 0.3, 1, 2, 2, 1, 1, 2, 2.6, 2, 1, 1, 2, 4, 6, 6, 4, 2, 1.0])
_LATE = 2  # hours by which weekends start later [our assumption]


@dataclass(frozen=True, slots=True)
class EndUse:
    """One kind of draw: uses a person a day, litres and litres per second a use, spread of the volume, fills."""

    name: str
    per_person_day: float
    volume_l: float
    flow_l_s: float
    spread: float
    fills: int
    fill_gap_s: float
    hours: np.ndarray


END_USES = (
    EndUse("toilet", 5.05, 9.8, 0.15, 0.12, 1, 0, _TOILET),
    EndUse("shower", 0.69, 62.0, 0.13, 0.40, 1, 0, _WASH),
    EndUse("tap", 20.0, 1.9, 0.065, 0.70, 1, 0, _MEALS),
    EndUse("clothes washer", 0.30, 110.0, 0.25, 0.15, 3, 900, _LAUNDRY),
    EndUse("dish washer", 0.10, 23.0, 0.10, 0.10, 3, 1200, _DISHES),
    EndUse("bath", 0.07, 76.0, 0.28, 0.15, 1, 0, _DISHES),
    EndUse("other", 1.0, 7.5, 0.10, 0.80, 1, 0, _MEALS),
)
_PEOPLE = (0.24, 0.33, 0.17, 0.15, 0.07, 0.04)
_SEEP_MEDIAN_L = 20.0
_SEEP_SIGMA = 1.0
_SEEP_MAX_L = 150.0
MEASURED_SHARE = 0.5
"""Share of homes that live measured days. Our assumption; override by editing the constant."""


@dataclass(frozen=True, slots=True)
class Home:
    """A household. ``habit`` multiplies every use; ``seep_l_day`` is a toilet flapper that refills now and then.

    ``measured`` homes live measured days, scaled to their size, instead of drawn uses.
    """

    people: int
    habit: float
    shift_h: int
    seep_l_day: float
    holiday_days: tuple[int, int]
    measured: bool = False

    @property
    def indoor_l_day(self) -> float:
        """Expected indoor use of a day at home. [L/day]"""
        per_person = sum(use.per_person_day * use.volume_l for use in END_USES)
        return self.people * self.habit * per_person + self.seep_l_day


def home_from(rng: np.random.Generator, days: int) -> Home:
    """Draw a household; about one in five is away for some days of the window."""
    people = int(rng.choice(len(_PEOPLE), p=_PEOPLE)) + 1
    habit = float(np.exp(rng.normal(-0.02, 0.22)))
    seep = min(float(rng.lognormal(np.log(_SEEP_MEDIAN_L), _SEEP_SIGMA)), _SEEP_MAX_L)
    away = (0, 0)
    if rng.random() < 0.2 and days > 20:
        first = int(rng.integers(0, days - 10))
        away = (first, min(first + int(rng.integers(3, 15)), days - 3))
    return Home(people, habit, int(rng.integers(-1, 2)), seep, away, bool(rng.random() < MEASURED_SHARE))


def home_events(rng: np.random.Generator, home: Home, calendar: Calendar, level: np.ndarray) -> Events:
    """Return a household's indoor draws.

    Parameters
    ----------
    rng : numpy Generator
    home : Home
    calendar : Calendar
    level : float64, shape (days,)
        Multiplier of the day's number of uses: 0 where nobody is at home. [-, >= 0]

    Returns
    -------
    Events

    Raises
    ------
    Never raises.

    Source
    ------
    ``RESIDENTIAL-END-USES`` for the daily means; shapes of the day are our assumption, or measured (``WEUSEDTO-FLAT``,
    ``CIWS-DATA``).
    """
    if home.measured:
        drawn = measured_events(
            rng, calendar, level, mean_l_day=home.indoor_l_day - home.seep_l_day, shift_h=home.shift_h
        )
        return together(drawn, _seep(rng, home.seep_l_day, calendar))
    parts = []
    weekend = calendar.weekend
    busy = level * np.where(weekend, 1.08, 0.968)
    for use in END_USES:
        daily = rng.poisson(use.per_person_day * home.people * home.habit * busy)
        day = np.repeat(np.arange(len(calendar)), daily)
        shape = np.roll(use.hours, home.shift_h)
        second = hours_by(rng, weekend[day], shape, np.roll(shape, _LATE))
        start = calendar.midnight_s[day] + second
        volume = use.volume_l * np.exp(rng.normal(-0.5 * use.spread**2, use.spread, len(day))) / use.fills
        flow = use.flow_l_s * np.exp(rng.normal(0.0, 0.2, len(day)))
        for fill in range(use.fills):
            parts.append(Events(start + fill * use.fill_gap_s, volume / flow, flow))
    parts.append(_seep(rng, home.seep_l_day, calendar))
    return together(*parts)


def _seep(rng: np.random.Generator, litres_day: float, calendar: Calendar) -> Events:
    """Return the refills of a toilet flapper that seeps on half of the days, at any hour."""
    refill_l = 1.5
    on = rng.random(len(calendar)) < 0.5
    daily = rng.poisson(2 * litres_day / refill_l * on)
    start = np.repeat(calendar.midnight_s, daily) + rng.random(int(daily.sum())) * DAY_S
    return Events(start, np.full(len(start), refill_l / 0.12), np.full(len(start), 0.12))
