"""A rate table: versions in time, each with a fixed charge, a least charge and blocks; holes are refused."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from dialtrue.domain.errors import RateTableFault
from dialtrue.domain.figures import figure
from dialtrue.domain.quantity import litres_per

BlockBasis = Literal["bill", "day"]


@dataclass(frozen=True, slots=True)
class Block:
    """Volume up to ``upto`` costs ``price``; the last block has no end. [unit of the table; money per unit]"""

    upto: Fraction | None
    price: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class RateVersion:
    """A rate as it held from a day on.

    ``fixed_per_bill`` and ``fixed_per_day`` are charged whatever is used [money]; ``least`` is the least charge of a
    bill [money]. The ends of ``blocks`` are a bill's, however long, or those of ``nominal_days`` and stretched to the
    days of the bill, as ``basis`` says.
    """

    since: dt.date
    blocks: tuple[Block, ...]
    fixed_per_bill: Fraction = Fraction(0)
    fixed_per_day: Fraction = Fraction(0)
    least: Fraction = Fraction(0)
    basis: BlockBasis = "bill"
    nominal_days: int = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class RateTable:
    """A rate table.

    Parameters
    ----------
    key : str
        Its name, as bills carry it.
    unit : str
        Contract unit of the blocks and prices.
    currency : str
        What money is called.
    versions : tuple of RateVersion
        Ascending by ``since``; each holds until the next.
    ends : date or None
        First day on which it no longer holds.
    coin : Fraction
        Smallest coin: each line of a bill is rounded to it, half up. [money, > 0]

    Raises
    ------
    RateTableFault
        A hole or a fold: no version, versions out of order, blocks that do not rise, a last block with an end (what
        lies above it would cost nothing), a price below nought.
    UnknownUnit

    Source
    ------
    Structure of public tariffs: common practice, no source. Every figure comes from the user's own table.
    """

    key: str
    unit: str
    currency: str
    versions: tuple[RateVersion, ...]
    ends: dt.date | None = None
    coin: Fraction = Fraction(1, 100)

    def __post_init__(self) -> None:
        litres_per(self.unit)
        if not self.versions:
            self._refuse("it has no version", "give at least one version with since and blocks")
        if self.coin <= 0:
            self._refuse("the smallest coin is not above nought", 'write coin = "0.01"')
        days = [version.since for version in self.versions]
        for before, after in pairwise(days):
            if after <= before:
                self._refuse(f"the version of {after} follows that of {before}", "order the versions by day, one a day")
        if self.ends is not None and self.ends <= days[-1]:
            self._refuse(f"it ends on {self.ends}, before its last version begins", "mend ends or since")
        for version in self.versions:
            self._check(version)

    def _check(self, version: RateVersion) -> None:
        """Refuse a version with a hole."""
        where = f"the version of {version.since}"
        if not version.blocks:
            self._refuse(f"{where} has no block", "write one block without an end for a flat rate")
        charges = (version.fixed_per_bill, version.fixed_per_day, version.least)
        if any(charge < 0 for charge in charges) or any(block.price < 0 for block in version.blocks):
            self._refuse(f"{where} has a charge below nought", "write credits as adjustments, not as rates")
        if not 1 <= version.nominal_days <= 400:
            self._refuse(f"{where} has blocks of {version.nominal_days} days", "write nominal_days from 1 to 400")
        last = Fraction(0)
        for place, block in enumerate(version.blocks):
            final = place == len(version.blocks) - 1
            if block.upto is None:
                if not final:
                    self._refuse(f"{where}: block {place + 1} has no end, yet another follows", "give it an end")
                continue
            if final:
                says = f"{where} has no price above {figure(block.upto)} {self.unit}"
                self._refuse(says, "add a last block without an end")
            if block.upto <= last:
                says = f"{where}: block {place + 1} ends at {figure(block.upto)}, not above {figure(last)}"
                self._refuse(says, "let the ends of the blocks rise")
            last = block.upto

    def _refuse(self, says: str, remedy: str) -> None:
        raise RateTableFault(key=self.key, says=says, how=remedy)

    def versions_between(self, start: dt.date, end: dt.date) -> list[tuple[RateVersion, int]]:
        """Return the versions that hold from ``start`` up to ``end``, each with its days.

        Raises
        ------
        RateTableFault
            Some day has no version: the hole is named.
        """
        first = self.versions[0].since
        if start < first:
            self._refuse(f"it says nothing before {first}, and a period begins on {start}", "add the earlier version")
        if self.ends is not None and end > self.ends:
            self._refuse(f"it ends on {self.ends}, and a period runs to {end}", "add the version that follows")
        found = []
        for place, version in enumerate(self.versions):
            until = self.versions[place + 1].since if place + 1 < len(self.versions) else end
            days = (min(end, until) - max(start, version.since)).days
            if days > 0:
                found.append((version, days))
        return found
