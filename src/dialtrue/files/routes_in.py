"""The tables that day routes are laid from: sites, fittings, crews, distances and the plan."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import pyarrow as pa

from dialtrue.domain.contracts import CREWS, DISTANCES, FITTINGS, PLAN, SITES, Table
from dialtrue.domain.errors.input_files import FileUnreadable
from dialtrue.files.locate import SUFFIXES, locate
from dialtrue.files.normalise import normalise
from dialtrue.files.problems import ProblemLog
from dialtrue.files.programme import check_accepted, read_raw
from dialtrue.files.repairs_file import read_decisions
from dialtrue.files.serials import offer_serial_repairs
from dialtrue.files.settings import programme_zone

_TABLES: Final = (SITES, FITTINGS, CREWS, DISTANCES)


@dataclass(frozen=True, slots=True)
class RouteTables:
    """What the folder holds of what routes need; ``files`` names the file of each table that is there."""

    timezone: str
    tables: dict[str, pa.Table]
    files: dict[str, str]
    log: ProblemLog


def read_route_tables(
    folder: Path, *, at: dt.datetime, plan: Path | None = None, strict: bool = False, accept: Sequence[str] = ()
) -> RouteTables:
    """Read what routes need of a programme folder.

    Parameters
    ----------
    folder : Path
        Holds ``sites``; may hold ``fittings``, ``crews``, ``distances`` and ``plan``.
    at : datetime
        The time of the run, aware.
    plan : Path, optional
        The plan, where it is not in the folder under its own name.
    strict : bool
        Refuse all if any row is bad.
    accept : sequence of str
        Repairs to make, by key, besides those that ``repairs.csv`` in the folder accepts.

    Returns
    -------
    RouteTables
        Good rows only; ``log`` says what was left out.

    Raises
    ------
    FileUnreadable
        There are no sites.
    RowsRefused
        ``strict`` and a row is bad.
    UnknownRepair
        A key was accepted that nothing offers.
    DialtrueError
        A file cannot be used; see ``errors/input_files.py``, exit codes 10 to 19.
    """
    found = locate(folder)
    if "sites" not in found:
        raise FileUnreadable(file=str(folder), reason="the folder holds no sites table")
    zone, word = programme_zone(folder)
    log = ProblemLog(accept=tuple(accept), decisions=read_decisions(folder))
    paths = {table.name: found[table.name][0] for table in _TABLES if table.name in found}
    plan_path = plan or _plan_in(folder)
    if plan_path is not None:
        paths["plan"] = plan_path
    tables = {
        table.name: _read(paths[table.name], table, log, zone=zone, at=at)
        for table in (*_TABLES, PLAN)
        if table.name in paths
    }
    files = {name: path.name for name, path in paths.items()}
    repaired = {name: tables[name] for name in ("sites", "fittings") if name in tables}
    offer_serial_repairs(repaired, files, log)
    tables |= repaired
    log.say_decisions(tuple(tables))
    if word is not None and log.naive_seen:
        log.note(word)
    if strict:
        log.refuse()
    check_accepted(log)
    return RouteTables(zone, tables, files, log)


def _read(path: Path, table: Table, log: ProblemLog, *, zone: str, at: dt.datetime) -> pa.Table:
    return normalise(read_raw(path, table), table, log, zone=zone, at=at)


def _plan_in(folder: Path) -> Path | None:
    """Return the plan that stands in the folder under its own name."""
    return next((path for suffix in SUFFIXES if (path := folder / f"plan{suffix}").is_file()), None)
