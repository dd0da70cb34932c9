"""What a volume over a period costs: every line of the bill, exact to the smallest coin."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from dialtrue.domain.errors import BackwardPeriod, NegativeUse
from dialtrue.domain.figures import figure
from dialtrue.domain.quantity import convert
from dialtrue.domain.tariff.rate_table import RateTable, RateVersion
from dialtrue.domain.words import counted


@dataclass(frozen=True, slots=True)
class PriceLine:
    """One line: what for, how much of it [unit of the rate; None for a charge], at which price, and the money."""

    words: str
    volume: Fraction | None
    price: Fraction
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Price:
    """The money for a volume: lines and their sum. ``notes`` say where the rate changed within the period."""

    amount: Decimal
    currency: str
    lines: tuple[PriceLine, ...]
    notes: tuple[str, ...]


def price(volume: Fraction, unit: str, start: dt.date, end: dt.date, table: RateTable) -> Price:
    """Price a volume used from the read of ``start`` to the read of ``end``.

    Parameters
    ----------
    volume : Fraction
        [unit, >= 0]
    unit : str
        Contract unit of the volume.
    start, end : date
        Days of the reads; ``end`` after ``start``.
    table : RateTable
        The rate.

    Returns
    -------
    Price
        Each line is rounded half up to the smallest coin and the sum is that of the rounded lines, as a bill shows
        them. Where the rate changes within the period, volume, ends of blocks and charges a bill are parted by days.

    Raises
    ------
    NegativeUse
        The volume is below nought: that is a finding, not a bill.
    BackwardPeriod
        The period has no day.
    RateTableFault
        The table says nothing for a day of the period.

    Source
    ------
    Definition; parting by days is our assumption where a rate changes within a period, and is said.

    Examples
    --------
    >>> from dialtrue.domain.tariff.rate_table import Block, RateVersion
    >>> blocks = (Block(Fraction(20), Fraction("1.50")), Block(None, Fraction("2.40")))
    >>> table = RateTable(key="home", unit="m3", currency="crowns",
    ...     versions=(RateVersion(since=dt.date(2025, 1, 1), blocks=blocks),))
    >>> price(Fraction("39.2"), "m3", dt.date(2025, 1, 1), dt.date(2025, 4, 1), table).amount
    Decimal('76.08')
    """
    if end <= start:
        raise BackwardPeriod(start=start, end=end)
    if volume < 0:
        raise NegativeUse(volume=figure(volume), unit=unit, start=start, end=end)
    used = convert(volume, unit, table.unit)
    parts = table.versions_between(start, end)
    whole = (end - start).days
    lines: list[PriceLine] = []
    notes: list[str] = []
    for version, days in parts:
        share = Fraction(days, whole)
        lines += _lines(used * share, version, days, share, table)
    if len(parts) > 1:
        said = ", ".join(f"{counted(days, 'day')} from {max(start, version.since)}" for version, days in parts)
        notes.append(f"The rate changed within the period; the volume is parted by days: {said}.")
    total = sum((line.amount for line in lines), Decimal(0))
    return Price(total, table.currency, tuple(lines), tuple(notes))


def _lines(used: Fraction, version: RateVersion, days: int, share: Fraction, table: RateTable) -> list[PriceLine]:
    """Return the lines of one version."""
    lines: list[PriceLine] = []
    fixed = version.fixed_per_bill * share + version.fixed_per_day * days
    if fixed:
        lines.append(PriceLine("Fixed charge", None, fixed, money(fixed, table.coin)))
    stretch = share if version.basis == "bill" else Fraction(days, version.nominal_days)
    below = Fraction(0)
    for block in version.blocks:
        end = None if block.upto is None else block.upto * stretch
        part = max(Fraction(0), (used if end is None else min(used, end)) - below)
        if part or (not lines and block is version.blocks[-1]):
            words = _block_words(below, end, table.unit)
            lines.append(PriceLine(words, part, block.price, money(part * block.price, table.coin)))
        if end is None or used <= end:
            break
        below = end
    least = money(version.least * share, table.coin)
    so_far = sum((line.amount for line in lines), Decimal(0))
    if so_far < least:
        lines.append(PriceLine("Up to the least charge", None, version.least * share, least - so_far))
    return lines


def _block_words(below: Fraction, end: Fraction | None, unit: str) -> str:
    """Name a block."""
    if end is None:
        return f"Above {figure(below)} {unit}" if below else "All use"
    return f"From {figure(below)} to {figure(end)} {unit}" if below else f"First {figure(end)} {unit}"


def money(amount: Fraction, coin: Fraction) -> Decimal:
    """Round money half up (away from nought) to the smallest coin, exactly.

    Never raises.

    Source
    ------
    Common practice, no source; the coin is the rate table's.

    Examples
    --------
    >>> money(Fraction("2.345"), Fraction(1, 100)), money(Fraction("-2.345"), Fraction(1, 100))
    (Decimal('2.35'), Decimal('-2.35'))
    """
    coins = abs(amount) / coin
    whole = (coins + Fraction(1, 2)).__floor__()
    exact = whole * coin * (-1 if amount < 0 else 1)
    places = 0
    while (coin * 10**places).denominator != 1 and places < 9:
        places += 1
    return Decimal(int(exact * 10**places)).scaleb(-places)
