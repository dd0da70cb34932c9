"""The course of a register in time: volumes that only a difference can tell, across rollovers, exact."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from dialtrue.domain.errors import CourseFault


@dataclass(frozen=True, slots=True)
class Course:
    """Readings of one register as volumes since the first of them.

    ``at`` ascending; ``volume_l`` since ``at[0]``, negative where it ran back [L]. ``falls`` are the places of readings
    that lie below the one before by more than a rollover explains.
    """

    at: tuple[dt.datetime, ...]
    volume_l: tuple[Fraction, ...]
    falls: tuple[int, ...] = ()

    def since(self, place: int) -> Course:
        """Return the course from one of its readings on. Never raises for a place in it."""
        base = self.volume_l[place]
        falls = tuple(fall - place for fall in self.falls if fall > place)
        return Course(self.at[place:], tuple(volume - base for volume in self.volume_l[place:]), falls)

    def upto(self, moment: dt.datetime) -> Fraction:
        """Return the volume at the last reading not later than a moment; the first reading stands for all before it.

        Billing reads are readings that were taken: nothing is interpolated here. Never raises on a course with a
        reading.
        """
        return self.volume_l[max(0, bisect_right(self.at, moment) - 1)]

    def at_time(self, moment: dt.datetime) -> Fraction:
        """Return the volume at a moment, on the straight line between the readings around it; flat beyond the ends.

        Never raises on a course with a reading.
        """
        place = bisect_right(self.at, moment)
        if place == 0:
            return self.volume_l[0]
        if place == len(self.at):
            return self.volume_l[-1]
        before, after = self.at[place - 1], self.at[place]
        share = Fraction(_micros(moment - before), _micros(after - before))
        return self.volume_l[place - 1] + share * (self.volume_l[place] - self.volume_l[place - 1])


def course_of(
    readings: Sequence[tuple[dt.datetime, Fraction]], *, capacity_l: Fraction, most_lpm: Fraction | None = None
) -> Course:
    """Follow a register from reading to reading.

    Parameters
    ----------
    readings : sequence of (datetime, Fraction)
        Moment, aware, and volume as shown [L, 0 <= volume < capacity]; any order; a moment once.
    capacity_l : Fraction
        Volume at which the register comes round. [L, > 0]
    most_lpm : Fraction or None
        Greatest flow of the meter [L/min]; without it a step of more than half the capacity is taken as a fall.

    Returns
    -------
    Course
        A step forward is taken modulo the capacity. Where that is more than the meter can have passed, the step is
        what stands between the figures, a fall, and is marked.

    Raises
    ------
    CourseFault
        No reading, or two readings of one moment that differ.

    Source
    ------
    Register arithmetic: models, section 1.

    Examples
    --------
    >>> noon = dt.datetime(2026, 1, 1, 12, tzinfo=dt.UTC)
    >>> hour = dt.timedelta(hours=1)
    >>> course_of([(noon, Fraction(990)), (noon + hour, Fraction(12))], capacity_l=Fraction(1000)).volume_l
    (Fraction(0, 1), Fraction(22, 1))
    """
    ordered = sorted(readings)
    if not ordered:
        raise CourseFault(says="there is no reading")
    at, volumes, falls = [ordered[0][0]], [Fraction(0)], []
    shown = ordered[0][1]
    for moment, value in ordered[1:]:
        if moment == at[-1]:
            if value != shown:
                raise CourseFault(says=f"two readings of {moment:%Y-%m-%d %H:%M} UTC differ")
            continue
        step = value - shown
        if step < 0:
            most = capacity_l / 2 if most_lpm is None else most_lpm * Fraction(_micros(moment - at[-1]), 60_000_000)
            if step % capacity_l <= most:
                step %= capacity_l
            else:
                falls.append(len(at))
        at.append(moment)
        volumes.append(volumes[-1] + step)
        shown = value
    return Course(tuple(at), tuple(volumes), tuple(falls))


def _micros(span: dt.timedelta) -> int:
    """Return a time span in whole microseconds."""
    return span // dt.timedelta(microseconds=1)
