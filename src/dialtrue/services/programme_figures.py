"""The figures of a programme: how far it is, how well it reads, what is at stake and what came back."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from zoneinfo import ZoneInfo

from dialtrue.domain.contracts import ROLES
from dialtrue.domain.faults import COLUMN, FAULTS
from dialtrue.domain.progress.account import GROUPED_BY, Group, Indicator, PairState, ProgrammeFigures, State
from dialtrue.domain.progress.indicators import indicator, lag_indicator, override_indicator
from dialtrue.domain.progress.rate import Rate
from dialtrue.domain.progress.settings import FiguresSettings
from dialtrue.domain.words import counted, day_text
from dialtrue.files.figures_settings import figures_settings
from dialtrue.services.base_rates import tie_checks
from dialtrue.services.figures_jobs import Job, is_fault, jobs_of
from dialtrue.services.figures_money import causes_of, delays_of, months_of, put_right_of, recovered_of, stakes_of
from dialtrue.services.figures_silent import fresh_at, silent_ports
from dialtrue.services.figures_watch import Watched, watched
from dialtrue.services.fleet_records import moment_of

Progress = Callable[[str, int, int], None]
STATES: tuple[State, ...] = ("proved", "put_right", "to_prove", "doubtful")
PAIRS: tuple[PairState, ...] = ("agrees", "differs", "too_little", "no_index", "due", "overdue", "not_yet")


def programme_figures(
    folder: Path,
    *,
    at: dt.datetime,
    as_of: dt.datetime | None = None,
    findings: Path | None = None,
    adjustments: Path | None = None,
    settings: FiguresSettings | None = None,
    accept: Sequence[str] = (),
    progress: Progress | None = None,
) -> ProgrammeFigures:
    """Work out the figures of a programme.

    Parameters
    ----------
    folder : Path
        Programme folder of plain files.
    at : datetime
        The time of the run, aware, UTC.
    as_of : datetime, optional
        Use only what was known at this moment.
    findings : Path, optional
        Findings as ``dialtrue watch`` wrote them; the folder is judged where None.
    adjustments : Path, optional
        Adjustments as ``dialtrue settle`` wrote them.
    settings : FiguresSettings, optional
        The table ``[figures]`` of the programme where None.
    accept : sequence of str
        Repairs to make, as ``open_programme`` takes them.
    progress : callable, optional
        Called as ``progress(what, done, total)``.

    Returns
    -------
    ProgrammeFigures

    Raises
    ------
    NothingToWatch
        The folder has neither fittings nor reads.
    DialtrueError
        The folder or a file cannot be used.

    Source
    ------
    Definitions; ranges to expect in ``domain.progress.indicators``.

    Notes
    -----
    Registers are counted, not sites: a compound meter has two. Where the last read is older than ``fresh_days``, ages
    are counted back from it, and that is said: else a folder of last year would have no port that reads.
    """
    settings = settings or figures_settings(folder)
    look = watched(folder, at=at, as_of=as_of, findings=findings, accept=accept, progress=progress)
    moment, said = _moment(look, as_of or at, settings)
    if as_of is not None and findings is not None:
        said.append(f"The findings stand as in {findings.name}, whatever was known on {day_text(as_of)}.")
    jobs, told = jobs_of(look, settings, moment=moment)
    said += told
    standing = [job for job in jobs if job.standing]
    planned, back, opened, outside, told = _plan(look, standing, settings)
    said += told
    quiet = [job for job in standing if not fresh_at(job, moment, settings.fresh_days)]
    edge = moment - dt.timedelta(days=settings.fresh_days)
    new = {id(job) for job in quiet if job.last_heard is None and job.fitted_at > edge}
    quiet = [job for job in quiet if id(job) not in new]
    due = [job for job in standing if id(job) not in new]
    sites = look.programme.tables.get("sites")
    attempted = Rate(back, back + len(standing) - outside)
    told_status = sites is not None and settings.status_column in sites.column_names
    unit = _unit(look)
    pairs = Counter(job.pair for job in standing)
    recovered = None
    if adjustments is not None:
        recovered, told = recovered_of(adjustments, unit=unit, zone=look.programme.timezone, at=at)
        said += told
    months, recent = months_of(standing, moment)
    confirmed, waiting, both = delays_of(jobs, moment)
    reading = Rate(len(due) - len(quiet), len(due))
    checked = "checks" in look.programme.tables
    rework = _rework(jobs, settings, checked=checked)
    right = _first_time_right(jobs, settings, moment, checked=checked)
    states = Counter(job.state for job in standing)
    proof = Rate(states["proved"] + states["put_right"], len(standing))
    return ProgrammeFigures(
        moment=moment,
        settings=settings,
        unit=unit,
        planned=planned,
        fitted=len(standing),
        outside=outside,
        turned_back=back if told_status else None,
        open=opened,
        states={state: states[state] for state in STATES},
        look_asked=sum(_look_asked(job) for job in standing),
        reading=reading,
        too_new=len(new),
        silent=tuple(silent_ports(standing, quiet, look, settings)),
        pairs={state: pairs[state] for state in PAIRS},
        proof=proof,
        rework=rework,
        first_time_right=right,
        confirmed_days=confirmed,
        waiting_days=waiting,
        all_days=both,
        stakes=stakes_of(standing),
        put_right_l=put_right_of(standing),
        recovered=recovered,
        causes=causes_of(standing),
        months=months,
        recent=recent,
        groups=_groups(jobs, new, quiet, settings, moment, checked=checked),
        indicators=_indicators(
            look, settings, back=attempted if told_status else None, reading=reading, rework=rework, right=right,
            proof=proof, pairs=pairs,
        ),
        said=(*said, *look.said),
    )  # fmt: skip


def _moment(look: Watched, at: dt.datetime, settings: FiguresSettings) -> tuple[dt.datetime, list[str]]:
    """Return the moment that ages are counted back from."""
    if not look.reads:
        return at, ["There are no reads: every port counts as silent."]
    last = moment_of(look.last_us)
    if at - last <= dt.timedelta(days=settings.fresh_days):
        return at, []
    return last, [
        f"The last read of all is of {day_text(last)}, {counted((at - last).days, 'day')} before this run: the "
        "collector, the import or this folder stands still. Ages are counted back from that read."
    ]


def _plan(
    look: Watched, standing: Sequence[Job], settings: FiguresSettings
) -> tuple[int | None, int, int, int, list[str]]:
    """Return how many registers are planned, turned back, open, and fitted outside the list."""
    sites = look.programme.tables.get("sites")
    if sites is None:
        return None, 0, 0, 0, ["There is no list of sites: how much is planned is not known."]
    fitted = {job.register for job in standing}
    ever = {(meter, role) for meter, role in zip(look.records.fleet.meter_serial, look.records.fleet.role, strict=True)}
    names = sites.column_names
    column = settings.status_column if settings.status_column in names else None
    status = sites[column].to_pylist() if column else [None] * sites.num_rows
    roles = sites["register_role"].to_pylist()
    words = {_plain(word) for word in settings.turned_back}
    planned: dict[tuple[str, str], str] = {}
    for meter, role, word in zip(sites["meter_serial"].to_pylist(), roles, status, strict=True):
        planned[meter, role or ROLES[0]] = _plain(word)
    turned = {register for register, word in planned.items() if word in words}
    said = []
    both = len(turned & fitted)
    if both:
        said.append(f"{counted(both, 'register')} marked as turned back are fitted: the fitting counts.")
    gone = len(((planned.keys() & ever) - fitted) - turned)
    if gone:
        said.append(f"{counted(gone, 'register')} had an endpoint that was taken off and have none now; they are open.")
    if column is None:
        said.append(f"sites has no column {settings.status_column}: what was turned back counts as open.")
    outside = len(fitted - planned.keys())
    if outside:
        said.append(f"{counted(outside, 'fitted register')} stand on no list of sites; they are not in the plan.")
    back = len(turned - fitted)
    return len(planned), back, len(planned.keys() - fitted) - back, outside, said


def _plain(word: object) -> str:
    return "" if word is None else str(word).strip().lower()


def _unit(look: Watched) -> str:
    sites = look.programme.tables.get("sites")
    units = Counter(sites["dial_unit"].drop_null().to_pylist() if sites is not None else [])
    return units.most_common(1)[0][0] if units else "L"


def _look_asked(job: Job) -> bool:
    finding = job.finding
    return finding is not None and finding.action != "none" and not is_fault(finding.fault)


def _rework(jobs: Sequence[Job], settings: FiguresSettings, *, checked: bool) -> Rate | None:
    if not checked:
        return None
    return Rate(sum(job.fault_within(settings.rework_days, put_right=True) for job in jobs), len(jobs))


def _first_time_right(
    jobs: Sequence[Job], settings: FiguresSettings, moment: dt.datetime, *, checked: bool
) -> Rate | None:
    if not checked:
        return None
    edge = moment - dt.timedelta(days=settings.rework_days)
    old = [job for job in jobs if job.fitted_at <= edge]
    return Rate(sum(not job.fault_within(settings.rework_days) for job in old), len(old))


def _groups(
    jobs: Sequence[Job],
    new: set[int],
    quiet: Sequence[Job],
    settings: FiguresSettings,
    moment: dt.datetime,
    *,
    checked: bool,
) -> dict[str, tuple[Group, ...]]:
    """Return the figures by crew, area, hardware and lot, in the order of names; those with no name at all left out."""
    silent = {id(job) for job in quiet}
    groups: dict[str, tuple[Group, ...]] = {}
    for by in GROUPED_BY:
        names: dict[str, list[Job]] = {}
        for job in jobs:
            names.setdefault(job.by[by], []).append(job)
        if not any(names):
            continue
        made = []
        for name in sorted(names, key=lambda each: (each == "", each)):
            of = names[name]
            now = [job for job in of if job.standing]
            due = [job for job in now if id(job) not in new]
            states = Counter(job.state for job in now)
            made.append(
                Group(
                    name or "not recorded", len(now), {state: states[state] for state in STATES},
                    Rate(sum(id(job) not in silent for job in due), len(due)), _rework(of, settings, checked=checked),
                    _first_time_right(of, settings, moment, checked=checked),
                )
            )  # fmt: skip
        groups[by] = tuple(made)
    return groups


def _indicators(
    look: Watched,
    settings: FiguresSettings,
    *,
    back: Rate | None,
    reading: Rate,
    rework: Rate | None,
    right: Rate | None,
    proof: Rate,
    pairs: Counter[PairState],
) -> tuple[Indicator, ...]:
    """Return the indicators of the trade in their order."""
    days = {
        name: getattr(settings, name) for name in ("fresh_days", "rework_days", "pair_from_days", "pair_to_days")
    }  # fmt: skip
    due = sum(pairs[state] for state in ("agrees", "differs", "too_little", "no_index", "overdue"))
    shares: dict[str, Rate | None] = {
        "turn_back": back, "first_time_right": right, "rework": rework, "reading": reading, "proof": proof,
        "second_pair": Rate(pairs["agrees"], due), "precision": _precision(look),
    }  # fmt: skip
    made = [indicator(key, rate, enough=settings.enough, days=days) for key, rate in shares.items()]
    lag = lag_indicator(_lags(look, settings), enough=settings.enough)
    return (*made[:6], lag, *made[6:], override_indicator())


def _precision(look: Watched) -> Rate | None:
    """Return how many of the looks that a finding led to found a fault."""
    table = look.programme.tables.get("checks")
    if table is None or not table.num_rows:
        return None
    tied, _ = tie_checks(table.filter([why == "finding" for why in table["why"].to_pylist()]), look.records)
    sound = {COLUMN[code] for code in FAULTS if not is_fault(code)}
    return Rate(sum(code not in sound for code in tied.found.tolist()), len(tied.found))


def _lags(look: Watched, settings: FiguresSettings) -> list[float]:
    """Return the days from fitting to record, of the fittings whose record says when it came in."""
    table = look.programme.tables.get("fittings")
    if table is None or settings.recorded_column not in table.column_names:
        return []
    zone = ZoneInfo(look.programme.timezone)
    lags = []
    columns = (table["fitted_at"].to_pylist(), table[settings.recorded_column].to_pylist())
    for fitted, text in zip(*columns, strict=True):
        try:
            recorded = dt.datetime.fromisoformat(str(text))
        except ValueError:
            continue
        recorded = recorded if recorded.tzinfo is not None else recorded.replace(tzinfo=zone)
        if fitted is not None and recorded >= fitted:
            lags.append((recorded - fitted).total_seconds() / 86_400)
    return lags
