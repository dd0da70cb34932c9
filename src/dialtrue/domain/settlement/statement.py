"""A statement for one account: what was wrong, what each period should have been, how that was found. Plain words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from dialtrue.domain.claims.claim import Claim
from dialtrue.domain.claims.claim_rule import DEFER
from dialtrue.domain.faults import CATALOGUE
from dialtrue.domain.figures import figure
from dialtrue.domain.quantity import litres_per
from dialtrue.domain.settlement.adjustment import Adjustment
from dialtrue.domain.settlement.periods import Period, month_name


@dataclass(frozen=True, slots=True)
class DialSeen:
    """A look at the dial: when, and its digits as seen."""

    at: dt.date
    dial: str


@dataclass(frozen=True, slots=True)
class StatedPeriod:
    """One line: period, volumes in the statement's unit, money where known, and bar ends for the picture."""

    name: str
    billed: Fraction
    corrected: Fraction
    low: Fraction
    high: Fraction
    amount_billed: Decimal | None
    amount_corrected: Decimal | None


@dataclass(frozen=True, slots=True)
class Statement:
    """One register's part of an account's letter; texts are sentences that a customer can follow."""

    account: str
    meter: str
    unit: str
    currency: str
    headline: str
    what: str
    how: str
    sure: str
    claim: str
    notice: str
    periods: tuple[StatedPeriod, ...]
    looks: tuple[DialSeen, ...]
    made: dt.date


_PLAIN: dict[str, str] = {
    "wiring": "The radio unit did not count every turn of your meter's register as it should.",
    "setting": "The radio unit was set up with a wrong figure, so its count did not match your meter's register.",
    "record": "The record tied your meter to another meter's count.",
    "data": "The counts arrived with wrong times, so that use fell into the wrong period.",
    "metering": "The meter sat against the flow, or water that ran back was counted.",
}
"""What happened, by whose work puts it right. Nothing is said of the customer's life."""

_MORE = "The radio unit counted more than your meter's register turned."

_PLAIN_OF: dict[str, str] = {
    "meter_exchanged": "Your meter was replaced and the record did not say so.",
    "port_unread": "One of the two registers of your meter was not read.",
    "duplicate_serial": "One radio unit was recorded for two meters.",
    "double_count": "The radio unit counted each turn of your meter's register twice.",
    "extra_counts": _MORE,
    "wet_counts": _MORE,
    "steady_counts": _MORE,
    "index_reset": "The radio unit lost its count and began again from an older one.",
    "start_slip": "The radio unit was started from a wrong figure; what it counted since is right.",
}
"""What happened, where the kind of fault says too little."""

_BY: dict[str, str] = {
    "like days": "It rests on your own use on the same days of the week, in the weeks before.",
    "own history": "It rests on what you were billed for earlier periods.",
    "fleet profile": "It rests on what other meters of the same size passed in the same days.",
}
"""What an estimate rests on, by what its rule names."""

_EXCHANGED = "The water of your meter was counted by another radio unit; its counts are used here."

_METHOD: dict[str, str] = {
    "exact": "The fault multiplies or moves every count by a known figure, so the right volume is worked out exactly.",
    "differenced": "The register on your meter was read before and after; the difference is what passed. "
    "How it falls on the periods follows the counts, or the days where nothing was counted.",
    "estimated": "No reading of the register bounds this time, so the volume is estimated and a range is given.",
}


def statement_of(
    rows: Sequence[Adjustment], *, looks: Sequence[DialSeen], claim: Claim | None, made: dt.date
) -> Statement:
    """Put a register's adjustments into words.

    Parameters
    ----------
    rows : sequence of Adjustment
        Of one register, periods ascending; one or more.
    looks : sequence of DialSeen
        Readings of the dial that a person can check.
    claim : Claim or None
        What the local rule makes of it.
    made : date
        Day of the statement.

    Returns
    -------
    Statement

    Raises
    ------
    Never raises.

    Source
    ------
    Trade notes, part E1: two dial readings, arithmetic, old and new bill, rule applied, one page, plain words.
    """
    first = rows[0]
    billed, corrected = (sum((getattr(row, name) for row in rows), Fraction(0)) for name in ("billed", "corrected"))
    apart = corrected - billed
    name = first.meter_serial if first.register_role == "single" else f"{first.meter_serial} ({first.register_role})"
    code = first.finding.split(" ", 1)[0]
    kind = CATALOGUE[code].kind if code in CATALOGUE else "wiring"
    methods = list(dict.fromkeys(row.method for row in rows))
    confirmed = first.basis == "confirmed"
    looked = "This was found on site." if confirmed else "This follows from the counts; nobody has looked yet."
    ranges = any(row.low != row.high for row in rows)
    sure = (
        "The lines in the picture show the range in which nine in ten such volumes lie."
        if ranges
        else "Each volume is exact to the reading's last digit."
    )
    return Statement(
        account=first.account,
        meter=name,
        unit=first.unit,
        currency=first.currency,
        headline=_headline(apart, first.unit),
        what=f"{_PLAIN_OF.get(code) or _PLAIN.get(kind, _PLAIN['wiring'])} {looked}",
        how=_how(code, methods, first.rule),
        sure=sure,
        claim="" if claim is None else _claim_words(claim, first),
        notice=DEFER,
        periods=tuple(
            StatedPeriod(
                month_name(Period(row.period_start, row.period_end)), row.billed, row.corrected, row.low, row.high,
                row.amount_billed, row.amount_corrected,
            )
            for row in rows
        ),
        looks=tuple(looks),
        made=made,
    )  # fmt: skip


def _how(code: str, methods: Sequence[str], rule: str) -> str:
    """Say how the volumes were found; the rule in the clerk's words stays in the table of adjustments."""
    if code in ("crossed", "ports_swapped"):
        return _EXCHANGED
    said = [_METHOD[method] for method in methods]
    if "estimated" in methods:
        said += [words for name, words in _BY.items() if name in rule]
    return " ".join(said)


def account_headline(statements: Sequence[Statement]) -> str:
    """Return one sentence for an account: of its registers together where they share a unit, else of each."""
    if len({each.unit for each in statements}) != 1 or len(statements) == 1:
        return " ".join(dict.fromkeys(each.headline for each in statements))
    apart = sum((period.corrected - period.billed for each in statements for period in each.periods), Fraction(0))
    return _headline(apart, statements[0].unit)


def _headline(apart: Fraction, unit: str) -> str:
    """Say what a difference comes to."""
    if not apart:
        return "The whole volume was right; it fell into the wrong periods or on the wrong register."
    more = f"{figure(abs(apart), places=1)} {unit}"
    return f"{more} were not billed." if apart > 0 else f"{more} were billed that did not pass."


def _claim_words(claim: Claim, row: Adjustment) -> str:
    """Say what is asked for or paid back."""
    reason = claim.sentence.replace(f" {DEFER}", "")
    volume = sum((Fraction(part.volume_l) for part in claim.periods), Fraction(0))
    if not volume:
        return f"Nothing is asked for and nothing is owed. {reason}"
    direction = claim.direction
    if claim.amount is None:
        counts = f"{figure(abs(volume) / litres_per(row.unit), places=1)} {row.unit}"
        return f"{counts} {'are taken off your bills' if direction == 'over' else 'may be billed'}. {reason}"
    money = f"{abs(claim.amount):,} {row.currency}".rstrip()
    interest = f", and {abs(claim.interest):,} interest" if claim.interest else ""
    # Money may go the other way than the volume: what moves from a dear period to a cheap one is owed.
    if claim.amount < 0 or (not claim.amount and direction == "over"):
        return f"You are owed {money}{interest}. {reason}"
    return f"The utility may ask for {money}{interest}. {reason}"


def money_texts(amounts: Sequence[Decimal], *, sign: bool = False) -> list[str]:
    """Return amounts of one column with the same decimals, those of the finest among them. Never raises."""
    places = max((max(0, -int(amount.as_tuple().exponent)) for amount in amounts), default=0)
    return [f"{amount:{'+' if sign and amount else ''},.{places}f}".replace("-", "−") for amount in amounts]
