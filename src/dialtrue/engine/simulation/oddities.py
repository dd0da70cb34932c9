"""Sound premises that imitate faults: long absences, guests, pools, softeners, night work, closures, running toilets.

None is a fault or needs a visit. They change the water alone; what goes wrong with reads stands in ``delivery``.

Source
------
The innocents of the trade, by common practice; shares and sizes are our assumption, overridden by
``TownPlan.oddity_share`` and the tables below.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dialtrue.engine.simulation.demand import NO_EVENTS, Calendar, Events, together
from dialtrue.engine.simulation.sky import DAY_S, HOUR_S

HOME_KINDS = {
    "long_absence": 0.16, "weekend_home": 0.06, "guests": 0.16, "pool": 0.06, "softener": 0.2, "night_worker": 0.1,
    "running_toilet": 0.16, "drift": 0.1,
}  # fmt: skip
TRADE_KINDS = {"closed": 0.4, "night_shift": 0.3, "drift": 0.3}
"""Share of each kind among the oddities of homes and of other premises."""

BACK_DAYS = 6
"""Absences end this long before the window does, at the latest. [days; our assumption]"""


@dataclass(frozen=True, slots=True)
class Oddity:
    """One habit or accident. ``first`` and ``last`` are days of the window; ``size`` means what its kind says."""

    kind: str
    first: int
    last: int
    size: float

    @property
    def shift_h(self) -> float:
        """Hours by which the whole day is moved. [h]"""
        return self.size if self.kind in ("night_worker", "night_shift") else 0.0

    @property
    def usual_share(self) -> float:
        """Use of a usual year over that of a site without the habit. [-]"""
        return 3 / 7 if self.kind == "weekend_home" else 1.0


def oddity_from(rng: np.random.Generator, trade: str, days: int, *, share: float) -> Oddity | None:
    """Draw what is odd about a site, None for most."""
    odd = rng.random() < share
    kinds = HOME_KINDS if trade == "home" else TRADE_KINDS
    kind = str(rng.choice(list(kinds), p=list(kinds.values())))
    first, draw = int(rng.integers(-10, max(days - 5, 1))), float(rng.random())
    if not odd or trade in ("garden", "hospital"):
        return None
    if trade == "school" and kind == "closed":
        return Oddity(kind, first, min(first + 14 + int(28 * draw), days - BACK_DAYS), 0.03)
    length, size = {
        "long_absence": (14 + 31 * draw, 0.0),
        "weekend_home": (days + 10, 0.0),
        "guests": (3 + 11 * draw, 1.5 + 1.5 * draw),
        "pool": (1.0, 25_000 + 40_000 * draw),
        "softener": (days + 10, 3 + round(5 * draw)),
        "night_worker": (days + 10, 9.0 + 3 * draw),
        "running_toilet": (5 + 30 * draw, 0.02 + 0.06 * draw),
        "drift": (days, 0.7 * (draw - 0.5)),
        "closed": (5 + 16 * draw, 0.0),
        "night_shift": (days + 10, 10.0 + 4 * draw),
    }[kind]
    last = first + int(length)
    if kind in ("long_absence", "closed"):
        # Whoever has not come back by the end is no traveller: that has a code of its own.
        last = min(last, days - BACK_DAYS)
    return Oddity(kind, -30 if length >= days else min(first, last), last, size)


def odd_level(oddity: Oddity | None, calendar: Calendar, start_s: int) -> np.ndarray:
    """Return the multiplier that an oddity lays on each day's use."""
    level = np.ones(len(calendar))
    if oddity is None:
        return level
    day = (calendar.midnight_s - start_s) // DAY_S
    inside = (day >= oddity.first) & (day < oddity.last)
    if oddity.kind in ("long_absence", "closed", "guests"):
        level[inside] = oddity.size
    elif oddity.kind == "weekend_home":
        level[calendar.weekday < 4] = 0.0
    elif oddity.kind == "drift":
        level *= np.exp(oddity.size * np.clip(day / max(oddity.last - oddity.first, 30), 0, 1.5))
    return level


def odd_events(rng: np.random.Generator, oddity: Oddity | None, calendar: Calendar, start_s: int) -> Events:
    """Return the draws that an oddity adds."""
    if oddity is None or oddity.kind not in ("pool", "softener", "running_toilet"):
        return NO_EVENTS
    day = (calendar.midnight_s - start_s) // DAY_S
    inside = (day >= oddity.first) & (day < oddity.last)
    if oddity.kind == "pool":
        # One hose, day and night, until it is full: for a day or two no hour is without a count.
        begin = start_s + oddity.first * DAY_S + 9 * HOUR_S
        return Events(np.array([float(begin)]), np.array([oddity.size / 0.35]), np.array([0.35]))
    if oddity.kind == "softener":
        due = calendar.midnight_s[inside & (day % int(oddity.size) == 0)] + 2 * HOUR_S
        rinse = Events(due.astype(float), np.full(len(due), 900.0), np.full(len(due), 0.12))
        return together(rinse, Events(due + 3000.0, np.full(len(due), 1500.0), np.full(len(due), 0.07)))
    sticks = inside & (rng.random(len(day)) < 0.35)
    start = calendar.midnight_s[sticks] + rng.uniform(0, DAY_S, int(sticks.sum()))
    return Events(start, rng.uniform(0.7, 9.0, len(start)) * HOUR_S, np.full(len(start), oddity.size))


def restless(rng: np.random.Generator, days: int, *, spread: float = 0.22, memory: float = 0.55) -> np.ndarray:
    """Return a multiplier for each day that wanders: good and lazy weeks, with mean one.

    Source
    ------
    Spread and memory of a day are our assumption, so that daily totals scatter as measured ones do.
    """
    push = rng.normal(0.0, spread * np.sqrt(1 - memory**2), days)
    value, out = float(rng.normal(0.0, spread)), np.empty(days)
    for day, step in enumerate(push.tolist()):
        value = memory * value + step
        out[day] = value
    return np.exp(out - 0.5 * spread**2)
