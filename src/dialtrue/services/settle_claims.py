"""What may be claimed of the adjustments: the registers of one meter are claimed together, as one account pays them."""

from __future__ import annotations

import dataclasses
import datetime as dt
import itertools
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from dialtrue.domain.claims.claim import Claim, Difference, claim
from dialtrue.domain.quantity import litres_per
from dialtrue.domain.settlement.adjustment import Adjustment
from dialtrue.domain.settlement.settings import SettleSettings
from dialtrue.domain.tariff.price import money

Key = tuple[str, str, str]
"""Account, meter and register."""


def claimed(
    rows: Sequence[Adjustment],
    settings: SettleSettings,
    *,
    found: dt.date,
    since_known: Mapping[str, bool],
    last_right: Mapping[str, dt.date],
) -> tuple[list[Adjustment], dict[Key, Claim]]:
    """Write what is claimed into every row.

    Parameters
    ----------
    rows : sequence of Adjustment
        Of all registers.
    settings : SettleSettings
        The rules.
    found : date
        Day of the findings.
    since_known, last_right : mapping of meter serial
        Whether the onset is known, and the day on which the meter was last known right.

    Returns
    -------
    tuple
        Rows in the order given, and the claim that each register has part in. The high and the low register of a
        compound meter pay on one bill: what one had too much and the other too little is set off first, unless they
        were billed over different days.

    Raises
    ------
    Never raises.

    Source
    ------
    Models, section 5: rules differ by direction, so the direction is that of the whole bill.
    """
    coin = _coin(settings)
    groups: dict[tuple[str, str], list[int]] = {}
    for place, row in enumerate(rows):
        groups.setdefault((row.account, row.meter_serial), []).append(place)
    made = list(rows)
    claims: dict[Key, Claim] = {}
    for key, places in groups.items():
        spans = sorted({(rows[place].period_start, rows[place].period_end) for place in places})
        if any(after[0] < before[1] for before, after in itertools.pairwise(spans)):
            roles = dict.fromkeys(rows[place].register_role for place in places)
            parts = [[place for place in places if rows[place].register_role == role] for role in roles]
        else:
            parts = [places]
        for part in parts:
            found_claim = _claim([rows[place] for place in part], settings, found, key[1], since_known, last_right)
            for place, row in zip(part, _shared([rows[place] for place in part], found_claim, coin), strict=True):
                made[place] = row
                claims[(*key, row.register_role)] = found_claim
    return made, claims


def _merged(rows: Iterable[Adjustment]) -> list[Difference]:
    """Add the registers of a meter up, period by period."""
    spans: dict[tuple[dt.date, dt.date], list[Adjustment]] = {}
    for row in rows:
        spans.setdefault((row.period_start, row.period_end), []).append(row)
    found = []
    for (start, end), held in sorted(spans.items()):
        amounts = [row.amount_difference for row in held]
        amount = None if None in amounts else sum((Fraction(each) for each in amounts if each is not None), Fraction(0))
        corrected, difference = (
            sum((getattr(row, name) * litres_per(row.unit) for row in held), Fraction(0))
            for name in ("corrected", "difference")
        )
        found.append(Difference(start, end, corrected, difference, amount))
    return found


def _claim(
    rows: Sequence[Adjustment],
    settings: SettleSettings,
    found: dt.date,
    meter: str,
    since_known: Mapping[str, bool],
    last_right: Mapping[str, dt.date],
) -> Claim:
    """Apply the local rule to a meter."""
    return claim(
        _merged(rows), under=settings.under, over=settings.over, found=found, since_known=since_known.get(meter, False),
        last_right=last_right.get(meter), coin=_coin(settings),
    )  # fmt: skip


def _coin(settings: SettleSettings) -> Fraction:
    """Return the smallest coin of the rate in the settings, a hundredth where there is none."""
    table = settings.rates.get(settings.rate)
    return Fraction(1, 100) if table is None else table.coin


def _shared(rows: Sequence[Adjustment], made: Claim, coin: Fraction) -> list[Adjustment]:
    """Share a claim out to the rows: each gets the part of its own difference that the rule lets count."""
    merged = _merged(rows)
    share = {
        (difference.start, difference.end): part.counted for difference, part in zip(merged, made.periods, strict=True)
    }
    shared = []
    for row in rows:
        counted = share[row.period_start, row.period_end]
        amount: Decimal | None = None
        if row.amount_difference is not None and made.amount is not None:
            amount = money(Fraction(row.amount_difference) * counted, coin)
        claimed_volume = row.difference * counted
        shared.append(dataclasses.replace(row, claimed=claimed_volume, claimed_amount=amount, claim_rule=made.sentence))
    return shared
