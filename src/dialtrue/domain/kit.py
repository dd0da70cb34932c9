"""How many to carry and to order: the planned quantity, the spares by a stated rule, and whole packs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from dialtrue.domain.figures import figure

Scope = Literal["site", "van_day", "programme"]

CABLE_SPARE_SHARE: Final = Fraction(15, 100)
"""Cable on top of the measured runs. Common practice, no source; override by ``KitSettings``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareRule:
    """How many spares go with a quantity.

    ``share`` of the quantity; ``minimum`` of a whole programme; ``per_day`` for each van and day; ``pack`` how many
    come in one pack; ``whole`` False for lengths, which a van carries as they are.
    """

    share: Fraction = Fraction(0)
    minimum: int = 0
    per_day: int = 0
    pack: int = 1
    whole: bool = True

    def words(self, scope: Scope = "programme") -> str:
        """Return what of the rule counts for a scope, in words. Never raises."""
        if scope == "site":
            return ""
        said = []
        if self.share:
            said.append(f"{figure(self.share * 100)} % spare")
        if self.minimum and scope == "programme":
            said.append(f"at least {self.minimum} spare")
        if self.per_day:
            said.append(f"{self.per_day} spare a van and day")
        if self.pack > 1 and scope == "programme":
            said.append(f"packs of {self.pack}")
        return ", ".join(said) or "no spare"


@dataclass(frozen=True, slots=True)
class Stock:
    """What a scope needs: exact quantity, spare on top of it, and what is carried or ordered. [unit of the part]"""

    quantity: Fraction
    spare: Fraction
    order: Fraction


def stock_for(quantity: Fraction, rule: SpareRule, *, scope: Scope, vans: int = 1) -> Stock:
    """Return the stock that a scope needs.

    Parameters
    ----------
    quantity : Fraction
        As planned. [unit of the part, >= 0]
    rule : SpareRule
        Of the part.
    scope : str
        A *site* takes what is planned. A *van and day* takes the share, rounded up to whole pieces, and the spares of
        the day. A *programme* takes the share or the minimum, whichever is more, the day's spares once for each van
        (what is not used comes back in the evening), and is ordered in whole packs.
    vans : int
        Vans on the road at once, for the programme. [1 or more]

    Returns
    -------
    Stock

    Raises
    ------
    Never raises.

    Source
    ------
    Shares: common practice, no source (5 % endpoints, 10 % splices, two lids a day). The rounding is our assumption.

    Examples
    --------
    >>> stock_for(Fraction(26), SpareRule(share=Fraction(1, 10)), scope="programme")
    Stock(quantity=Fraction(26, 1), spare=Fraction(13, 5), order=Fraction(29, 1))
    """
    if scope == "site" or not quantity:
        return Stock(quantity, Fraction(0), quantity)
    share = quantity * rule.share
    if scope == "van_day":
        spare = Fraction(math.ceil(share)) if rule.whole else share
        spare += rule.per_day
        return Stock(quantity, spare, quantity + spare)
    spare = max(share, Fraction(rule.minimum)) + rule.per_day * vans
    packs = math.ceil((quantity + spare) / rule.pack)
    return Stock(quantity, spare, Fraction(packs * rule.pack))
