"""What truly passed: dial reads pin it down, the reads give its shape between them, the finding mends the shape."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

Method = Literal["exact", "differenced", "estimated"]
Shape = Callable[[dt.datetime], Fraction]
"""Volume that a mended register would have counted by a moment [L], from any zero; never falls."""


@dataclass(frozen=True, slots=True)
class Pin:
    """A moment at which the dial was seen: its volume on the dial's course [L]."""

    at: dt.datetime
    volume_l: Fraction


@dataclass(frozen=True, slots=True)
class TrueCourse:
    """Corrected volumes.

    ``pins`` ascending, perhaps none. ``shape`` as mended by the finding; ``exact_shape`` whether the mend is a ratio or
    a difference of whole numbers, so that beyond the pins it needs no estimate. ``days_shape`` is used between pins
    where the shape stands still.
    """

    pins: tuple[Pin, ...]
    shape: Shape
    exact_shape: bool
    days_shape: Shape

    def at(self, moment: dt.datetime) -> Fraction:
        """Return the volume by a moment. [L] Never raises.

        Between two pins the shape is stretched to meet both, so that what lies between them adds up to the dial's
        difference, exactly. Beyond the pins the shape goes on as it is.
        """
        pins = self.pins
        if not pins:
            return self.shape(moment)
        place = bisect_right(pins, moment, key=lambda pin: pin.at)
        if place == 0:
            return pins[0].volume_l - (self.shape(pins[0].at) - self.shape(moment))
        before = pins[place - 1]
        if place == len(pins):
            return before.volume_l + self.shape(moment) - self.shape(before.at)
        after = pins[place]
        shape = self.shape if self.shape(after.at) != self.shape(before.at) else self.days_shape
        whole = shape(after.at) - shape(before.at)
        share = (shape(moment) - shape(before.at)) / whole if whole else Fraction(0)
        return before.volume_l + share * (after.volume_l - before.volume_l)

    def method(self, start: dt.datetime, end: dt.datetime) -> Method:
        """Return how the volume from ``start`` to ``end`` is known. Never raises."""
        if self.exact_shape:
            return "exact"
        if len(self.pins) > 1 and self.pins[0].at <= start and end <= self.pins[-1].at:
            return "differenced"
        return "estimated"

    def pinned_share(self, start: dt.datetime, end: dt.datetime) -> Fraction:
        """Return what share of the time from ``start`` to ``end`` lies between the first pin and the last."""
        if len(self.pins) < 2 or end <= start:
            return Fraction(0)
        low, high = max(start, self.pins[0].at), min(end, self.pins[-1].at)
        second = dt.timedelta(seconds=1)
        return Fraction(max(0, (high - low) // second), max(1, (end - start) // second))


def factor_shape(course_at: Shape, ratio: Fraction, since: dt.datetime | None) -> Shape:
    """Return a shape whose counts from ``since`` on are divided by ``ratio`` (index over dial).

    Parameters
    ----------
    course_at : callable
        The registered course. [L]
    ratio : Fraction
        Index over dial from ``since`` on. [-, > 0]
    since : datetime or None
        None: from the first reading on.

    Returns
    -------
    callable

    Raises
    ------
    Never raises.

    Source
    ------
    M3 of the trade notes: each period's counts times right over wrong.
    """

    def shape(moment: dt.datetime) -> Fraction:
        if since is None:
            return course_at(moment) / ratio
        if moment <= since:
            return course_at(moment)
        turn = course_at(since)
        return turn + (course_at(moment) - turn) / ratio

    return shape


def without_jump(course_at: Shape, at: dt.datetime, jump_l: Fraction) -> Shape:
    """Return a shape from which a jump of the index at one moment is taken out (M2: one volume, at its date).

    Never raises.
    """

    def shape(moment: dt.datetime) -> Fraction:
        return course_at(moment) - (jump_l if moment > at else 0)

    return shape


def rate_shape(course_at: Shape, spans: Sequence[tuple[dt.datetime, dt.datetime, Fraction]]) -> Shape:
    """Return a shape that runs on at a rate during spans in which nothing, or too much, was counted.

    Parameters
    ----------
    course_at : callable
        The registered course. [L]
    spans : sequence of (start, end, litres a day)
        Within each span the course is replaced by the rate. [L/day, >= 0]

    Returns
    -------
    callable

    Raises
    ------
    Never raises.

    Source
    ------
    M4 of the trade notes, with the rate by whichever estimate was chosen.
    """

    def shape(moment: dt.datetime) -> Fraction:
        volume = course_at(moment)
        for start, end, litres_a_day in spans:
            if moment <= start:
                continue
            stop = min(moment, end)
            volume -= course_at(stop) - course_at(start)
            volume += litres_a_day * Fraction((stop - start) // dt.timedelta(seconds=1), 86_400)
        return volume

    return shape


def days_shape(moment: dt.datetime) -> Fraction:
    """Return a shape that only knows time: the same volume every second. [s] Never raises."""
    return Fraction((moment - dt.datetime(2000, 1, 1, tzinfo=dt.UTC)) // dt.timedelta(seconds=1))
