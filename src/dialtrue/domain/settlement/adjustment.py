"""One adjustment: a period of a register, as billed and as it should have been; and what could not be put right."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from dialtrue.domain.settlement.true_course import Method

Basis = Literal["confirmed", "assumed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjustment:
    """One row of the table ``adjustments``. Volumes in ``unit``, exact; money None where no rate is known."""

    meter_serial: str
    register_role: str
    account: str
    period_start: dt.date
    period_end: dt.date
    billed: Fraction
    corrected: Fraction
    unit: str
    method: Method
    low: Fraction
    high: Fraction
    rule: str
    finding: str
    basis: Basis
    amount_billed: Decimal | None = None
    amount_corrected: Decimal | None = None
    currency: str = ""
    claimed: Fraction | None = None
    claimed_amount: Decimal | None = None
    claim_rule: str = ""

    @property
    def difference(self) -> Fraction:
        """Return corrected less billed. [unit]"""
        return self.corrected - self.billed

    @property
    def amount_difference(self) -> Decimal | None:
        """Return corrected less billed money."""
        if self.amount_billed is None or self.amount_corrected is None:
            return None
        return self.amount_corrected - self.amount_billed


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A finding, or one of its periods, that could not be put right: of which register, why, and what to ask for."""

    meter_serial: str
    register_role: str
    finding: str
    why: str
    period: str = ""
