"""From a finding to the course that the register should have shown: which mend, and how sure."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from dialtrue.domain.figures import figure
from dialtrue.domain.finding import Finding
from dialtrue.domain.multipliers import name_ratio
from dialtrue.domain.settlement.course import course_of
from dialtrue.domain.settlement.like_days import Z_90, DayUse
from dialtrue.domain.settlement.true_course import Shape, TrueCourse, days_shape, factor_shape, without_jump
from dialtrue.services.settle_records import RegisterRecord

RATIO_FAULTS: Final = ("weight_decade", "unit_slip", "double_count")
SHARE_FAULTS: Final = ("lost_counts", "extra_counts", "wet_counts", "steady_counts", "intermittent", "backflow_counted")
DELIVERY_FAULTS: Final = ("stale_index", "clock_shift")
ESTIMATED_FAULTS: Final = ("dead_input", *SHARE_FAULTS)
TIMED_FAULTS: Final = ("steady_counts", "backflow_counted")
"""Faults whose false counts come by time, not by volume."""
BEYOND_SHARE: Final = Fraction(3, 10)
"""Half-width of the 90 % interval beyond the dial reads, as a share of the volume there. Our assumption: a share that
varies with flow or weather was seen over other weeks."""
RATIO_TOLERANCE: Final = Fraction(3, 100)
"""How far a measured ratio may lie from the exact one that it names. Our assumption."""

Spread = Callable[[dt.datetime, dt.datetime], tuple[Fraction, Fraction]]
"""Half-widths of the 90 % interval of the volume between two moments, below and above it. [L, >= 0]"""


@dataclass(frozen=True, slots=True)
class Mend:
    """How a register is put right: its true course, from when on, the spread beyond what is pinned, and the rule."""

    true: TrueCourse
    registered: Shape
    since: dt.datetime
    rule: str
    spread: Spread
    until: dt.datetime | None
    """Up to when the course is known; None: an estimate by days runs on."""
    only_pinned: bool = False
    """Nothing but the dial tells: a period that dial reads do not bound has no figure at all."""


def _sure(start: dt.datetime, end: dt.datetime) -> tuple[Fraction, Fraction]:
    """Return no spread: the mend is exact."""
    return Fraction(0), Fraction(0)


def mend_of(
    record: RegisterRecord,
    finding: Finding,
    *,
    other: RegisterRecord | None = None,
    by_records: bool = False,
    day_use: DayUse | None = None,
) -> Mend | str:
    """Choose the mend of one finding.

    Parameters
    ----------
    record : RegisterRecord
        What is on record of the register.
    finding : Finding
        What is wrong with it.
    other : RegisterRecord, optional
        For exchanged endpoints: the record of the port that truly counts this register.
    by_records : bool
        The records are exchanged, not the wires.
    day_use : DayUse, optional
        The use a day from like days, history or the fleet, for what no dial read bounds.

    Returns
    -------
    Mend or str
        A text says why nothing can be put right, and what to ask for.

    Raises
    ------
    Never raises.

    Source
    ------
    Models, section 5; methods M1 to M5 of the trade notes.
    """
    code = finding.fault
    if code in RATIO_FAULTS:
        return _ratio(record, finding)
    if code == "meter_reversed":
        return _reversed(record)
    if code == "start_slip":
        return _start(record)
    if code == "digit_slip":
        return _digits(record, finding)
    if code in ("crossed", "ports_swapped"):
        return _exchanged(record, other, by_records)
    if code == "dead_input":
        return _standstill(record, finding, day_use)
    if code == "index_reset":
        return _reset(record, finding)
    if code == "register_mismatch":
        return "the dial itself is wrong to the water: a test by weight or volume gives the ratio, no dial read does"
    if code in DELIVERY_FAULTS:
        return _pinned(record, finding, "delivery only: the dial's difference, by the days between true reads")
    if code == "duplicate_serial":
        return _interleaved(record, finding)
    if code in SHARE_FAULTS:
        return _share(record, finding, day_use)
    return _only_pinned(_pinned(record, finding, "the dial's difference"))


def _mended(
    record: RegisterRecord, shape: Shape, since: dt.datetime, rule: str, *, exact: bool, spread: Spread = _sure,
    pinned: bool = True, registered: Shape | None = None, runs_on: bool = False, other: RegisterRecord | None = None,
) -> Mend:  # fmt: skip
    """Put a mend together."""
    true = TrueCourse(record.pins if pinned else (), shape, exact, days_shape)
    ends = [record.course.at[-1], *(pin.at for pin in true.pins)]
    until = max(ends) if other is None else min(*ends, other.course.at[-1])
    return Mend(true, registered or record.course.upto, since, rule, spread, None if runs_on else until)


def _ratio(record: RegisterRecord, finding: Finding) -> Mend | str:
    """M3: counts divided by the exact ratio that the finding's measured one names."""
    exact: Fraction | None = Fraction(2) if finding.fault == "double_count" else None
    said = "each pulse was counted twice"
    if exact is None and record.weight_set_l is not None and record.weight_set_l != record.weight_meter_l:
        exact = record.weight_set_l / record.weight_meter_l
        said = f"the weight set is {figure(exact, places=4)} times the meter's, by the records"
        if finding.parameter is not None and abs(Fraction(finding.parameter) / exact - 1) > RATIO_TOLERANCE:
            exact = None
    if exact is None and finding.parameter:
        named = [
            each for each in name_ratio(finding.parameter, tolerance=RATIO_TOLERANCE) if each.code == finding.fault
        ]
        if named:
            exact, said = named[0].ratio, named[0].words
    if exact is None:
        return "no exact ratio is known: prove the weight with a draw, or confirm the ratio"
    since = None if finding.since is None or finding.since <= record.fitted_at else finding.since
    if since is not None and (finding.since_low is None or finding.since_high is None):
        return "since has no bounds: a dial read before and after would give them"
    shape = factor_shape(record.course.upto, exact, since)
    spread = _one_count(record.index.resolution_l / exact) if exact < 1 else _sure
    rule = f"M3, exact: {said}; counts divided by {figure(exact, places=6)}"
    return _mended(record, shape, since or record.fitted_at, rule, exact=True, spread=spread)


def _one_count(worth_l: Fraction) -> Spread:
    """Return the spread of a difference of two readings whose last digit has come to be worth more."""

    def spread(start: dt.datetime, stop: dt.datetime) -> tuple[Fraction, Fraction]:
        return worth_l, worth_l

    return spread


def _start(record: RegisterRecord) -> Mend | str:
    """M2: one volume at the date of the fitting; what was counted since is right."""
    if record.offset_l is None:
        return "the dial or the index at the fitting is not on record: read both at one moment"
    apart = figure(record.offset_l, sign=True)
    rule = f"M2, exact: the start index stood {apart} L from the dial; one volume, at the fitting"
    offset = record.offset_l
    # A bill that ends on the day of the fitting was closed with the wrong start; else the first one was opened without.
    closes = any(period.end == record.fit_day for period in record.periods)

    def registered(moment: dt.datetime) -> Fraction:
        moved = moment >= record.fitted_at if closes else moment > record.fitted_at
        return record.course.upto(moment) + (offset if moved else 0)

    # The wrong start also closes the period that ends on the day of the fitting.
    since = record.fitted_at - dt.timedelta(days=1)
    return _mended(record, record.course.upto, since, rule, exact=True, registered=registered)


def _reversed(record: RegisterRecord) -> Mend | str:
    """Turn the index round where it falls; where it rises as the dial falls, the index has the water right."""
    course = record.course
    since = record.fitted_at
    if course.volume_l[-1] < 0:

        def shape(moment: dt.datetime) -> Fraction:
            return -course.upto(moment)

        rule = "M3, exact: the index falls as water passes; what it fell by is what passed"
        return _mended(record, shape, since, rule, exact=True, pinned=False)
    rule = "exact: the meter stands against its flow, the dial falls; the index counted what passed"
    return _mended(record, course.upto, since, rule, exact=True, pinned=False)


def _digits(record: RegisterRecord, finding: Finding) -> Mend | str:
    """Follow the index by the capacity that it really has."""
    readings = list(zip(record.course.at, record.course.volume_l, strict=True))
    if not record.course.falls:
        return "the index has not come round yet: set its digits, nothing was billed wrong"
    start_l, step = record.shown_first_l, record.index.resolution_l
    turn = _turn([start_l + volume for _, volume in readings], record.course.falls, step, finding.parameter)
    if turn is None:
        return "no capacity explains where the index falls: read the endpoint's digits back"
    values: list[tuple[dt.datetime, Fraction]] = []
    running = start_l
    for place, (at, volume) in enumerate(readings):
        running = start_l if place == 0 else running + volume - readings[place - 1][1]
        values.append((at, running % turn))
    course = course_of(values, capacity_l=turn)
    rule = f"exact: the index comes round after {figure(turn / step)} counts, not after {figure(record.index.modulus)}"
    return _mended(record, course.upto, record.fitted_at, rule, exact=True)


def _turn(shown_l: list[Fraction], falls: tuple[int, ...], step_l: Fraction, told_l: float | None) -> Fraction | None:
    """Return the capacity that an index really has: a whole number of digits, or of bits. [L]

    It is above all that was shown since the first fall; what the finding measured chooses where it lies near one; else
    the one by which least passes at the falls, for little can have passed from one read to the next.
    """
    since = max(shown_l[falls[0] :])
    counts = [int(10**power) for power in range(2, 19)] + [int(2**power) for power in range(8, 49)]
    above = [turn for turn in sorted(step_l * count for count in counts) if turn > since]
    near = [turn for turn in above if told_l and abs(Fraction(told_l) / turn - 1) <= RATIO_TOLERANCE]
    if near:
        return near[0]

    def passed(turn: Fraction) -> Fraction:
        return sum(((shown_l[place] - shown_l[place - 1]) % turn for place in falls), Fraction(0))

    best = min(above, key=passed, default=None)
    return best if best is not None and passed(best) * 4 < best * len(falls) else None


def _exchanged(record: RegisterRecord, other: RegisterRecord | None, by_records: bool) -> Mend | str:
    """M5: the other port's pulses, each worth this register's weight."""
    if other is None:
        return "the port that counts this register is not known: draw here and watch both indexes"
    if not record.weight_set_l or not other.weight_set_l:
        return "a weight set is blank in fittings: enter both"
    worth = record.weight_meter_l / other.weight_set_l
    # Where the records are exchanged, the start index on record is not this port's: it counts from its first read.
    course, own = (other.heard, record.heard) if by_records else (other.course, record.course)
    base = course.upto(record.fitted_at)

    def shape(moment: dt.datetime) -> Fraction:
        return (course.upto(max(moment, record.fitted_at)) - base) * worth

    rule = f"M5, exact: counted on {other.endpoint_serial} port {other.port}"
    if worth != 1:
        rule += f", each of its counts worth {figure(worth, places=6)} here"
    return _mended(record, shape, record.fitted_at, rule, exact=True, pinned=False, registered=own.upto, other=other)


def _standstill(record: RegisterRecord, finding: Finding, day_use: DayUse | None) -> Mend | str:
    """M4 for a register that stood still: the dial where it was read, else an estimate by days."""
    since = max(finding.since or record.fitted_at, record.fitted_at)
    if day_use is None:
        if len(record.pins) < 2:
            return "nothing bounds it: no dial read since, no days before, no history. Ask for a dial read"
        return _pinned(record, finding, "the dial's difference, by days where the index stood still")
    rule = f"M4, {day_use.says}; the index stood still from {since:%d %b %Y}"
    return _by_days(record, since, day_use, rule)


def _by_days(record: RegisterRecord, since: dt.datetime, day_use: DayUse, rule: str) -> Mend:
    """Let the register run on by an estimate of its days from a moment on."""
    second, whole_day = dt.timedelta(seconds=1), dt.timedelta(days=1)

    def shape(moment: dt.datetime) -> Fraction:
        counted = record.course.at_time(min(moment, since))
        if moment <= since:
            return counted
        days = (moment - since) // whole_day
        volume = day_use.volume(since.date(), days)[0]
        last = day_use.volume(since.date() + days * whole_day, 1)[0]
        return counted + volume + last * Fraction((moment - since - days * whole_day) // second, 86_400)

    def spread(start: dt.datetime, stop: dt.datetime) -> tuple[Fraction, Fraction]:
        days = max(0, (stop - max(start, since)).days)
        _, below, above = day_use.volume(max(start, since).date(), days)
        return Fraction(Z_90 * below), Fraction(Z_90 * above)

    return _mended(record, shape, since, rule, exact=False, spread=spread, runs_on=True)


def _reset(record: RegisterRecord, finding: Finding) -> Mend | str:
    """Take the fall out of the index; what passed around it is on the dial, or estimated as nothing."""
    if not record.course.falls:
        return _pinned(record, finding, "the dial's difference")
    shape: Shape = record.course.at_time
    lost: list[str] = []
    for place in record.course.falls:
        jump = record.course.volume_l[place] - record.course.volume_l[place - 1]
        shape = without_jump(shape, record.course.at[place - 1], jump)
        lost.append(f"{figure(-jump)} L on {record.course.at[place]:%d %b %Y}")
    since = record.course.at[record.course.falls[0] - 1]
    rule = f"M2: the index fell by {', '.join(lost)}; the falls are taken out"
    return _mended(
        record, shape, since, rule, exact=False, spread=_from_error(record, finding, since, record.course.at[-1])
    )


def _share(record: RegisterRecord, finding: Finding, day_use: DayUse | None) -> Mend | str:
    """M4: the dial's difference where it bounds; beyond it the share that it showed; without it an estimate by days."""
    since = max(finding.since or record.fitted_at, record.fitted_at)
    end = record.course.at[-1]
    after = [pin for pin in record.pins if pin.at >= since]
    if len(after) > 1:
        passed = after[-1].volume_l - after[0].volume_l
        counted = record.course.at_time(after[-1].at) - record.course.at_time(after[0].at)
        days = Fraction((after[-1].at - after[0].at) // dt.timedelta(seconds=1), 86_400)
        if finding.fault in TIMED_FAULTS and days > 0 and counted >= passed:
            rate = (counted - passed) / days
            shape = _less_rate(record.course.at_time, rate, since)
            beyond = f"less {figure(rate, places=1)} L a day that the dial did not share"
        elif counted > 0 and passed > 0:
            shape = factor_shape(record.course.at_time, counted / passed, since)
            beyond = f"by its ratio between the dial reads, {figure(counted / passed, places=3)}"
        else:
            return _pinned(record, finding, "the dial's difference")
        rule = f"M4: the dial's difference where dial reads bound it; beyond them the index {beyond}"
        return _mended(record, shape, since, rule, exact=False, spread=_beyond(shape))
    if day_use is not None:
        return _by_days(record, since, day_use, f"M4, {day_use.says}; nobody has read the dial twice since")
    if finding.volume_error_l is None or finding.volume_error_low_l is None or finding.volume_error_high_l is None:
        return _pinned(record, finding, "the dial's difference")
    error = Fraction(finding.volume_error_l)
    counted = record.course.at_time(end) - record.course.at_time(since)
    if not 0 < counted > error:
        return _pinned(record, finding, "the dial's difference")
    shape = factor_shape(record.course.at_time, counted / (counted - error), since)
    said = figure(round(error), sign=True)
    rule = f"M4: {said} L by the watch's estimate, in proportion to the counts; no dial read bounds it"
    return _mended(record, shape, since, rule, exact=False, spread=_from_error(record, finding, since, end))


def _less_rate(course_at: Shape, rate_l_day: Fraction, since: dt.datetime) -> Shape:
    """Return a shape from which false counts at a steady rate are taken off, by time."""

    def shape(moment: dt.datetime) -> Fraction:
        days = Fraction(max(0, (moment - since) // dt.timedelta(seconds=1)), 86_400)
        return course_at(moment) - rate_l_day * days

    return shape


def _beyond(shape: Shape) -> Spread:
    """Return the spread of what lies beyond the dial reads: a share of what the shape says of it."""

    def spread(start: dt.datetime, stop: dt.datetime) -> tuple[Fraction, Fraction]:
        half = abs(shape(stop) - shape(start)) * BEYOND_SHARE
        return half, half

    return spread


def _from_error(record: RegisterRecord, finding: Finding, since: dt.datetime, end: dt.datetime) -> Spread:
    """Return the spread that the finding's volume error has, parted by days."""
    middle = finding.volume_error_l
    if middle is None or finding.volume_error_low_l is None or finding.volume_error_high_l is None:
        return _sure
    above, below = (Fraction(abs(each - middle)) for each in (finding.volume_error_low_l, finding.volume_error_high_l))
    whole = max(1, (end - since) // dt.timedelta(seconds=1))

    def spread(start: dt.datetime, stop: dt.datetime) -> tuple[Fraction, Fraction]:
        within = max(0, (min(stop, end) - max(start, since)) // dt.timedelta(seconds=1))
        return below * Fraction(within, whole), above * Fraction(within, whole)

    return spread


def _pinned(record: RegisterRecord, finding: Finding, words: str) -> Mend | str:
    """Only the dial tells: two reads of it are needed. Beyond them the index stands, with a spread."""
    if len(record.pins) < 2:
        return "nothing bounds it: two dial reads are needed. Ask for a dial read"
    since = max(finding.since or record.fitted_at, record.fitted_at)
    shape = record.course.at_time
    return _mended(record, shape, since, f"M4: {words}", exact=False, spread=_beyond(shape))


def _only_pinned(mend: Mend | str) -> Mend | str:
    """Let a mend speak of nothing but what dial reads bound."""
    return mend if isinstance(mend, str) else dataclasses.replace(mend, only_pinned=True)


def _interleaved(record: RegisterRecord, finding: Finding) -> Mend | str:
    """Two meters report under one serial: their index says nothing, the dial's difference falls evenly on the days."""
    mend = _only_pinned(_pinned(record, finding, "the dial's difference, by days; the index is of two meters"))
    return (
        mend
        if isinstance(mend, str)
        else dataclasses.replace(mend, true=dataclasses.replace(mend.true, shape=days_shape), spread=_sure)
    )
