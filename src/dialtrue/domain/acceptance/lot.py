"""Lots: what is handed over as one, and which of its sites are looked at in any case."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from dialtrue.domain.acceptance.draw import LotSite

NO_CREW: Final = "no crew named"
NO_KIND: Final = "kind not known"

_INCHES: Final = re.compile(r"^(?:(\d+)[- ])?(\d+)(?:/(\d+))?\s*(?:in|inch|\")$", re.IGNORECASE)
_NOMINAL: Final = re.compile(r"^DN\s*(\d+)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class SiteInLot:
    """A site of a lot: who fitted it and when, which meters, whether it is looked at in any case."""

    site: str
    crew: str
    kind: str
    whole: bool
    meters: tuple[str, ...]
    fitted_at: dt.datetime
    address: str = ""
    mount: str = ""
    traits: tuple[tuple[str, str], ...] = ()
    """What else it may share with other sites, by name: the day, the cable lot, the endpoint's sheet."""

    def drawn_as(self) -> LotSite:
        """Return the site as the draw takes it: its stratum is crew and kind."""
        return LotSite(self.site, stratum_of(self.crew, self.kind), self.whole)


@dataclass(frozen=True, slots=True)
class Lot:
    """A lot: its name, and its sites in the order of their names."""

    name: str
    sites: tuple[SiteInLot, ...]

    @property
    def crews(self) -> tuple[str, ...]:
        """The crews that worked in it, in the order of their names."""
        return tuple(sorted({site.crew for site in self.sites}))

    @property
    def last_fitted(self) -> dt.datetime:
        """When its last site was fitted."""
        return max(site.fitted_at for site in self.sites)

    @property
    def drawn_from(self) -> int:
        """Sites that are left to chance. [sites]"""
        return sum(not site.whole for site in self.sites)


def stratum_of(crew: str, kind: str) -> str:
    """Return the name of a stratum. Never raises.

    Examples
    --------
    >>> stratum_of("A", "nutating_disc")
    'A, nutating_disc'
    """
    return f"{crew or NO_CREW}, {kind or NO_KIND}"


def week_lot(crew: str, day: dt.date) -> str:
    """Return the name of the lot of a crew's week.

    Parameters
    ----------
    crew : str
        Blank: not named.
    day : date
        In the programme's zone.

    Returns
    -------
    str
        Crew and ISO week; weeks run from Monday.

    Raises
    ------
    Never raises.

    Source
    ------
    ``ISO-8601``: a week belongs to the year of its Thursday.

    Examples
    --------
    >>> week_lot("C", dt.date(2026, 3, 25)), week_lot("", dt.date(2027, 1, 2))
    ('C 2026-W13', 'no crew named 2026-W53')
    """
    year, week, _ = day.isocalendar()
    return f"{crew or NO_CREW} {year}-W{week:02}"


def nominal_size_mm(size: str) -> float | None:
    """Return the nominal size that a text names, an inch as 25 mm so that 2 in is DN50; None if it names none.

    Parameters
    ----------
    size : str
        Such as ``5/8in``, ``1-1/2in``, ``DN15``.

    Returns
    -------
    float or None
        [mm, > 0]

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption: nominal sizes pair as 1 in with DN25 and 2 in with DN50.

    Examples
    --------
    >>> [nominal_size_mm(size) for size in ("2in", "1-1/2in", "DN80", "large")]
    [50.0, 37.5, 80.0, None]
    """
    text = size.strip()
    if found := _NOMINAL.match(text):
        return float(found[1])
    found = _INCHES.match(text)
    if found is None or found[3] == "0" or (found[3] and int(found[3]) == 0):
        return None
    inches = int(found[1] or 0) + Fraction(int(found[2]), int(found[3] or 1))
    return float(inches * 25) or None


def round_name(lot: str, number: int) -> str:
    """Return the name under which a lot is drawn: a second sample is marked. Never raises.

    Examples
    --------
    >>> round_name("C 2026-W13", 1), round_name("C 2026-W13", 2)
    ('C 2026-W13', 'C 2026-W13 #2')
    """
    return lot if number == 1 else f"{lot} #{number}"
