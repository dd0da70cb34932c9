"""Accept contractors' work by lot: plan the samples, draw them, judge what was found."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pyarrow as pa

from dialtrue.domain.acceptance.account import Drawn, SampleAccount
from dialtrue.domain.acceptance.lot import Lot
from dialtrue.domain.acceptance.settings import SampleSettings
from dialtrue.domain.acceptance.single_plans import Severity
from dialtrue.domain.acceptance.switching import switched
from dialtrue.domain.errors import InspectionStopped, LotDrawn, NoSeed, NotRejected, ReplacementRefused
from dialtrue.services.sample_book import (
    Book,
    account_of,
    judged_draw,
    lot_named,
    open_book,
    plan_of,
    series_of,
    series_states,
    unknown_lot,
)
from dialtrue.services.sample_draws import draw_table, make_draw


def sample_account(
    folder: Path,
    *,
    at: dt.datetime,
    settings: SampleSettings | None = None,
    lots: Sequence[str] = (),
    severity: Severity | None = None,
    grade: str = "critical",
    pairs: Sequence[tuple[str, str]] = (),
    planning: bool = True,
) -> SampleAccount:
    """Return the account of a programme's sampling: plans of lots to draw, judgements of lots drawn, crews compared.

    Parameters
    ----------
    folder : Path
        Programme folder with fittings, and sites, inspections and draw where they are.
    at : datetime
        The time of the run, aware, UTC.
    settings : SampleSettings, optional
        The table ``[sample]`` of the programme where None.
    lots : sequence of str
        Only these lots; all where empty. Crews are compared over all lots in any case.
    severity : str, optional
        How strictly lots to draw are planned; by the switching rules where None.
    grade : str
        The grade of defects by which crews are compared.
    pairs : sequence of (str, str)
        Crews to hold against each other.
    planning : bool
        List every lot that is to be drawn, also where the lots drawn so far were made otherwise.

    Returns
    -------
    SampleAccount

    Raises
    ------
    UnknownLot, UnknownLotColumn, DrawDamaged
    DialtrueError
        The folder or a file cannot be used.

    Source
    ------
    See the modules of ``domain.acceptance``.
    """
    return account_of(
        open_book(folder, at, settings), lots=lots, severity=severity, grade=grade, pairs=pairs, planning=planning
    )


def draw_lots(
    folder: Path,
    *,
    at: dt.datetime,
    lots: Sequence[str],
    seed: str = "",
    again: bool = False,
    severity: Severity | None = None,
    settings: SampleSettings | None = None,
) -> tuple[SampleAccount, pa.Table]:
    """Draw lots, and return the account with the table ``draw`` that is to be kept.

    Parameters
    ----------
    folder, at, settings
        As in ``sample_account``.
    lots : sequence of str
        Names of lots, at least one.
    seed : str
        Fixed before; that of the settings where blank.
    again : bool
        Draw a new sample of a lot that was rejected and screened.
    severity : str, optional
        As in ``sample_account``.

    Returns
    -------
    tuple of SampleAccount and Table
        The account tells of the lots drawn now; the table holds all draws. Nothing is written here.

    Raises
    ------
    NoSeed, LotDrawn, NotRejected, InspectionStopped, UnknownLot, UnknownLotColumn
    DialtrueError
        The folder or a file cannot be used.
    """
    book = open_book(folder, at, settings)
    seed = seed or book.settings.seed
    fresh: list[str] = []
    series = series_states(book)
    known_before = sorted(drawn.name for drawn in book.draws.values() if drawn.seed == seed)
    for name in dict.fromkeys(lots):
        lot = lot_named(name, book)
        standing = [drawn for drawn in book.draws.values() if drawn.lot == lot.name]
        if standing:
            _may_draw_again(standing[-1], book, again=again)
        if not seed:
            raise NoSeed(lot=name)
        state = series.get(series_of(lot, book.settings), switched(()))
        if state.stopped and severity is None:
            raise InspectionStopped(lot=name, why=state.why)
        plan = plan_of(lot, book.settings, severity or state.severity)
        drawn = make_draw(lot, plan, lot_by=book.settings.lot_by, number=len(standing) + 1, seed=seed, at=at)
        book.draws[drawn.name] = drawn
        fresh.append(drawn.name)
        book.said += _still_open(lot, at)
    if known_before:
        book.said.append(
            f"The seed was used before, for lot {known_before[0]}: whoever has known it since could foresee this "
            "sample. Take a new one for each draw."
        )
    return account_of(book, lots=fresh), draw_table(list(book.draws.values()), book.standing)


def replace_site(
    folder: Path, *, at: dt.datetime, lot: str, site: str, reason: str, by: str, settings: SampleSettings | None = None
) -> tuple[SampleAccount, pa.Table]:
    """Put the next site of the reserve in the place of one that nobody could see.

    Parameters
    ----------
    folder, at, settings
        As in ``sample_account``.
    lot, site : str
        The lot as drawn, and the site of its sample.
    reason, by : str
        Why, and who allows it; kept in the draw.

    Returns
    -------
    tuple of SampleAccount and Table
        As in ``draw_lots``. The replacement is the reserve's first of the same crew and kind, else its first.

    Raises
    ------
    ReplacementRefused
        The site is not in the sample, was seen, has no visit on record, was replaced already, or no reserve is left.
    UnknownLot
    """
    book = open_book(folder, at, settings)
    if lot not in book.draws:
        raise unknown_lot(lot, list(book.draws), "that was drawn")
    drawn = book.draws[lot]
    rows = {row.site: row for row in drawn.rows}
    row = rows.get(site)
    visit = book.visits.get(lot, {}).get(site)
    refused, then = "", "Name a site of the sample whose place is open."
    if row is None or row.part not in ("sample", "replacement"):
        refused = "it is not in the sample"
    elif any(each.replaces == site for each in drawn.rows):
        refused = "it was replaced already"
    elif visit is None:
        refused, then = "inspections holds no visit graded no_access there", "Record the attempt in inspections first."
    elif visit.grades is not None:
        refused = "it was seen"
    reserve = sorted(
        (each for each in drawn.rows if each.part == "reserve"),
        key=lambda each: (row is None or (each.crew, each.kind) != (row.crew, row.kind), each.position),
    )
    if not refused and not reserve:
        refused, then = "no reserve is left", "Every site of the lot is in the sample: see this one."
    if refused or row is None:
        raise ReplacementRefused(site=site, lot=lot, why=refused, next=then)
    chosen = replace(reserve[0], part="replacement", replaces=site, reason=reason, by=by)
    changed = tuple(chosen if each.site == chosen.site else each for each in drawn.rows)
    book.draws[lot] = replace(drawn, rows=changed)
    book.said.append(f"{chosen.site} stands in for {site}.")
    return account_of(book, lots=[lot]), draw_table(list(book.draws.values()), book.standing)


def _may_draw_again(last: Drawn, book: Book, *, again: bool) -> None:
    """Refuse a second draw unless the last one was rejected and somebody asks for a new sample."""
    if not again:
        raise LotDrawn(lot=last.name, at=f"{last.drawn_at:%Y-%m-%d %H:%M} UTC", seed=last.seed)
    judgement = judged_draw(last, book).judgement
    if judgement is None or judgement.outcome != "reject":
        told = {"accept": "it was accepted", "not_yet": "it is not yet decided"}
        raise NotRejected(lot=last.name, decision=told[judgement.outcome if judgement else "not_yet"])


def _still_open(lot: Lot, at: dt.datetime) -> list[str]:
    """Say so if a lot of a week is drawn before the week is over."""
    year, week, _ = at.isocalendar()
    if lot.name.endswith(f" {year}-W{week:02}"):
        return [f"The week of lot {lot.name} is not over: what is fitted after this draw is not covered by it."]
    return []
