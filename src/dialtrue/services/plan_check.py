"""Check a plan, from whomever it comes: every register of the sites has a port of its own."""

from __future__ import annotations

import pyarrow as pa

from dialtrue.domain.planning.ports import PlannedPort, check_planned_ports, check_port_count


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
