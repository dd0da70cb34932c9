"""Check a plan, from whomever it comes: every register of the sites has a port of its own."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pyarrow as pa

from dialtrue.domain.contracts import PLAN
from dialtrue.domain.errors.input_files import FileUnreadable
from dialtrue.domain.planning.ports import PlannedPort, check_planned_ports, check_port_count
from dialtrue.files.normalise import normalise
from dialtrue.files.problems import ProblemLog
from dialtrue.files.programme import read_raw
from dialtrue.files.sites_in import read_sites


def check_ports(sites: pa.Table, ports: int | pa.Table) -> None:
    """Refuse a count of ports, or a plan, that does not give every register of the sites a port of its own.

    Parameters
    ----------
    sites : pa.Table
        Sites in the contract's form.
    ports : int or pa.Table
        Ports that somebody counted, or a plan in the contract's form.

    Raises
    ------
    PortMissing, PortTaken, PortsExchanged
        The first fault found.

    Source
    ------
    Trade story 3.
    """
    names = ("site", "meter_serial", "register_role")
    rows = list(zip(*(sites[name].to_pylist() for name in names), strict=True))
    if isinstance(ports, int):
        check_port_count(rows, ports)
        return
    columns = (*names, "endpoint_number", "port")
    planned = [PlannedPort(*row) for row in zip(*(ports[name].to_pylist() for name in columns), strict=True)]
    known = {(held.site, held.meter_serial, held.register_role) for held in planned}
    left_out = [
        PlannedPort(site, serial, role, None, None) for site, serial, role in rows if (site, serial, role) not in known
    ]
    check_planned_ports([*planned, *left_out])


def check_plan_file(plan: Path, sites: Path, *, at: dt.datetime) -> int:
    """Check the ports of a plan that stands in a file.

    Parameters
    ----------
    plan : Path
        A plan of the contract: site, meter_serial, register_role, endpoint_number and port are looked at.
    sites : Path
        Programme folder, or a sites table alone.
    at : datetime
        The time of the run, aware.

    Returns
    -------
    int
        Registers checked.

    Raises
    ------
    PortMissing, PortTaken, PortsExchanged
        The first fault found.
    DialtrueError
        A file cannot be used.

    Source
    ------
    Trade story 3.
    """
    if not plan.is_file():
        raise FileUnreadable(file=str(plan), reason="there is no such file")
    log = ProblemLog()
    held = normalise(read_raw(plan, PLAN), PLAN, log, zone="UTC", at=at)
    table, _ = read_sites(sites, at=at)
    check_ports(table, held)
    return int(table.num_rows)
