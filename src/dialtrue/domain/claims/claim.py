"""Apply a local rule to the differences of one register: which days count, which volume, which money, and why."""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from dialtrue.domain.claims.claim_rule import DEFER, ClaimRule, Direction
from dialtrue.domain.errors import BackwardPeriod
from dialtrue.domain.figures import figure
from dialtrue.domain.tariff.price import money
from dialtrue.domain.words import counted


@dataclass(frozen=True, slots=True)
class Difference:
    """What one billing period lacked (above nought) or had too much (below): volume [L] and, where known, money."""

    start: dt.date
    end: dt.date
    corrected_l: Fraction
    difference_l: Fraction
    difference_amount: Fraction | None = None


@dataclass(frozen=True, slots=True)
class ClaimedPeriod:
    """What counts of one period: days within the rule's reach, volume [L], money and interest, None where not known.

    ``counted`` is the share of the period's difference that counts. [0 .. 1]
    """

    days: int
    volume_l: Fraction
    amount: Decimal | None
    interest: Decimal | None
    counted: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class Claim:
    """What is claimed (under) or refunded (over): by period and in all, and the sentence that says why."""

    direction: Direction | None
    periods: tuple[ClaimedPeriod, ...]
    volume_l: Fraction
    amount: Decimal | None
    interest: Decimal | None
    sentence: str


def claim(
    differences: Sequence[Difference],
    *,
    under: ClaimRule,
    over: ClaimRule,
    found: dt.date,
    since_known: bool,
    last_right: dt.date | None = None,
    coin: Fraction = Fraction(1, 100),
) -> Claim:
    """Apply the rule of the direction that the whole difference has.

    Parameters
    ----------
    differences : sequence of Difference
        Of one register, periods ascending, each once.
    under, over : ClaimRule
        The rules for the two directions.
    found : date
        Day of the finding: the limit is counted back from it.
    since_known : bool
        Whether it is known since when the count was wrong.
    last_right : date or None
        Day on which the register was last known right (fitting, proof, test, good pair).
    coin : Fraction
        Smallest coin. [money]

    Returns
    -------
    Claim
        A period that the limit cuts counts by its days. Volumes are exact; money is rounded to the coin by period.

    Raises
    ------
    BackwardPeriod
        A period has no day.

    Source
    ------
    ``ClaimRule``. Cutting a period by days is our assumption.
    """
    for each in differences:
        if each.end <= each.start:
            raise BackwardPeriod(start=each.start, end=each.end)
    whole = sum((each.difference_l for each in differences), Fraction(0))
    moved = [each for each in differences if each.difference_l]
    if not moved:
        return _nothing(differences, None, "Nothing to put right: the volumes agree.")
    direction: Direction = "under" if whole > 0 else "over"
    rule = under if direction == "under" else over
    corrected = sum((each.corrected_l for each in differences), Fraction(0))
    if rule.waived:
        return _nothing(differences, direction, f"The rule {rule.key} waives what was billed too little. {DEFER}")
    if corrected and abs(whole) <= rule.tolerance * corrected:
        share = figure(abs(whole) / corrected * 100, places=1)
        said = f"{share} % is within the tolerance of {figure(rule.tolerance * 100)} % ({rule.key}). {DEFER}"
        return _nothing(differences, direction, said)
    begin, reason = _reach(rule, moved, found, since_known, last_right)
    periods = [_period(each, begin, rule, found, coin) for each in differences]
    volume = sum((each.volume_l for each in periods), Fraction(0))
    if volume * whole < 0:
        said = (
            f"{reason[0].upper()}{reason[1:]}: what counts of that goes the other way than the whole, so the rule "
            f"{rule.key} gives nothing. Decide it by hand. {DEFER}"
        )
        return _nothing(differences, direction, said)
    if rule.most_volume_l is not None and abs(volume) > rule.most_volume_l:
        cut = rule.most_volume_l / abs(volume)
        periods = [_scaled(each, cut, coin) for each in periods]
        volume *= cut
        reason += f", at most {figure(rule.most_volume_l)} L"
    amounts = [each.amount for each in periods]
    amount = None if None in amounts else sum((each for each in amounts if each is not None), Decimal(0))
    interest = None if amount is None else sum((each.interest or Decimal(0) for each in periods), Decimal(0))
    if amount is not None and abs(Fraction(amount)) < rule.least_amount:
        said = f"{abs(amount)} is under the least amount of {figure(rule.least_amount)} ({rule.key}). {DEFER}"
        return _nothing(differences, direction, said)
    sentence = f"By the rule “{rule.key}”, this counts: {reason}. {DEFER}"
    return Claim(direction, tuple(periods), volume, amount, interest, sentence)


def months_before(day: dt.date, months: int) -> dt.date:
    """Return the day so many months earlier; the last day of a shorter month stands for a day it lacks. Never raises.

    Examples
    --------
    >>> months_before(dt.date(2026, 3, 31), 1)
    datetime.date(2026, 2, 28)
    """
    place = day.year * 12 + day.month - 1 - months
    year, month = divmod(place, 12)
    return dt.date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def _reach(
    rule: ClaimRule, moved: Sequence[Difference], found: dt.date, since_known: bool, last_right: dt.date | None
) -> tuple[dt.date, str]:
    """Return from which day on differences count, and why."""
    begin, reason = min(each.start for each in moved), "the whole time"
    if rule.half_when_unknown and not since_known and last_right is not None and last_right < found:
        half = last_right + (found - last_right) // 2
        if half > begin:
            begin, reason = half, f"nobody knows since when, so the last half of the time since {last_right}"
    if rule.months_back is not None:
        limit = months_before(found, rule.months_back)
        if limit > begin:
            begin, reason = limit, f"at most {counted(rule.months_back, 'month')} back from {found}"
    if rule.share != 1:
        reason += f", and {figure(rule.share * 100)} % of that"
    return begin, reason


def _period(each: Difference, begin: dt.date, rule: ClaimRule, found: dt.date, coin: Fraction) -> ClaimedPeriod:
    """Return what counts of one period."""
    whole = (each.end - each.start).days
    days = max(0, (each.end - max(each.start, begin)).days)
    share = Fraction(days, whole) * rule.share
    if each.difference_amount is None:
        return ClaimedPeriod(days, each.difference_l * share, None, None, share)
    amount = each.difference_amount * share
    years = Fraction(max(0, (found - each.end).days), 365)
    interest = money(amount * rule.interest_per_year * years, coin)
    return ClaimedPeriod(days, each.difference_l * share, money(amount, coin), interest, share)


def _scaled(each: ClaimedPeriod, cut: Fraction, coin: Fraction) -> ClaimedPeriod:
    """Return a period cut down to a share."""
    amount = None if each.amount is None else money(Fraction(each.amount) * cut, coin)
    interest = None if each.interest is None else money(Fraction(each.interest) * cut, coin)
    return ClaimedPeriod(each.days, each.volume_l * cut, amount, interest, each.counted * cut)


def _nothing(differences: Sequence[Difference], direction: Direction | None, sentence: str) -> Claim:
    """Return a claim of nothing, with its reason."""
    priced = bool(differences) and all(each.difference_amount is not None for each in differences)
    nought = Decimal(0) if priced else None
    empty = ClaimedPeriod(0, Fraction(0), nought, nought)
    return Claim(direction, (empty,) * len(differences), Fraction(0), nought, nought, sentence)
