"""A programme's sampling opened: lots, draws and inspections held together, and the account that follows from them."""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import pyarrow as pa

from dialtrue.domain.acceptance.account import Drawn, LotAccount, SampleAccount, SetAside, Visit
from dialtrue.domain.acceptance.crews import CrewCount, compare_crews, compare_two
from dialtrue.domain.acceptance.draw import fingerprint
from dialtrue.domain.acceptance.judgement import judge_lot
from dialtrue.domain.acceptance.lot import NO_CREW, Lot, SiteInLot
from dialtrue.domain.acceptance.plan import GRADES, LotPlan, demand_named, lot_plan
from dialtrue.domain.acceptance.settings import SampleSettings
from dialtrue.domain.acceptance.single_plans import REDUCED_FROM_MEMORY, Severity
from dialtrue.domain.acceptance.switching import DecidedLot, SwitchState, score_of, switched
from dialtrue.domain.acceptance.traits import Traits, in_common
from dialtrue.domain.errors import UnknownLot
from dialtrue.files.programme import open_programme
from dialtrue.files.sample_settings import sample_settings
from dialtrue.services.sample_draws import audit, draws_in
from dialtrue.services.sample_lots import lots_of
from dialtrue.services.sample_results import visits_of
from dialtrue.services.table_columns import table_of

_MIXED = "several crews"
_TELLING = ("look", "act")


@dataclass(slots=True)
class Book:
    """Everything the steps look at."""

    settings: SampleSettings
    lots: dict[str, dict[str, Lot]]
    draws: dict[str, Drawn]
    standing: pa.Table
    visits: dict[str, dict[str, Visit]]
    aside: list[SetAside]
    said: list[str]

    @property
    def current(self) -> dict[str, Lot]:
        """The lots as the settings make them."""
        return self.lots[self.settings.lot_by]


def open_book(folder: Path, at: dt.datetime, settings: SampleSettings | None) -> Book:
    """Open the folder, make its lots, read its draws, hold the inspections against them."""
    settings = settings or sample_settings(folder)
    programme = open_programme(folder, at=at)
    tables, zone = programme.tables, programme.timezone
    current, said = lots_of(tables, by=settings.lot_by, zone=zone, settings=settings)
    standing = table_of(tables, "draw")
    draws = draws_in(standing)
    lots = {settings.lot_by: current}
    for by in {drawn.lot_by for drawn in draws.values()} - lots.keys():
        lots[by] = lots_of(tables, by=by, zone=zone, settings=settings)[0]
    names = {name for each in lots.values() for name in each}
    visits, aside = ({}, []) if "inspections" not in tables else visits_of(
        tables["inspections"], draws, names, zone=zone
    )  # fmt: skip
    told = [problem.says() for problem in programme.problems] + [*programme.notes, *said]
    if not current:
        told.append("No fitting stands, so there is no lot.")
    return Book(settings, lots, draws, standing, visits, aside, told)


def account_of(
    book: Book,
    *,
    lots: Sequence[str] = (),
    severity: Severity | None = None,
    grade: str = "critical",
    pairs: Sequence[tuple[str, str]] = (),
    planning: bool = True,
) -> SampleAccount:
    """Put the account together. When ``planning``, lots as they are made now; else those drawn."""
    series = series_states(book)
    accounts = [judged_draw(drawn, book) for drawn in book.draws.values()]
    drawn_lots = {drawn.lot for drawn in book.draws.values()}
    same = planning or not book.draws or any(each.lot_by == book.settings.lot_by for each in book.draws.values())
    for lot in book.current.values() if same else ():
        if lot.name not in drawn_lots:
            state = series.get(series_of(lot, book.settings), switched(()))
            plan = plan_of(lot, book.settings, severity or state.severity)
            accounts.append(
                LotAccount(lot.name, lot.name, lot.crews, plan, len(lot.sites), places={s.site: s for s in lot.sites})
            )
    known = {each.name for each in accounts} | {each.lot for each in accounts}
    for name in lots:
        if name not in known:
            raise unknown_lot(name, sorted(known), f"by {_by_words(book.settings.lot_by)}")
    chosen = tuple(
        each for each in accounts
        if each.name in lots or each.lot in lots
        or (not lots and not (planning and each.drawn and each.drawn.lot_by != book.settings.lot_by))
    )  # fmt: skip
    said = list(book.said)
    if any(_is_from_memory(each.plan) for each in chosen):
        said.append(REDUCED_FROM_MEMORY)
    counts = _crew_counts(book, accounts, grade)
    of_crew = {count.crew: count for count in counts}
    for one, other in pairs:
        for crew in (one, other):
            if crew not in of_crew:
                raise unknown_lot(crew, sorted(of_crew), "of that crew")
    enough, act_below = book.settings.enough, book.settings.act_below
    verdicts = compare_crews(counts, enough=enough, act_below=act_below)
    return SampleAccount(
        chosen,
        tuple(verdicts),
        grade,
        series,
        tuple(compare_two(of_crew[one], of_crew[other], enough=enough, act_below=act_below) for one, other in pairs),
        tuple(book.aside),
        tuple(said),
        {each.count.crew: _shared(each.count.crew, accounts, grade) for each in verdicts if each.outcome in _TELLING},
    )


def _is_from_memory(plan: LotPlan) -> bool:
    return plan.severity == "reduced" and any(each.demand.kind == "aql" for each in plan.grades)


def judged_draw(drawn: Drawn, book: Book) -> LotAccount:
    """Judge one draw."""
    lot = book.lots[drawn.lot_by].get(drawn.lot)
    places = {site.site: site for site in lot.sites} if lot else {}
    visits = book.visits.get(drawn.name, {})
    sample = [_place_grades(chain, visits) for chain in drawn.slots()]
    whole = [_place_grades((site,), visits) for site in drawn.whole()]
    judgement = judge_lot(drawn.plan, sample, whole)
    seen = [site for site, visit in visits.items() if visit.grades is not None]
    worst = {result.plan.grade for result in judgement.grades if result.outcome == "reject"} or {"critical"}
    bad = [site for site in seen if (visits[site].grades or frozenset()) & worst]
    traits = {site: _traits(places[site]) for site in seen if site in places}
    common = in_common([traits[site] for site in bad if site in traits], list(traits.values()))
    crews = tuple(sorted({row.crew for row in drawn.rows}))
    notes = (*audit(drawn, confidence=Fraction(str(book.settings.confidence))), *_changed(drawn, lot))
    return LotAccount(
        drawn.name, drawn.lot, crews, drawn.plan, drawn.population, drawn, judgement, places, visits, common, notes
    )


def _traits(site: SiteInLot) -> Traits:
    return (*site.traits, ("meter kind", site.kind), ("mount", site.mount))


def _shared(crew: str, accounts: Sequence[LotAccount], grade: str) -> tuple[str, ...]:
    """Say what the bad sites of a crew have in common."""
    seen: list[Traits] = []
    bad: list[Traits] = []
    for account in accounts:
        for site, visit in account.visits.items():
            place = account.places.get(site)
            if visit.grades is not None and place is not None and (place.crew or NO_CREW) == crew:
                seen.append(_traits(place))
                if grade in visit.grades:
                    bad.append(_traits(place))
    return in_common(bad, seen)


def _place_grades(chain: tuple[str, ...], visits: dict[str, Visit]) -> frozenset[str] | None:
    """Return what was found at a place of the sample: at its site, or at the one that replaced it."""
    visit = visits.get(chain[-1])
    return None if visit is None else visit.grades


def _changed(drawn: Drawn, lot: Lot | None) -> tuple[str, ...]:
    """Say how a lot differs from what was drawn from."""
    if lot is None:
        return ("Fittings no longer hold this lot; the decision is about what was drawn from.",)
    if fingerprint(site.drawn_as() for site in lot.sites) == drawn.population_hash:
        return ()
    now, then = {site.site for site in lot.sites}, {row.site for row in drawn.rows}
    said = []
    for sites, words in (
        (now - then, "came to the lot after the draw and {is_} not covered by it"),
        (then - now, "{is_} no longer in the lot"),
    ):
        if sites:
            is_ = "is" if len(sites) == 1 else "are"
            named = ", ".join(sorted(sites)[:5]) + (f" and {len(sites) - 5:,} more" if len(sites) > 5 else "")
            said.append(f"{named} {words.format(is_=is_)}.")
    if not said:
        said.append("Crew, kind or size of some site is recorded otherwise than when the lot was drawn.")
    return ("The lot has changed since the draw (its hash differs).", *said)


def series_states(book: Book) -> dict[str, SwitchState]:
    """Follow the switching rules over the first samples of each series of lots."""
    history: dict[str, list[DecidedLot]] = {}
    for drawn in book.draws.values():
        if drawn.number > 1:
            continue
        judgement = judged_draw(drawn, book).judgement
        if judgement is not None and judgement.outcome != "not_yet":
            crews = {row.crew for row in drawn.rows}
            key = "all" if book.settings.series == "all" else crews.pop() if len(crews) == 1 else _MIXED
            decided = DecidedLot(
                drawn.name, judgement.outcome == "accept", drawn.plan.severity, score_of(judgement.grades)
            )
            history.setdefault(key, []).append(decided)
    rules = book.settings
    return {
        key or NO_CREW: switched(
            lots, reduced=rules.reduced, relax_after=rules.relax_after, by_score=rules.relax_by == "score"
        )
        for key, lots in history.items()
    }


def series_of(lot: Lot, settings: SampleSettings) -> str:
    if settings.series == "all":
        return "all"
    return (lot.crews[0] or NO_CREW) if len(lot.crews) == 1 else _MIXED


def plan_of(lot: Lot, settings: SampleSettings, severity: Severity) -> LotPlan:
    demands = {grade: demand_named(getattr(settings, grade)) for grade in GRADES}
    confidence = Fraction(str(settings.confidence))
    return lot_plan(lot.drawn_from, demands, level=settings.level, severity=severity, confidence=confidence)


def _crew_counts(book: Book, accounts: Sequence[LotAccount], grade: str) -> list[CrewCount]:
    """Count each crew's sites: those fitted, and those of first samples that were seen."""
    fitted: dict[str, int] = {}
    for lot in book.current.values():
        for site in lot.sites:
            fitted[site.crew or NO_CREW] = fitted.get(site.crew or NO_CREW, 0) + 1
    seen: dict[str, dict[str, list[int]]] = {crew: {} for crew in fitted}
    for account in accounts:
        if account.drawn is None or account.drawn.number > 1:
            continue
        row_of = {row.site: row for row in account.drawn.rows}
        for chain in account.drawn.slots():
            visit, row = account.visits.get(chain[-1]), row_of[chain[-1]]
            if visit is not None and visit.grades is not None:
                place = account.places.get(row.site)
                kind = ", ".join(filter(None, (row.kind, place.mount if place else "")))
                tally = seen.setdefault(row.crew or NO_CREW, {}).setdefault(kind, [0, 0])
                tally[0] += 1
                tally[1] += grade in visit.grades
    return [
        CrewCount(
            crew,
            sum(tally[0] for tally in kinds.values()),
            sum(tally[1] for tally in kinds.values()),
            fitted.get(crew, 0),
            tuple((kind, tally[0], tally[1]) for kind, tally in sorted(kinds.items())),
        )
        for crew, kinds in sorted(seen.items())
    ]


def lot_named(name: str, book: Book) -> Lot:
    if name not in book.current:
        raise unknown_lot(name, list(book.current), f"by {_by_words(book.settings.lot_by)}")
    return book.current[name]


def unknown_lot(name: str, known: list[str], by: str) -> UnknownLot:
    near = difflib.get_close_matches(name, known, n=4, cutoff=0.3) or known[:4]
    return UnknownLot(lot=name, by=by, nearest=", ".join(near) or "none")


def _by_words(by: str) -> str:
    return "crew and week" if by == "crew_week" else by
