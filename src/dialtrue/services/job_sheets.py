"""Job sheets of a programme: plan it, gather registers by site, add the route, draw the wiring."""

from __future__ import annotations

import datetime as dt
import difflib
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa

from dialtrue.domain.errors import NoSheetsLeft, SiteNotPlanned
from dialtrue.domain.job_sheet.compose import SheetWords, compose_sheets
from dialtrue.domain.job_sheet.label import Label, labels_for
from dialtrue.domain.job_sheet.register_plan import RegisterPlan
from dialtrue.domain.job_sheet.settings import PaperSettings
from dialtrue.domain.job_sheet.sheet import JobSheet, Stop
from dialtrue.domain.words import counted, printable
from dialtrue.files.paper_settings import paper_settings
from dialtrue.files.route_table import read_routes
from dialtrue.files.settings import programme_zone
from dialtrue.services.plan import plan_folder
from dialtrue.services.sheet_plan import SheetPlan, folder_plan, plan_in_file
from dialtrue.services.sheet_rows import counts_said, register_plans, stops_of
from dialtrue.services.sheet_wiring import WiringDrawer

Progress = Callable[[str, int, int], None]
METRIC_UNITS = ("L", "m3")
NEAREST_NAMED = 3


@dataclass(frozen=True, slots=True)
class SheetsAnswer:
    """The sheets and labels of a programme as data.

    ``paper`` is the size to print on; ``settings`` what the programme says of its paper; ``said`` what reading the
    files brought up; ``sentence`` the result in one sentence.
    """

    sheets: tuple[JobSheet, ...]
    labels: tuple[Label, ...]
    paper: str
    settings: PaperSettings
    said: tuple[str, ...]
    sentence: str

    @property
    def asking(self) -> tuple[JobSheet, ...]:
        """The sheets with questions on top."""
        return tuple(sheet for sheet in self.sheets if sheet.status == "ask")


def sheets_folder(
    folder: Path,
    *,
    at: dt.datetime,
    sites: Sequence[str] = (),
    day: str = "",
    crew: str = "",
    plan: Path | None = None,
    routes: Path | None = None,
    paper: str = "",
    hardware: Sequence[Path] = (),
    strict: bool = False,
    progress: Progress | None = None,
) -> SheetsAnswer:
    """Prepare the job sheets and labels of a programme.

    Parameters
    ----------
    folder : Path
        Programme folder, or a sites table alone.
    at : datetime
        The time of the run, aware, UTC.
    sites : sequence of str
        Only these sites; empty: all.
    day, crew : str
        Only the visits of this day (ISO 8601) and crew.
    plan : Path, optional
        A plan that stands in a file; where None, ``plan`` of the folder if it is there, else the programme is planned
        as its settings say.
    routes : Path, optional
        A routes table; where None, ``routes`` of the folder if it is there. With one, sheets follow its order and
        sites without a visit come last.
    paper : str
        ``letter`` or ``a4``; blank: as the programme says, or by the units of its dials.
    hardware : sequence of Path
        Data sheets besides the shipped ones and those of ``folder/hardware``.
    strict : bool
        Refuse a table that has a bad row.
    progress : callable, optional
        Is told ``(what, done, total)``.

    Returns
    -------
    SheetsAnswer

    Raises
    ------
    PortMissing, PortTaken, PortsExchanged
        A plan in a file does not give every register a port of its own, or exchanges high and low.
    SiteNotPlanned
        A site of ``sites`` is not in the table; the error names the nearest.
    NoSheetsLeft
        Nothing is left to print.
    DialtrueError
        The folder, a file or a setting cannot be used.

    Source
    ------
    See ``domain.job_sheet``.
    """
    settings = paper_settings(folder)
    file = plan or folder_plan(folder)
    if file is not None:
        planned = plan_in_file(file, folder, at=at, hardware=hardware, strict=strict)
    else:
        answer = plan_folder(folder, at=at, sheets=hardware, strict=strict, progress=progress)
        told = list(answer.said)
        if answer.counts.get("left_out"):
            rows = counted(answer.counts["left_out"], "row")
            told.append(f"No sheet for {rows} of the sites that cannot be used; dialtrue survey says why.")
        planned = SheetPlan(answer.sites, answer.plan, answer.catalogue, answer.hardware, tuple(told))
    zone = programme_zone(folder)[0] if folder.is_dir() else "UTC"
    table: pa.Table | None = None
    said: tuple[str, ...] = ()
    if routes is not None or folder.is_dir():
        table, said = read_routes(routes or folder, at=at, zone=zone, strict=strict)
    return sheets_of_plan(
        planned, settings=settings, routes=table, zone=zone, sites=sites, day=day, crew=crew, paper=paper, said=said
    )


def sheets_of_plan(
    planned: SheetPlan,
    *,
    settings: PaperSettings | None = None,
    routes: pa.Table | None = None,
    zone: str = "UTC",
    sites: Sequence[str] = (),
    day: str = "",
    crew: str = "",
    paper: str = "",
    said: Sequence[str] = (),
) -> SheetsAnswer:
    """Prepare the job sheets and labels of a plan; parameters and errors as ``sheets_folder``."""
    settings = settings or PaperSettings()
    every = register_plans(planned.sites, planned.plan)
    stops = stops_of(routes, zone=zone) if routes is not None else {}
    wanted = _wanted(every, stops, sites=sites, day=day, crew=crew, routed=routes is not None)
    metric = _metric(every)
    words = SheetWords(
        titles=_titles(planned, metric=metric),
        units={key: part.unit for key, part in planned.hardware.parts.items()},
        stops=stops,
        show_account=settings.show_account,
        draw=WiringDrawer(planned.catalogue, planned.hardware),
    )
    sheets = compose_sheets(wanted, words=words, around=every)
    size = paper or settings.paper or ("a4" if metric else "letter")
    ask = sum(sheet.status == "ask" for sheet in sheets)
    known = {plan.site for plan in every}
    strangers = [site for site in stops if site not in known]
    told = [*planned.said, *said]
    if strangers:
        told.append(
            f"routes: {counted(len(strangers), 'site')} not in the sites table, such as {printable(strangers[0])}."
        )
    sentence = counts_said(len(sheets), ask, len(wanted))
    return SheetsAnswer(sheets, labels_for(wanted), size, settings, tuple(told), sentence)


def _metric(plans: Sequence[RegisterPlan]) -> bool:
    """Return whether most dials count litres or cubic metres."""
    units = Counter(plan.dial_unit in METRIC_UNITS for plan in plans)
    return units[True] > units[False]


def _titles(planned: SheetPlan, *, metric: bool) -> dict[str, str]:
    """Return what every data sheet is called, in the units of the programme."""
    titles: dict[str, str] = {}
    for sheets in (planned.catalogue.outputs, planned.catalogue.cables):
        titles |= {key: sheet.title for key, sheet in sheets.items()}
    for held in (planned.hardware.endpoints, planned.hardware.parts):
        titles |= {key: (sheet.title_metric if metric else "") or sheet.title for key, sheet in held.items()}
    return {key: title for key, title in titles.items() if title}


def _wanted(
    every: Sequence[RegisterPlan],
    stops: dict[str, Stop],
    *,
    sites: Sequence[str],
    day: str,
    crew: str,
    routed: bool,
) -> list[RegisterPlan]:
    """Return the registers to print, in the order of the route where there is one."""
    known = dict.fromkeys(plan.site for plan in every)
    for site in sites:
        if site not in known:
            near = difflib.get_close_matches(site, known, n=NEAREST_NAMED, cutoff=0.3) or list(known)[:NEAREST_NAMED]
            raise SiteNotPlanned(site=printable(site)[:60], nearest=", ".join(printable(name) for name in near))
    named = set(sites)
    chosen = [plan for plan in every if not sites or plan.site in named]
    if (day or crew) and routed:
        chosen = [plan for plan in chosen if _visited(stops.get(plan.site), day, crew)]
    elif crew:
        raise NoSheetsLeft(
            why=f"there is no routes table that says where crew {printable(crew)[:60]} goes",
            next="Write one with dialtrue routes, or name it with --routes.",
        )
    elif day:
        chosen = [plan for plan in chosen if plan.visit_day[:10] == day]
    if not chosen:
        raise NoSheetsLeft(why=_why_none(day, crew, routed), next=_days_said(every, stops))
    if stops:
        place = {site: nth for nth, site in enumerate(stops)}
        chosen.sort(key=lambda plan: place.get(plan.site, len(place)))
    return chosen


def _visited(stop: Stop | None, day: str, crew: str) -> bool:
    """Return whether a visit is of this day and crew; blank: any."""
    return stop is not None and day in ("", stop.day) and crew in ("", stop.crew)


def _why_none(day: str, crew: str, routed: bool) -> str:
    """Say why no sheet is left."""
    if not day and not crew:
        return "the sites table has no usable row; dialtrue survey says why"
    whose = f" of crew {printable(crew)[:60]}" if crew else ""
    when = f" on {printable(day)[:20]}" if day else ""
    where = "the routes table" if routed else "the column visit_day of sites"
    return f"no visit{whose}{when} stands in {where}"


def _days_said(every: Sequence[RegisterPlan], stops: dict[str, Stop]) -> str:
    """Say which days and crews there are."""
    days = sorted({stop.day for stop in stops.values()} or {plan.visit_day[:10] for plan in every} - {""})
    crews = sorted({stop.crew for stop in stops.values()})
    if not days:
        return "Leave out --day and --crew, or plan the days with dialtrue routes."
    crewed = f"; crews: {', '.join(printable(crew) for crew in crews[:8])}" if crews else ""
    return f"Days with visits: {', '.join(days[:8])}{' …' if len(days) > 8 else ''}{crewed}."
