"""From a finding to the course that the register should have shown: which mend, and how sure."""

from __future__ import annotations

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
ASKED_FAULTS: Final = ("duplicate_serial", "register_mismatch", "not_listed", "port_unread", "meter_reversed")
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


def _sure(start: dt.datetime, end: dt.datetime) -> tuple[Fraction, Fraction]:
    """Return no spread: the mend is exact."""
    return Fraction(0), Fraction(0)


def mend_of(
    record: RegisterRecord,
    finding: Finding,
    *,
    other: RegisterRecord | None = None,
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
    day_use : DayUse, optional
        For a register that stood still: its use a day from like days, history or the fleet.

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
    if code == "start_slip":
        return _start(record)
    if code == "digit_slip":
        return _digits(record)
    if code in ("crossed", "ports_swapped"):
        return _exchanged(record, other)
    if code == "dead_input":
        return _standstill(record, finding, day_use)
    if code == "index_reset":
        return _reset(record, finding)
    if code in DELIVERY_FAULTS:
        return _pinned(record, finding, "delivery only: the dial's difference, by the days between true reads")
    if code in SHARE_FAULTS:
        return _share(record, finding)
    return _pinned(record, finding, "the dial's difference")


def _mended(
    record: RegisterRecord, shape: Shape, since: dt.datetime, rule: str, *, exact: bool, spread: Spread = _sure,
    pinned: bool = True, registered: Shape | None = None,
) -> Mend:  # fmt: skip
    """Put a mend together."""
    true = TrueCourse(record.pins if pinned else (), shape, exact, days_shape)
    return Mend(true, registered or record.course.upto, since, rule, spread)


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
    rule = f"M3, exact: {said}; counts divided by {figure(exact, places=6)}"
    return _mended(record, shape, since or record.fitted_at, rule, exact=True)


def _start(record: RegisterRecord) -> Mend | str:
    """M2: one volume at the date of the fitting; what was counted since is right."""
    if record.offset_l is None:
        return "the dial or the index at the fitting is not on record: read both at one moment"
    apart = figure(record.offset_l, sign=True)
    rule = f"M2, exact: the start index stood {apart} L from the dial; one volume, at the fitting"
    offset = record.offset_l

    def registered(moment: dt.datetime) -> Fraction:
        return record.course.upto(moment) + (offset if moment >= record.fitted_at else 0)

    # The wrong start also closes the period that ends on the day of the fitting.
    since = record.fitted_at - dt.timedelta(days=1)
    return _mended(record, record.course.upto, since, rule, exact=True, registered=registered)


def _digits(record: RegisterRecord) -> Mend | str:
    """Follow the index by the capacity that it really has."""
    readings = [(at, volume) for at, volume in zip(record.course.at, record.course.volume_l, strict=True)]
    if not record.course.falls:
        return "the index has not come round yet: set its digits, nothing was billed wrong"
    first = readings[0][1]
    shown = max(volume - first for _, volume in readings[: record.course.falls[0]])
    step = record.index.resolution_l
    start_l = record.shown_first_l
    turn = step
    while turn <= shown + start_l:
        turn *= 10
    values: list[tuple[dt.datetime, Fraction]] = []
    running = start_l
    for place, (at, volume) in enumerate(readings):
        running = start_l if place == 0 else running + volume - readings[place - 1][1]
        values.append((at, running % turn))
    course = course_of(values, capacity_l=turn)
    digits = len(str((turn / step).__floor__())) - 1
    rule = f"exact: the index has {digits} digits and comes round at {figure(turn)} L"
    return _mended(record, course.upto, record.fitted_at, rule, exact=True)


def _exchanged(record: RegisterRecord, other: RegisterRecord | None) -> Mend | str:
    """M5: the other port's pulses, each worth this register's weight."""
    if other is None:
        return "the port that counts this register is not known: draw here and watch both indexes"
    if not record.weight_set_l or not other.weight_set_l:
        return "a weight set is blank in fittings: enter both"
    worth = record.weight_meter_l / other.weight_set_l
    base = other.course.upto(record.fitted_at)

    def shape(moment: dt.datetime) -> Fraction:
        return (other.course.upto(max(moment, record.fitted_at)) - base) * worth

    rule = f"M5, exact: counted on {other.endpoint_serial} port {other.port}"
    if worth != 1:
        rule += f", each of its counts worth {figure(worth, places=6)} here"
    return _mended(record, shape, record.fitted_at, rule, exact=True, pinned=False)


def _standstill(record: RegisterRecord, finding: Finding, day_use: DayUse | None) -> Mend | str:
    """M4 for a register that stood still: the dial where it was read, else an estimate by days."""
    since = max(finding.since or record.fitted_at, record.fitted_at)
    end = record.course.at[-1]
    if day_use is None:
        if len(record.pins) < 2:
            return "nothing bounds it: no dial read since, no days before, no history. Ask for a dial read"
        return _pinned(record, finding, "the dial's difference, by days where the index stood still")

    def shape(moment: dt.datetime) -> Fraction:
        counted = record.course.at_time(min(moment, since))
        if moment <= since:
            return counted
        whole = (moment - since) / dt.timedelta(days=1)
        volume, _ = day_use.volume(since.date(), int(whole))
        after, _ = day_use.volume((since + dt.timedelta(days=int(whole))).date(), 1)
        volume += after * Fraction((moment - since - dt.timedelta(days=int(whole))) // dt.timedelta(seconds=1), 86_400)
        return counted + max(volume, record.course.at_time(moment) - record.course.at_time(since))

    def spread(start: dt.datetime, stop: dt.datetime) -> tuple[Fraction, Fraction]:
        days = max(0, (stop - max(start, since)).days)
        half = Fraction(Z_90 * day_use.volume(max(start, since).date(), days)[1])
        return half, half

    rule = f"M4, {day_use.says}; the index stood still from {since:%d %b %Y}"
    if record.pins and record.pins[-1].at >= end:
        rule += "; the dial's difference bounds the sum"
    return _mended(record, shape, since, rule, exact=False, spread=spread)


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


def _share(record: RegisterRecord, finding: Finding) -> Mend | str:
    """M4: the dial's difference where it bounds; else the finding's volume error, in proportion to the counts."""
    since = max(finding.since or record.fitted_at, record.fitted_at)
    end = record.course.at[-1]
    if None in (finding.volume_error_l, finding.volume_error_low_l, finding.volume_error_high_l):
        return _pinned(record, finding, "the dial's difference")
    error = Fraction(finding.volume_error_l or 0.0)
    counted = record.course.at_time(end) - record.course.at_time(since)
    if counted > 0 and counted > error:
        shape = factor_shape(record.course.at_time, counted / (counted - error), since)
        how = "in proportion to what was counted"
    else:
        return _pinned(record, finding, "the dial's difference")
    rule = f"M4: the dial's difference where dial reads bound it, beyond them {figure(round(error), sign=True)} L {how}"
    return _mended(record, shape, since, rule, exact=False, spread=_from_error(record, finding, since, end))


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
    """Only the dial tells: two reads of it are needed."""
    if len(record.pins) < 2:
        return "nothing bounds it: two dial reads are needed. Ask for a dial read"
    since = max(finding.since or record.fitted_at, record.fitted_at)
    return _mended(record, record.course.at_time, since, f"M4: {words}", exact=False)
