"""The plan that job sheets are printed from: made now, or read from a file that somebody has looked through."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa

from dialtrue.domain.contracts import PLAN
from dialtrue.domain.errors.input_files import FileUnreadable
from dialtrue.domain.planning.ports import PlannedPort, check_planned_ports
from dialtrue.domain.words import counted, printable
from dialtrue.files.endpoint_sheets import Hardware, load_hardware
from dialtrue.files.locate import SUFFIXES
from dialtrue.files.normalise import normalise
from dialtrue.files.problems import ProblemLog
from dialtrue.files.programme import read_raw
from dialtrue.files.sheets import Catalogue, load_catalogue
from dialtrue.files.sites_in import read_sites


@dataclass(frozen=True, slots=True)
class SheetPlan:
    """Sites and plan, row by row of the same registers, with the data sheets they name and what is to be said."""

    sites: pa.Table
    plan: pa.Table
    catalogue: Catalogue
    hardware: Hardware
    said: tuple[str, ...] = ()


def plan_in_file(
    plan: Path, folder: Path, *, at: dt.datetime, hardware: Sequence[Path] = (), strict: bool = False
) -> SheetPlan:
    """Read a plan from a file and put its rows beside those of the sites.

    Parameters
    ----------
    plan : Path
        A plan of the contract.
    folder : Path
        Programme folder, or a sites table alone.
    at : datetime
        The time of the run, aware.
    hardware : sequence of Path
        Data sheets besides the shipped ones and those of ``folder/hardware``.
    strict : bool
        Refuse a table that has a bad row.

    Returns
    -------
    SheetPlan
        In the order of the plan. Planned registers that the sites no longer hold, and registers of the sites that are
        not planned, are left out and said.

    Raises
    ------
    PortMissing, PortTaken, PortsExchanged
        A planned register without a port of its own, or a compound meter whose ports are exchanged. A meter with a
        question open may lack its ports.
    DialtrueError
        A file cannot be used.

    Source
    ------
    The file contract.
    """
    if not plan.is_file():
        raise FileUnreadable(file=str(plan), reason="there is no such file")
    log = ProblemLog()
    held = normalise(read_raw(plan, PLAN), PLAN, log, zone="UTC", at=at)
    if strict:
        log.refuse()
    sites, sites_log = read_sites(folder, at=at, strict=strict)
    _check_ports(held)
    place = {key: row for row, key in enumerate(_keys(sites))}
    kept, rows, gone = [], [], []
    planned = _keys(held)
    for nth, key in enumerate(planned):
        if key in place:
            kept.append(nth)
            rows.append(place[key])
        else:
            gone.append(key)
    own = folder / "hardware"
    paths = [*([own] if own.is_dir() else []), *hardware]
    catalogue = load_catalogue(paths)
    said = [problem.says() for problem in (*log.problems, *sites_log.problems)] + log.notes + sites_log.notes
    if gone:
        site, serial, _ = gone[0]
        said.append(
            f"{plan.name}: {counted(len(gone), 'planned register')} not in the sites, such as meter "
            f"{printable(serial)} at {printable(site)}: left out."
        )
    among = set(planned)
    new = [key for key in place if key not in among]
    if new:
        site, serial, _ = new[0]
        said.append(
            f"{plan.name}: {counted(len(new), 'register')} of the sites not in the plan, such as meter "
            f"{printable(serial)} at {printable(site)}: no sheet. Plan again."
        )
    loaded = load_hardware(paths, inputs=catalogue.inputs)
    return SheetPlan(
        sites.take(pa.array(rows, pa.int64())), held.take(pa.array(kept, pa.int64())), catalogue, loaded, tuple(said)
    )


def _keys(table: pa.Table) -> list[tuple[str, str, str]]:
    """Return the name of each row's register."""
    return list(zip(*(table[name].to_pylist() for name in ("site", "meter_serial", "register_role")), strict=True))


def folder_plan(folder: Path) -> Path | None:
    """Return the plan that stands in a programme folder, None where there is none. Never raises."""
    names = [folder / f"{PLAN.name}{suffix}" for suffix in SUFFIXES] if folder.is_dir() else []
    return next((path for path in names if path.is_file()), None)


def _check_ports(plan: pa.Table) -> None:
    """Refuse ports that are missing, taken twice or exchanged, of the meters that have no question open."""
    names = ("site", "meter_serial", "register_role", "endpoint_number", "port")
    rows = [PlannedPort(*row) for row in zip(*(plan[name].to_pylist() for name in names), strict=True)]
    asked = {
        (row.site, row.meter_serial)
        for row, status in zip(rows, plan["status"].to_pylist(), strict=True)
        if status == "ask" and row.port is None
    }
    check_planned_ports([row for row in rows if (row.site, row.meter_serial) not in asked])
