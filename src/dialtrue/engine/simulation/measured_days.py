"""Homes that live measured days: real draws, mixed and scaled, so that no model of ours shapes the water.

Source
------
``WEUSEDTO-FLAT`` (seven fixtures of one flat, 155 days) and ``CIWS-DATA`` (two days of one house). Mixing, moving by
some minutes and scaling to a home's size are our assumption; override by editing the constants.
"""

from __future__ import annotations

import csv
import gzip
import io
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

import numpy as np

from dialtrue.engine.simulation.demand import Calendar, Events
from dialtrue.engine.simulation.sky import DAY_S, HOUR_S

OWN_DAYS = 40
"""Measured days that one home draws from, so that it has habits of its own."""
MOVED_S = 1500.0
"""Spread by which a borrowed day is moved. [s]"""


@dataclass(frozen=True, slots=True)
class MeasuredDays:
    """Draws by measured day. ``first`` and ``count`` give each day's rows in the three columns."""

    weekend: np.ndarray
    first: np.ndarray
    count: np.ndarray
    second: np.ndarray
    duration_s: np.ndarray
    litres: np.ndarray

    @property
    def mean_l(self) -> float:
        """Mean volume of a measured day. [L]"""
        return float(self.litres.sum() / len(self.first))


@lru_cache(maxsize=1)
def measured_days() -> MeasuredDays:
    """Return the shipped days."""
    packed = files("dialtrue.engine.simulation.days").joinpath("draws.csv.gz").read_bytes()
    rows = list(csv.DictReader(io.StringIO(gzip.decompress(packed).decode("ascii"))))
    day = np.array([int(row["day"]) for row in rows])
    count = np.bincount(day)
    first = np.concatenate(([0], np.cumsum(count)[:-1]))
    weekend = np.array([rows[row]["weekend"] == "1" for row in first])
    columns = [np.array([float(row[name]) for row in rows]) for name in ("second", "duration_s", "litres")]
    return MeasuredDays(weekend, first, count, *columns)


def measured_events(
    rng: np.random.Generator, calendar: Calendar, level: np.ndarray, *, mean_l_day: float, shift_h: float
) -> Events:
    """Return a home's draws: on each day some measured days laid over each other, one for about each person.

    Parameters
    ----------
    rng : numpy Generator
    calendar : Calendar
    level : float64, shape (days,)
        Multiplier of the day's use: 0 where nobody is at home. [-, >= 0]
    mean_l_day : float
        Expected use of a day at level 1. [L/day, > 0]
    shift_h : float
        Hours by which this home lives later than the measured ones. [h]

    Returns
    -------
    Events

    Raises
    ------
    Never raises.

    Source
    ------
    See the module.
    """
    days = measured_days()
    own = rng.permutation(len(days.first))[:OWN_DAYS]
    free, working = own[days.weekend[own]], own[~days.weekend[own]]
    # The home's own days, not all days, must have the wanted mean.
    mean_l = (2 * _mean(days, free) + 5 * _mean(days, working)) / 7
    layers = max(round(mean_l_day / mean_l), 1)
    stretch = mean_l_day / (layers * mean_l)
    number = np.floor(layers * level + rng.random(len(level))).astype(np.int64)
    day = np.repeat(np.arange(len(calendar)), number)
    pick = rng.random(len(day))
    weekend = calendar.weekend[day]
    chosen = np.where(weekend, free[(pick * len(free)).astype(int)], working[(pick * len(working)).astype(int)])
    moved = rng.normal(shift_h * HOUR_S, MOVED_S, len(day))
    count = days.count[chosen]
    ends = np.cumsum(count)
    row = np.arange(int(count.sum())) - np.repeat(ends - count, count) + np.repeat(days.first[chosen], count)
    second = (days.second[row] + np.repeat(moved, count)) % DAY_S
    start = np.repeat(calendar.midnight_s[day], count) + second
    duration = days.duration_s[row] * stretch
    return Events(start, duration, days.litres[row] / days.duration_s[row])


def _mean(days: MeasuredDays, chosen: np.ndarray) -> float:
    """Return the mean volume of the chosen days. [L]"""
    return float(np.mean([days.litres[days.first[day] : days.first[day] + days.count[day]].sum() for day in chosen]))
