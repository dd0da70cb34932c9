"""One local rule for one direction, and the published examples that settings may start from. Never code of a place."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from dialtrue.domain.errors import ClaimRuleFault

Direction = Literal["under", "over"]
"""``under``: less was billed than was used, the utility may claim. ``over``: more was billed, it refunds."""

DEFER: Final = "Your tariff and local law decide; this states what the rule in your settings gives."


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimRule:
    """How far a difference goes back and what of it counts, for one direction.

    Parameters
    ----------
    key : str
        Name in outputs.
    source : str
        Where it comes from: a source key, or the user's own words.
    months_back : int or None
        Only days within so many months before the finding count; None: all of them.
    share : Fraction
        What share of the difference within those months counts. [0 .. 1]
    half_when_unknown : bool
        Where nobody knows since when: only the last half of the time since the meter was last known right.
    tolerance : Fraction
        Nothing is claimed where the whole difference is at most this share of the corrected volume. [0 .. 1]
    least_amount : Fraction
        Nothing is claimed of less money than this. [money, >= 0]
    most_volume_l : Fraction or None
        No more volume than this is claimed. [L]
    waived : bool
        Nothing is claimed at all.
    interest_per_year : Fraction
        Simple interest on what is claimed, from the end of each period to the day of the finding. [1/year, >= 0]

    Raises
    ------
    ClaimRuleFault
        A figure is out of range.

    Source
    ------
    Every figure is the user's; see ``EXAMPLES`` for published ones.
    """

    key: str
    source: str = "our assumption: everything, no interest"
    months_back: int | None = None
    share: Fraction = Fraction(1)
    half_when_unknown: bool = False
    tolerance: Fraction = Fraction(0)
    least_amount: Fraction = Fraction(0)
    most_volume_l: Fraction | None = None
    waived: bool = False
    interest_per_year: Fraction = Fraction(0)

    def __post_init__(self) -> None:
        for name, most in (("share", 1), ("tolerance", 1), ("interest_per_year", 1)):
            if not 0 <= getattr(self, name) <= most:
                self._refuse(f"{name} is {float(getattr(self, name)):g}", f"write {name} from 0 to {most}")
        if self.months_back is not None and not 1 <= self.months_back <= 600:
            self._refuse(f"months_back is {self.months_back}", "write months_back from 1 to 600, or leave it out")
        if self.least_amount < 0:
            self._refuse("least_amount is below nought", "write least_amount as money, 0 or more")
        if self.most_volume_l is not None and self.most_volume_l < 0:
            self._refuse("most_volume is below nought", "write most_volume as a volume, 0 or more")

    def _refuse(self, says: str, how: str) -> None:
        raise ClaimRuleFault(key=self.key, says=says, how=how)


_MONTHS_24: Final = 24
_MONTHS_12: Final = 12

EXAMPLES: Final[dict[str, tuple[ClaimRule, ClaimRule]]] = {
    "everything": (ClaimRule(key="everything"), ClaimRule(key="everything")),
    "twelve-months": (
        ClaimRule(key="twelve-months", source="STORY-LAUNDRY", months_back=_MONTHS_12),
        ClaimRule(key="twelve-months", source="STORY-LAUNDRY", months_back=_MONTHS_12),
    ),
    "half-of-twelve-months": (
        ClaimRule(
            key="half-of-twelve-months", source="STORY-LAUNDRY", months_back=_MONTHS_12, share=Fraction(1, 2)
        ),
        ClaimRule(key="half-of-twelve-months", source="STORY-LAUNDRY", months_back=_MONTHS_12),
    ),
    "half-since-test-24": (
        ClaimRule(
            key="half-since-test-24", source="WI-PSC-185-35", months_back=_MONTHS_24, half_when_unknown=True,
            tolerance=Fraction(3, 100),
        ),
        ClaimRule(
            key="half-since-test-24", source="WI-PSC-185-35", half_when_unknown=True, tolerance=Fraction(2, 100),
            least_amount=Fraction(5),
        ),
    ),
    "half-since-test-12": (
        ClaimRule(
            key="half-since-test-12", source="IN-170-IAC-6-1-14", months_back=_MONTHS_12, half_when_unknown=True,
            tolerance=Fraction(2, 100),
        ),
        ClaimRule(
            key="half-since-test-12", source="IN-170-IAC-6-1-14", months_back=_MONTHS_12, half_when_unknown=True,
            tolerance=Fraction(2, 100),
        ),
    ),
    "refund-only": (
        ClaimRule(key="refund-only", source="common practice, no source", waived=True),
        ClaimRule(key="refund-only", source="common practice, no source"),
    ),
}  # fmt: skip
"""Under and over, by name: to start from. The two published ones are read second hand and simplified; read the rule."""
