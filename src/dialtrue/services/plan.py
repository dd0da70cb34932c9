"""Plan a programme: from the survey of the sites to what goes where, what is keyed, how it is proved."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from dialtrue.domain.contracts import MOUNTS, PLAN
from dialtrue.domain.planning.questions import Question
from dialtrue.domain.planning.settings import PlanSettings
from dialtrue.domain.pulse_chain.chain import FitSettings
from dialtrue.domain.pulse_chain.verdict import OUTCOMES
from dialtrue.domain.watch_result import RowProblem
from dialtrue.engine.port_groups import PortGroups, port_groups
from dialtrue.files.endpoint_sheets import Hardware, load_hardware
from dialtrue.files.findings import ARROW_TYPE
from dialtrue.files.plan_settings import plan_settings
from dialtrue.files.sheets import Catalogue, load_catalogue
from dialtrue.files.sites_in import read_sites
from dialtrue.services.plan_asking import Doubt, ask_groups, ask_once, asked_columns, left_out_questions, questions_of
from dialtrue.services.plan_choice import Choice, Chooser
from dialtrue.services.plan_columns import Planned
from dialtrue.services.plan_offers import Offers, offers_of
from dialtrue.services.plan_registers import Registers, registers_of
from dialtrue.services.plan_rows import plan_columns
from dialtrue.services.plan_use import billed_use_l_per_day
from dialtrue.services.survey import survey_folder

Ints = npt.NDArray[np.int64]

Progress = Callable[[str, int, int], None]
_STEP = "Planning"
_SPLIT_FROM = 2
"""Rank from which a shared endpoint is given up if apart is better: not known, or does not fit."""


@dataclass(frozen=True, slots=True)
class PlanAnswer:
    """A plan.

    Attributes
    ----------
    plan : pa.Table
        Contract table PLAN, one row a register in the order of ``sites``.
    sites : pa.Table
        The sites as read; rows that could not be read are left out of both.
    catalogue, hardware : Catalogue, Hardware
        The data sheets.
    questions : tuple of Question
        What must be asked, rows left out first, then the most frequent.
    said : tuple of str
        What reading the files brought up.
    counts : dict
        registers, sites, planned, ask, endpoints, ports, left_out.
    verdicts : dict
        Registers by outcome of the fit check.
    settings : PlanSettings
        What it was planned by.
    """

    plan: pa.Table
    sites: pa.Table
    catalogue: Catalogue
    hardware: Hardware
    questions: tuple[Question, ...]
    said: tuple[str, ...]
    counts: dict[str, int]
    verdicts: dict[str, int]
    settings: PlanSettings


def plan_folder(
    folder: Path,
    *,
    at: dt.datetime,
    sheets: Sequence[Path] = (),
    settings: PlanSettings | None = None,
    fit_settings: FitSettings | None = None,
    survey: bool = True,
    strict: bool = False,
    progress: Progress | None = None,
) -> PlanAnswer:
    """Plan every register of a programme.

    Parameters
    ----------
    folder : Path
        Programme folder, or a sites table alone.
    at : datetime
        The time of the run, aware, UTC.
    sheets : sequence of Path
        Data sheets besides the shipped ones and those of ``folder/hardware``.
    settings : PlanSettings, optional
        The table ``[plan]`` of the programme where None.
    fit_settings : FitSettings, optional
        What the fit check is judged by.
    survey : bool
        Look through the survey first (``services.survey``): a row with an open doubt is asked about. Only for a folder.
    strict : bool
        Refuse the table if any row is bad.
    progress : callable, optional
        Is told what is being done, how much of it, of how much.

    Returns
    -------
    PlanAnswer
        A register that cannot be planned has status ``ask`` and the question; all else that is known is filled in.

    Raises
    ------
    SheetFault, UnknownSheet
        A data sheet has faults, or a key of the settings is not known.
    DialtrueError
        The folder or a file cannot be used.

    Source
    ------
    See the modules of ``domain.planning``.
    """
    tell = progress or _silent
    tell(_STEP, 0, 3)
    own = folder / "hardware"
    paths = [*([own] if own.is_dir() else []), *sheets]
    catalogue = load_catalogue(paths)
    hardware = load_hardware(paths, inputs=catalogue.inputs)
    settings = settings or plan_settings(folder)
    table, log = read_sites(folder, at=at, strict=strict)
    tell(_STEP, 1, 3)
    flagged: list[Doubt] = []
    if survey and folder.is_dir():
        flagged = [Doubt(*doubt) for doubt in survey_folder(folder, at=at).doubts(table)]
    use = None
    if folder.is_dir() and table["use_l_per_day"].null_count:
        use = billed_use_l_per_day(folder, table, at=at)
    tell(_STEP, 2, 3)
    answer = plan_table(
        table,
        catalogue,
        hardware,
        settings=settings,
        fit_settings=fit_settings,
        said=log.notes,
        use_l_per_day=use,
        flagged=flagged,
        left_out=log.problems,
        left_out_count=sum(log.counts.values()),
    )
    tell(_STEP, 3, 3)
    return answer


def plan_table(
    table: pa.Table,
    catalogue: Catalogue,
    hardware: Hardware,
    *,
    settings: PlanSettings,
    fit_settings: FitSettings | None = None,
    said: Sequence[str] = (),
    use_l_per_day: npt.NDArray[np.float64] | None = None,
    flagged: Sequence[Doubt] = (),
    left_out: Sequence[RowProblem] = (),
    left_out_count: int = 0,
) -> PlanAnswer:
    """Plan a sites table.

    ``use_l_per_day``: expected use where the survey gives none, NaN where not known. ``flagged``: rows of which the
    survey has a doubt, with its question. ``left_out``: the first of the rows that could not be read;
    ``left_out_count``: how many there are.

    Raises
    ------
    UnknownSheet
        A key of the settings is not known.
    """
    registers = registers_of(table, catalogue, hardware, settings)
    if use_l_per_day is not None:
        given = registers.use_l_per_day
        registers.use_l_per_day = np.where(np.isnan(given), use_l_per_day, given)
    for doubt in flagged:
        registers.ask("survey", doubt.rows, doubt.says)
    fit_settings = fit_settings or FitSettings()
    offers = offers_of(registers, catalogue, hardware, settings, rollover_h=fit_settings.rollover_h)
    chooser = Chooser(registers, offers, catalogue, fit_settings)
    groups, choice = _grouped(registers, offers, chooser)
    fit, fit_at = chooser.verdicts(groups, choice)
    planned = Planned(table, registers, groups, offers, choice, fit, fit_at, catalogue, settings, fit_settings)
    ask_groups(planned)
    ask_once(registers, flagged)
    columns = plan_columns(planned)
    columns["questions"], columns["status"] = asked_columns(registers)
    plan = pa.table(
        [columns[column.name] for column in PLAN.columns],
        schema=pa.schema([(column.name, ARROW_TYPE[column.form]) for column in PLAN.columns]),
    )
    return PlanAnswer(
        plan,
        table,
        catalogue,
        hardware,
        (*left_out_questions(left_out, left_out_count), *questions_of(registers, table)),
        tuple(said),
        _counts(planned, plan) | {"left_out": left_out_count},
        {name: int(count) for name, count in zip(OUTCOMES, np.bincount(fit.outcome[fit_at], minlength=4), strict=True)},
        settings,
    )


def _grouped(registers: Registers, offers: Offers, chooser: Chooser) -> tuple[PortGroups, Choice]:
    """Group registers to endpoints; where a shared endpoint counts a register badly, try the meters apart."""
    most = _most_ports(registers, offers)

    def group(split: npt.NDArray[np.bool_] | None) -> PortGroups:
        return port_groups(
            site=registers.site,
            serial=registers.serial,
            role=registers.role,
            compound=registers.compound,
            mount=registers.mount,
            endpoint=registers.endpoint,
            most_ports=most,
            split=split,
        )

    groups = group(None)
    choice = chooser.choose(groups)
    meters = np.bincount(groups.group[np.unique(groups.unit, return_index=True)[1]], minlength=len(groups.size))
    doubtful = (meters > 1) & (choice.rank >= _SPLIT_FROM)
    if not doubtful.any():
        return groups, choice
    rows = doubtful[groups.group]
    apart = group(rows)
    alone = chooser.choose(apart)
    worst = np.zeros(len(groups.size), np.int8)
    np.maximum.at(worst, groups.group, alone.rank[apart.group])
    better = (worst < choice.rank)[groups.group] & rows
    if not better.any():
        return groups, choice
    groups = group(better)
    return groups, chooser.choose(groups)


def _most_ports(registers: Registers, offers: Offers) -> Ints:
    """Return the most ports of any endpoint on hand that sits at each row's mount and that the survey allows."""
    most = np.ones(registers.rows, np.int64)
    for offer in offers.offers:
        mounts = np.array([mount in offer.endpoint.mounts for mount in MOUNTS] + [False])
        good = mounts[registers.mount] & ((registers.endpoint < 0) | (registers.endpoint == offer.place))
        most = np.where(good, np.maximum(most, offer.endpoint.ports), most)
    return most


def _counts(planned: Planned, plan: pa.Table) -> dict[str, int]:
    """Return what the summary counts."""
    offer = planned.offer
    asked = int((np.asarray(plan["status"].to_numpy(zero_copy_only=False)) == "ask").sum())
    return {
        "registers": plan.num_rows,
        "sites": int(planned.registers.site.max(initial=-1)) + 1,
        "planned": plan.num_rows - asked,
        "ask": asked,
        "endpoints": int((planned.choice.offer >= 0).sum()),
        "ports": int((offer >= 0).sum()),
    }


def _silent(what: str, done: int, total: int) -> None:
    """Tell nobody."""
