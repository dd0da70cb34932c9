"""The account of a programme's sampling: each lot with its plan, its draw, what was found, and what follows."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from dialtrue.domain.acceptance.crews import CrewVerdict
from dialtrue.domain.acceptance.draw import Part
from dialtrue.domain.acceptance.judgement import LotJudgement
from dialtrue.domain.acceptance.lot import SiteInLot
from dialtrue.domain.acceptance.plan import LotPlan
from dialtrue.domain.acceptance.switching import SwitchState


@dataclass(frozen=True, slots=True)
class DrawRow:
    """A site in a draw; a replacement names the site that nobody could see, why, and who allowed it."""

    site: str
    crew: str
    kind: str
    part: Part
    position: int
    key: str
    replaces: str = ""
    reason: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A draw as it was written down. ``name`` is that of lot and round; ``number`` counts rounds from 1."""

    name: str
    lot: str
    lot_by: str
    number: int
    seed: str
    plan: LotPlan
    rows: tuple[DrawRow, ...]
    population: int
    population_hash: str
    drawn_at: dt.datetime

    def slots(self) -> list[tuple[str, ...]]:
        """Return the sample in the order of the draw: each place with its site and those that replaced it in turn."""
        stands_for = {row.replaces: row.site for row in self.rows if row.part == "replacement"}
        places = []
        for row in sorted((each for each in self.rows if each.part == "sample"), key=lambda each: each.position):
            chain = [row.site]
            while chain[-1] in stands_for and len(chain) <= len(self.rows):
                chain.append(stands_for[chain[-1]])
            places.append(tuple(chain))
        return places

    def whole(self) -> list[str]:
        """Return the sites that are inspected in any case, in the order of the draw."""
        return [row.site for row in sorted(self.rows, key=lambda each: each.position) if row.part == "whole"]


@dataclass(frozen=True, slots=True)
class Visit:
    """What counts of the visits to a site; ``grades`` is None where nobody could look."""

    site: str
    grades: frozenset[str] | None
    at: dt.datetime
    inspector: str
    found: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SetAside:
    """An inspection that does not count, and why. ``row`` is its line in the file."""

    row: int
    lot: str
    site: str
    why: str


@dataclass(frozen=True, slots=True)
class LotAccount:
    """One lot, or one more round of it.

    ``drawn`` and ``judgement`` are None until it is drawn. ``places`` are the sites of the lot as they are now;
    ``visits`` what was found, by site; ``common`` what its bad sites share; ``notes`` what is to be said of it.
    """

    name: str
    lot: str
    crews: tuple[str, ...]
    plan: LotPlan
    sites: int
    drawn: Drawn | None = None
    judgement: LotJudgement | None = None
    places: Mapping[str, SiteInLot] = field(default_factory=dict)
    visits: Mapping[str, Visit] = field(default_factory=dict)
    common: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def state(self) -> str:
        """``to_draw``, or the outcome of the judgement."""
        return "to_draw" if self.judgement is None else self.judgement.outcome


@dataclass(frozen=True, slots=True)
class SampleAccount:
    """The whole account.

    ``crews`` compares crews by defects of ``grade``, first samples only; ``pairs`` are sentences on crews that were
    asked about; ``series`` tells by series of lots how the next one is inspected; ``shared`` what the bad sites of a
    crew have in common, where there is something to look for.
    """

    lots: tuple[LotAccount, ...]
    crews: tuple[CrewVerdict, ...]
    grade: str
    series: Mapping[str, SwitchState]
    pairs: tuple[str, ...]
    set_aside: tuple[SetAside, ...]
    said: tuple[str, ...]
    shared: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def counted(self, state: str) -> int:
        """Return how many lots are in a state."""
        return sum(lot.state == state for lot in self.lots)


def account_sentence(account: SampleAccount) -> str:
    """Say the whole account in one sentence. Never raises.

    Source
    ------
    Definition.
    """
    rounds = {lot.lot: lot.sites for lot in account.lots}
    sites = sum(rounds.values())
    states = (
        ("reject", "rejected"),
        ("not_yet", "not yet decided"),
        ("accept", "accepted"),
        ("to_draw", "to draw"),
    )
    told = [f"{account.counted(state)} {words}" for state, words in states if account.counted(state)]
    head = f"{len(rounds):,} lot{'' if len(rounds) == 1 else 's'}, {sites:,} site{'' if sites == 1 else 's'}"
    return f"{head}: {', '.join(told)}." if told else f"{head}."
