"""A part or a tool: what it is called, how many spares go along, how it is packed."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from dialtrue.domain.errors import FigureRange

PART_KINDS: Final = ("part", "tool")
PART_UNITS: Final = ("each", "m")


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Data sheet of a part or tool.

    Parameters
    ----------
    key : str
        Name in plans and kits.
    title, title_metric : str
        What it is, in general words, with US sizes and with metric ones; the second blank: the same.
    kind : str
        ``part`` is left on site, ``tool`` comes back in the van.
    unit : str
        ``each`` or ``m``.
    spare_share : Fraction
        Spares as a share of the planned quantity. [0 .. 10]
    spare_minimum, spare_per_day : int
        Least number of spares of a kit, and spares a van takes for each day. [>= 0]
    pack : int
        How many come in one pack; orders are whole packs. [1 or more]
    source : str
        Where the figures come from.

    Raises
    ------
    FigureRange
        A figure is out of range, or a word is not in its list.

    Source
    ------
    Each sheet names its own. The shipped spares are our assumption; override by a sheet of the same key.
    """

    key: str
    title: str = ""
    title_metric: str = ""
    kind: str = "part"
    unit: str = "each"
    spare_share: Fraction = Fraction(0)
    spare_minimum: int = 0
    spare_per_day: int = 0
    pack: int = 1
    source: str = ""

    def __post_init__(self) -> None:
        thing = f"Part {self.key}"
        for name, allowed in (("kind", PART_KINDS), ("unit", PART_UNITS)):
            word = getattr(self, name)
            if word not in allowed:
                raise FigureRange(thing=thing, name=name, value=word, expected="one of " + ", ".join(allowed))
        if not 0 <= self.spare_share <= 10:
            share = float(self.spare_share)
            raise FigureRange(thing=thing, name="spare_share", value=share, expected="from 0 to 10")
        for name, least in (("spare_minimum", 0), ("spare_per_day", 0), ("pack", 1)):
            count = getattr(self, name)
            if not least <= count <= 1_000_000:
                raise FigureRange(thing=thing, name=name, value=count, expected=f"from {least} to 1,000,000")
