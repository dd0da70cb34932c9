"""Plan the days of the crews: which sites, in which order, at what time, and how good that is."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from pathlib import Path

import pyarrow as pa

from dialtrue.domain.errors.routes import NothingToRoute
from dialtrue.domain.routing.day_shape import NoPlace
from dialtrue.domain.routing.reasons import REASONS
from dialtrue.domain.routing.route_settings import RouteSettings
from dialtrue.domain.routing.routes_result import RoutesAnswer
from dialtrue.engine.routing.search import Search
from dialtrue.files.routes_in import RouteTables, read_route_tables
from dialtrue.files.routes_settings import route_settings
from dialtrue.services.plan import plan_folder
from dialtrue.services.route_blocks import Roads, plan_blocks
from dialtrue.services.route_crews import crews_of, days_out
from dialtrue.services.route_visits import SiteVisits, site_visits

_US_UNITS = ("gal", "ft3", "ccf", "kgal", "acre_ft")


def route_folder(
    folder: Path,
    *,
    at: dt.datetime,
    first_day: dt.date,
    days: int = 1,
    seconds: float = 10.0,
    iterations: int | None = None,
    seed: int = 1,
    crews: Sequence[str] = (),
    plan: Path | None = None,
    fitted_too: bool = False,
    system: str = "",
    strict: bool = False,
    accept: Sequence[str] = (),
    stop_asked: Callable[[], bool] = lambda: False,
    progress: Callable[[str, int, int], None] | None = None,
) -> RoutesAnswer:
    """Lay day routes for a programme folder.

    Parameters
    ----------
    folder : Path
        Holds ``sites``; may hold ``plan``, ``crews``, ``distances``, ``fittings`` and ``programme.toml``.
    at : datetime
        The time of the run, aware.
    first_day : date
        First day; later ones are the working days after it.
    days : int
        How many days. [>= 1]
    seconds : float
        Longest search, shared by all blocks of days. [s, >= 0]
    iterations : int, optional
        Rounds of the search in place of seconds: the same input and seed then give the same routes anywhere.
    seed : int
        Seed of the search.
    crews : sequence of str
        Crews that go out; all by default.
    plan : Path, optional
        The plan, where it is not ``plan.csv`` or ``plan.parquet`` in the folder. Without any, one is made.
    fitted_too : bool
        Visit sites too that have their endpoints already.
    system : str
        ``us`` or ``metric`` for distances in words; by default as most dials are printed.
    strict : bool
        Refuse all if any row is bad.
    accept : sequence of str
        Repairs to make, by key.
    stop_asked : callable
        Asked between rounds of the search; True ends it with the best so far.
    progress : callable, optional
        ``(what, done, total)``.

    Returns
    -------
    RoutesAnswer
        Every visit is in a day or, with its reason, in ``no_place``.

    Raises
    ------
    NothingToRoute
        No site is left to visit.
    NoCrew, UnknownCrew, DistancesOfNowhere, ExtraMissing
        See ``errors/routes.py``.
    DialtrueError
        A file cannot be used; see ``errors/input_files.py``, exit codes 10 to 19.

    Source
    ------
    ``engine.routing``; drives and times on site: ``RouteSettings``, our assumptions.
    """
    settings = route_settings(folder)
    held = read_route_tables(folder, at=at, plan=plan, strict=strict, accept=accept)
    tables = held.tables
    said = []
    if "plan" not in tables:
        tables["plan"] = plan_folder(folder, at=at, survey=False).plan
        said.append("There is no plan.csv: minutes, parts and skills come from a plan made on the spot.")
    found = site_visits(
        tables["sites"],
        plan=tables["plan"],
        fittings=None if fitted_too else tables.get("fittings"),
        job_minutes=settings.job_minutes,
    )
    found.said[:0] = said
    if not found.visits and not found.no_place:
        raise _nothing(folder, found)
    return _planned(
        held, found, settings, days_out(first_day, days, settings), crews=crews, system=system,
        search=Search(seconds, iterations, seed, stop_asked, progress),
    )  # fmt: skip


def _planned(
    held: RouteTables,
    found: SiteVisits,
    settings: RouteSettings,
    days: tuple[dt.date, ...],
    *,
    crews: Sequence[str],
    system: str,
    search: Search,
) -> RoutesAnswer:
    """Plan visits that are known."""
    tables = held.tables
    visits = tuple(found.visits)
    team = crews_of(
        tables.get("crews"), file=held.files.get("crews", "crews"), visits=visits, settings=settings, only=crews
    )
    roads = Roads(tuple(team.crews), visits, settings, tables.get("distances"), file=held.files.get("distances", ""))
    blocks = plan_blocks(roads, days, search, later_day_s=60.0 * settings.later_day_minutes)
    summary = blocks.summary(seed=search.seed, done=found.done, visits=len(visits) + len(found.no_place))
    no_place = sorted([*found.no_place, *blocks.no_place], key=_reason_order(found, blocks.no_place))
    said = [*found.said, *team.said, *roads.said, *held.log.notes]
    if held.log.repairs:
        count = len(held.log.repairs)
        said.append(f"{count:,} repairs are offered and not made: dialtrue survey lists them, --accept KEY makes one.")
    if found.done:
        said.insert(0, f"{found.done:,} sites have their endpoints already and are left out; --all plans them too.")
    return RoutesAnswer(
        visits=visits, days=tuple(blocks.days), no_place=tuple(no_place), summary=summary, said=tuple(said),
        bad_rows=dict(held.log.counts), problems=tuple(held.log.problems), timezone=held.timezone,
        system=system or _system(tables["sites"]),
    )  # fmt: skip


def _reason_order(found: SiteVisits, later: Sequence[NoPlace]) -> Callable[[NoPlace], tuple[int, int]]:
    """Sort by reason as ``REASONS`` lists them, but what is not on the map goes last; else as found."""
    order = [*(code for code in REASONS if code != "no_coordinates"), "no_coordinates"]
    place = {id(item): k for k, item in enumerate([*found.no_place, *later])}
    return lambda item: (order.index(item.reason), place[id(item)])


def _nothing(folder: Path, found: SiteVisits) -> NothingToRoute:
    """Say why there is nothing."""
    if found.done:
        why = f"All {found.done:,} sites have their endpoints already."
        return NothingToRoute(folder=str(folder), why=why, how="Add --all to plan them nevertheless.")
    return NothingToRoute(
        folder=str(folder), why="The sites table has no usable row.", how="Put the rows right that are named above."
    )


def _system(sites: pa.Table) -> str:
    """Tell US from metric by what most dials are printed in."""
    units = sites["dial_unit"].to_pylist() if "dial_unit" in sites.column_names else []
    return "us" if 2 * sum(unit in _US_UNITS for unit in units) >= len(units) else "metric"


def van_days(answer: RoutesAnswer) -> dict[str, tuple[str, dt.date]]:
    """Return for each site that has a place the crew and the day; for kits and sheets.

    Parameters
    ----------
    answer : RoutesAnswer

    Returns
    -------
    dict
        Site to crew and day, in the order in which they are driven. Sites without a place are not in it.

    Raises
    ------
    Never raises.
    """
    return {
        answer.visits[stop.visit].site: (day.times.crew.name, day.times.day)
        for day in answer.days
        for stop in day.times.stops
    }
