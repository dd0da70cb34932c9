"""Water through a register as a path in time: events of flow, added up to a curve of volume."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from dialtrue.engine.simulation.sky import DAY_S, HOUR_S, Sky
from dialtrue.engine.simulation.train import UL_PER_L

_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


@dataclass(frozen=True, slots=True)
class Calendar:
    """The town's own days. ``midnight_s`` is each local midnight [s since 1970, UTC]; Monday is weekday 0."""

    midnight_s: np.ndarray
    weekday: np.ndarray
    rain_mm: np.ndarray
    temp_c: np.ndarray
    thirst: np.ndarray

    def __len__(self) -> int:
        return len(self.midnight_s)

    @property
    def weekend(self) -> np.ndarray:
        """True on Saturday and Sunday."""
        return self.weekday >= 5

    def slice_from(self, at_s: int) -> Calendar:
        """Return the calendar from the local day that holds ``at_s``."""
        first = max(int(np.searchsorted(self.midnight_s, at_s, side="right")) - 1, 0)
        return Calendar(*(column[first:] for column in self._columns()))

    def until(self, at_s: int) -> Calendar:
        """Return the whole local days before ``at_s``."""
        last = int(np.searchsorted(self.midnight_s, at_s, side="right")) - 1
        return Calendar(*(column[:last] for column in self._columns()))

    def _columns(self) -> tuple[np.ndarray, ...]:
        return self.midnight_s, self.weekday, self.rain_mm, self.temp_c, self.thirst


def calendar_over(first: dt.date, days: int, *, zone: str, sky: Sky) -> Calendar:
    """Return ``days`` local days from ``first``, with their weather and how thirsty gardens are.

    Source
    ------
    ``thirst`` is our assumption: none below 13 °C (mean of three days), full at 25 °C, a third after 4 mm of rain in
    two days; override by handing in another calendar.
    """
    clock = ZoneInfo(zone)
    dates = [first + dt.timedelta(days=step) for step in range(days)]
    midnight = [dt.datetime(day.year, day.month, day.day, tzinfo=clock) for day in dates]
    midnight_s = np.array([int((at - _EPOCH).total_seconds()) for at in midnight], dtype=np.int64)
    rain, temp = sky.daily(midnight_s)
    warm = np.convolve(temp, np.ones(3) / 3)[:days]
    warm[:2] = temp[:2]
    wet = rain + np.concatenate(([0.0], rain[:-1]))
    thirst = np.clip((warm - 13.0) / 12.0, 0.0, 1.3) * np.where(wet > 4.0, 0.33, 1.0)
    return Calendar(midnight_s, np.array([day.weekday() for day in dates]), rain, temp, thirst)


@dataclass(frozen=True, slots=True)
class Events:
    """Draws of water: start [s since 1970], duration [s], flow [L/s; negative runs backward]."""

    start_s: np.ndarray
    duration_s: np.ndarray
    flow_l_s: np.ndarray

    @property
    def volume_l(self) -> float:
        """Volume of all events together. [L]"""
        return float((self.duration_s * self.flow_l_s).sum())

    def keep(self, mask: np.ndarray) -> Events:
        """Return the events where ``mask`` is true."""
        return Events(self.start_s[mask], self.duration_s[mask], self.flow_l_s[mask])


NO_EVENTS = Events(np.empty(0), np.empty(0), np.empty(0))


def together(*parts: Events) -> Events:
    """Return all the events of all parts."""
    return Events(
        np.concatenate([part.start_s for part in parts]),
        np.concatenate([part.duration_s for part in parts]),
        np.concatenate([part.flow_l_s for part in parts]),
    )


@dataclass(frozen=True, slots=True)
class UseCurve:
    """Volume through a register at its turning points; straight between them. ``time_s`` rises strictly."""

    time_s: np.ndarray
    volume_l: np.ndarray

    def volume_ul(self, at_s: np.ndarray) -> np.ndarray:
        """Return the volume since the curve's start, in whole microlitres. Outside the curve the end value holds."""
        return np.rint(np.interp(at_s, self.time_s, self.volume_l) * UL_PER_L).astype(np.int64)

    @property
    def flow_l_s(self) -> np.ndarray:
        """Flow of each stretch between two turning points. [L/s]"""
        return np.diff(self.volume_l) / np.diff(self.time_s)

    def scaled(self, factor: float) -> UseCurve:
        """Return the curve with every volume times ``factor``."""
        return UseCurve(self.time_s, self.volume_l * factor)


def curve_of(events: Events, *, first_s: float, last_s: float, max_flow_l_s: float) -> UseCurve:
    """Add events up to a curve of volume over time.

    Parameters
    ----------
    events : Events
        May overlap; what lies outside the window is cut off.
    first_s, last_s : float
        Window. [s since 1970]
    max_flow_l_s : float
        Greatest flow that the meter passes; more is held back. [L/s, > 0]

    Returns
    -------
    UseCurve

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.
    """
    begin = np.clip(events.start_s, first_s, last_s)
    end = np.clip(events.start_s + events.duration_s, first_s, last_s)
    time = np.concatenate(([first_s], begin, end, [last_s]))
    step = np.concatenate(([0.0], events.flow_l_s, -events.flow_l_s, [0.0]))
    order = np.argsort(time, kind="stable")
    time = time[order]
    flow = np.cumsum(step[order])
    flow[np.abs(flow) < 1e-9] = 0.0
    flow = np.clip(flow, -max_flow_l_s, max_flow_l_s)
    volume = np.concatenate(([0.0], np.cumsum(flow[:-1] * np.diff(time))))
    last_of_equal = np.append(np.diff(time) > 0, True)
    return UseCurve(time[last_of_equal], volume[last_of_equal])


def split_by_flow(curve: UseCurve, *, crossover_l_s: float) -> tuple[UseCurve, UseCurve]:
    """Return the high and low side of a compound meter: below the crossover flow all water takes the low side.

    Source
    ------
    Above it the low side keeps a tenth of the crossover flow: our assumption; override by splitting elsewhere.
    """
    flow = curve.flow_l_s
    low = np.where(flow < crossover_l_s, flow, 0.1 * crossover_l_s)
    span = np.diff(curve.time_s)
    low_l = np.concatenate(([0.0], np.cumsum(low * span)))
    high_l = np.concatenate(([0.0], np.cumsum((flow - low) * span)))
    return UseCurve(curve.time_s, high_l), UseCurve(curve.time_s, low_l)


def hours_by(
    rng: np.random.Generator, weekend: np.ndarray, workday_shape: np.ndarray, weekend_shape: np.ndarray
) -> np.ndarray:
    """Return a second of the day for each event, drawn from the hourly shape of its kind of day."""
    draw = rng.random(len(weekend))
    hour = np.where(
        weekend,
        np.searchsorted(np.cumsum(weekend_shape) / weekend_shape.sum(), draw, side="right"),
        np.searchsorted(np.cumsum(workday_shape) / workday_shape.sum(), draw, side="right"),
    )
    return (np.minimum(hour, 23) + rng.random(len(weekend))) * HOUR_S


__all__ = [
    "DAY_S",
    "NO_EVENTS",
    "Calendar",
    "Events",
    "UseCurve",
    "calendar_over",
    "curve_of",
    "hours_by",
    "split_by_flow",
    "together",
]
