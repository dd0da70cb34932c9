"""Put the periods of one register right: billed, corrected, interval, money."""

from __future__ import annotations

import dataclasses
import datetime as dt
import zoneinfo
from bisect import bisect_right
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Final

from dialtrue.domain.errors import DialtrueError
from dialtrue.domain.figures import figure
from dialtrue.domain.quantity import litres_per
from dialtrue.domain.settlement.adjustment import Adjustment, Basis, LeftOut
from dialtrue.domain.settlement.periods import Period, calendar_periods, checked_periods, rounded_parts
from dialtrue.domain.settlement.settings import SettleSettings
from dialtrue.domain.tariff.price import price
from dialtrue.services.settle_mend import Mend
from dialtrue.services.settle_records import RegisterRecord

DAYS_SHORT: Final = 2
"""Days by which the last read may lie before the end of a billed period. Our assumption: a read that was due came a
little early; more would leave use out of the corrected volume."""


def put_right(
    record: RegisterRecord,
    mend: Mend,
    *,
    finding: str,
    basis: Basis,
    settings: SettleSettings,
    zone: str,
) -> tuple[list[Adjustment], list[LeftOut]]:
    """Return the adjustments of one register, without claims, and the periods that could not be put right.

    Parameters
    ----------
    record, mend : RegisterRecord, Mend
        What is on record, and how it is mended.
    finding : str
        Fault code and port, for the rows.
    basis : str
        Whether somebody confirmed it.
    settings : SettleSettings
    zone : str
        IANA zone of the programme.

    Returns
    -------
    tuple
        Periods that end before the count went wrong are not touched and have no row. Volumes are rounded on their
        running sum, so that the rows add up to the rounded whole.

    Raises
    ------
    Never raises.

    Source
    ------
    Models, section 5: by period, not in one lump.
    """
    left: list[LeftOut] = []

    def leave(why: str, period: Period | None = None) -> None:
        words = "" if period is None else f"{period.start} to {period.end}"
        left.append(LeftOut(record.meter_serial, record.register_role, finding, why, words))

    try:
        periods = checked_periods(record.periods)
    except DialtrueError as fault:
        leave(fault.rendered())
        return [], left
    where = zoneinfo.ZoneInfo(zone)
    if not periods:
        first, last = (at.astimezone(where).date() for at in (record.course.at[0], record.course.at[-1]))
        periods = list(calendar_periods(first, last, every=settings.calendar))
    touched = []
    off = None if record.removed_at is None else record.removed_at.astimezone(where).date()
    known = None if mend.until is None else mend.until.astimezone(where).date()
    for period in periods:
        if period.edges(zone)[1] <= mend.since or (off is not None and period.start >= off):
            continue  # before the fault, or counted by whatever was fitted afterwards
        across = [day for day in record.exchanged if period.start < day < period.end]
        if across:
            leave(
                f"it straddles the exchange of {across[0]}: bill the two meters apart, each to its closing dial", period
            )
        elif period.start >= record.course.at[-1].astimezone(where).date():
            if period.billed_l is not None:
                leave("the reads end before it", period)
        elif off is not None and period.end > off:
            leave(f"the endpoint was taken off within it, on {off}: bill it by dial reads of its two days", period)
        elif period.billed_l is not None and known is not None and (period.end - known).days > DAYS_SHORT:
            leave(f"the reads end within it, on {known}: bring the reads up to its last day", period)
        else:
            touched.append(period)
    rows = _rows(record, mend, touched, settings, zone)
    kept: list[tuple[Adjustment, Period]] = []
    for row, period in zip(rows, touched, strict=True):
        why = _absurd(row, record)
        if mend.only_pinned and row.method != "differenced":
            why = _unbounded(mend)
        if why:
            leave(why, period)
        else:
            kept.append((dataclasses.replace(row, finding=finding, basis=basis), period))
    priced, said = _priced([row for row, _ in kept], [period for _, period in kept], settings)
    for place, words in said:
        leave(words, kept[place][1])
    return priced, left


def _moment(record: RegisterRecord, day: dt.date, zone: str, *, dial_first: bool) -> dt.datetime:
    """Return the moment of the read that stands for a day: the first of that day, else the day's start.

    ``dial_first``: where the index is not to be trusted, a look at the dial goes before a read of that day, so that
    bills that end on dial reads add up to the dial's difference.
    """
    where = zoneinfo.ZoneInfo(zone)
    start, end = (
        dt.datetime.combine(each, dt.time(), tzinfo=where).astimezone(dt.UTC)
        for each in (day, day + dt.timedelta(days=1))
    )
    found = []
    for at in (record.course.at, tuple(pin.at for pin in record.pins)):
        place = bisect_right(at, start - dt.timedelta(microseconds=1))
        if place < len(at) and at[place] < end:
            found.append(at[place])
            if dial_first and at is not record.course.at:
                return at[place]
    return min(found, default=start)


def _rows(
    record: RegisterRecord, mend: Mend, periods: Sequence[Period], settings: SettleSettings, zone: str
) -> list[Adjustment]:
    """Return the rows without finding, money and claim."""
    unit = settings.billing_unit or (periods[0].unit if periods and periods[0].unit else record.dial.unit)
    per = litres_per(unit)
    step = None if settings.billing_step is None else settings.billing_step * per
    rows = []
    for run in _runs(periods):
        days = [run[0].start, *(period.end for period in run)]
        moments = [_moment(record, day, zone, dial_first=not mend.true.exact_shape) for day in days]
        if run[0].billed_l is None:  # what an endpoint before this one counted is in no figure here
            moments = [max(moment, record.fitted_at) for moment in moments]
        registered = [mend.registered(moment) for moment in moments]
        true = [mend.true.at(moment) for moment in moments]
        billed = [
            period.billed_l if period.billed_l is not None else after - before
            for period, before, after in zip(run, registered, registered[1:], strict=False)
        ]
        # A period that begins before anything is known of this register keeps what was billed of that part.
        known = min([record.fitted_at, *(pin.at for pin in mend.true.pins)])
        volumes = rounded_parts(true, step)
        for place, period in enumerate(run):
            start, end = moments[place], moments[place + 1]
            volume = volumes[place]
            if start < known and run[place].start < known.date():
                volume = billed[place] + volume - (registered[place + 1] - registered[place])
            method = mend.true.method(max(start, known), end)
            below, above = _half_widths(mend, record, start, end)
            rows.append(
                Adjustment(
                    meter_serial=record.meter_serial, register_role=record.register_role, account=record.account,
                    period_start=period.start, period_end=period.end, billed=billed[place] / per,
                    corrected=volume / per, unit=unit, method=method, low=max(Fraction(0), volume - below) / per,
                    high=(volume + above) / per, rule=mend.rule, finding="", basis="assumed",
                )
            )  # fmt: skip
    return rows


def _runs(periods: Sequence[Period]) -> list[list[Period]]:
    """Part the periods where one does not begin at the end of the one before."""
    runs: list[list[Period]] = []
    for period in periods:
        if runs and runs[-1][-1].end == period.start:
            runs[-1].append(period)
        else:
            runs.append([period])
    return runs


def _half_widths(mend: Mend, record: RegisterRecord, start: dt.datetime, end: dt.datetime) -> tuple[Fraction, Fraction]:
    """Return the half-widths of the 90 % interval of one period's volume. [L]

    What lies between pins is sure as a sum; how it falls on the periods is taken to lie between the shape's way and an
    even use by days. What lies beyond them has the mend's own spread.
    """
    below, above = mend.spread(start, end)
    if mend.true.exact_shape:
        return below, above
    pinned = mend.true.pinned_share(start, end)
    below, above = below * (1 - pinned), above * (1 - pinned)
    if pinned:
        by_days = dataclasses.replace(mend.true, shape=mend.true.days_shape)
        low, high = max(start, mend.true.pins[0].at), min(end, mend.true.pins[-1].at)
        by_shape = mend.true.at(high) - mend.true.at(low)
        apart = abs(by_shape - (by_days.at(high) - by_days.at(low)))
        step = record.dial.resolution_l
        return below + apart + step, above + apart + step
    return below, above


def _unbounded(mend: Mend) -> str:
    """Return why a period that only the dial could tell has no figure."""
    first, last = mend.true.pins[0].at, mend.true.pins[-1].at
    return f"only the dial tells, and it was read from {first:%Y-%m-%d} to {last:%Y-%m-%d}: ask for a dial read"


def _absurd(row: Adjustment, record: RegisterRecord) -> str:
    """Return why a corrected volume cannot be, or blank: it is left out, never billed."""
    if row.corrected < 0:
        return f"it comes out below nought ({figure(row.corrected, places=1)} {row.unit}): ask for a dial read"
    minutes = (row.period_end - row.period_start).days * 1440
    most = None if record.most_lpm is None else record.most_lpm * minutes / litres_per(row.unit)
    if most is not None and row.corrected > most:
        return f"it comes out above what the meter can pass ({figure(most, places=0)} {row.unit}): ask for a dial read"
    return ""


def _priced(
    rows: list[Adjustment], periods: Sequence[Period], settings: SettleSettings
) -> tuple[list[Adjustment], list[tuple[int, str]]]:
    """Add the money where a rate is known, and say for which period it could not be worked out."""
    said: list[tuple[int, str]] = []
    priced = []
    for place, (row, period) in enumerate(zip(rows, periods, strict=True)):
        key = period.rate or settings.rate
        table = settings.rates.get(key)
        if table is None:
            if key:
                said.append((place, f"the rate table {key!r} is not in rates.toml, so no money is stated"))
            priced.append(row)
            continue
        if row.billed < 0 and period.billed_l is None:
            words = "the index fell within it and no bill is on record, so what was paid is not known: add it to bills"
            said.append((place, words))
            priced.append(row)
            continue
        try:
            corrected = price(row.corrected, row.unit, row.period_start, row.period_end, table).amount
            if period.amount is not None:
                billed = _as_decimal(period.amount)
            else:
                billed = price(row.billed, row.unit, row.period_start, row.period_end, table).amount
        except DialtrueError as why:
            said.append((place, why.rendered()))
            priced.append(row)
            continue
        priced.append(
            dataclasses.replace(row, amount_billed=billed, amount_corrected=corrected, currency=table.currency)
        )
    return priced, said


def _as_decimal(amount: Fraction) -> Decimal:
    """Return money from a bill as it was written."""
    return Decimal(amount.numerator) / Decimal(amount.denominator)
