"""Settings of a settlement."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from dialtrue.domain.claims.claim_rule import EXAMPLES, ClaimRule
from dialtrue.domain.settlement.periods import Calendar
from dialtrue.domain.tariff.rate_table import RateTable

ASSUME_FROM = 0.9
"""Least probability of a finding that may be settled before somebody has confirmed it. Our assumption."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SettleSettings:
    """How bills are put right.

    ``assume`` settles findings that nobody confirmed, from the probability ``assume_from`` on. ``billing_step`` rounds
    volumes [of ``billing_unit``, or of the dial's where that is blank]; None leaves them exact. ``calendar`` gives the
    periods where ``bills`` has none. ``under`` and ``over`` are the local rules. ``rates`` by key; ``rate`` is the key
    for bills that name none.
    """

    assume: bool = False
    assume_from: float = ASSUME_FROM
    billing_unit: str = ""
    billing_step: Fraction | None = None
    calendar: Calendar = "month"
    under: ClaimRule = EXAMPLES["everything"][0]
    over: ClaimRule = EXAMPLES["everything"][1]
    rates: Mapping[str, RateTable] = field(default_factory=dict)
    rate: str = ""
