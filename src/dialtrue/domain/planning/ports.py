"""Ports: which register goes on which, and whether a plan gives every register one of its own."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from dialtrue.domain.errors import PortMissing, PortsExchanged, PortTaken
from dialtrue.domain.words import counted

PORT_OF_ROLE: Final[dict[str, int]] = {"high": 1, "low": 2}
"""Port of a compound meter's registers, always. Our rule: one habit for every crew, printed on sheet and label."""

COMPOUND_RULE: Final = "HIGH on port 1, LOW on port 2"
SECOND_REGISTER: Final = "compound: second register has no port"


@dataclass(frozen=True, slots=True)
class PlannedPort:
    """One register and where a plan puts it; endpoint and port None where it has none."""

    site: str
    meter_serial: str
    register_role: str
    endpoint_number: int | None
    port: int | None


def port_label(role: str, port: int) -> str:
    """Return what stands on the label of a port. Never raises. Source: our own words.

    Examples
    --------
    >>> port_label("high", 1), port_label("single", 2)
    ('PORT 1 = HIGH', 'PORT 2')
    """
    return f"PORT {port}" if role == "single" else f"PORT {port} = {role.upper()}"


def check_planned_ports(ports: Iterable[PlannedPort]) -> None:
    """Refuse a plan in which a register has no port, a port has two registers, or a compound meter is turned round.

    Parameters
    ----------
    ports : iterable of PlannedPort
        Every register of the sites.

    Returns
    -------
    None

    Raises
    ------
    PortMissing, PortTaken, PortsExchanged
        The first fault found, with site and meter.

    Source
    ------
    Trade story 3; the fixed rule of ``PORT_OF_ROLE`` is ours.
    """
    taken: dict[tuple[str, int, int], int] = {}
    of_meter: dict[tuple[str, str], list[PlannedPort]] = {}
    for planned in ports:
        of_meter.setdefault((planned.site, planned.meter_serial), []).append(planned)
        if planned.port is not None:
            place = (planned.site, planned.endpoint_number or 1, planned.port)
            taken[place] = taken.get(place, 0) + 1
    for (site, serial), registers in of_meter.items():
        _check_meter(f"site {site}, meter {serial}", registers)
    for (site, endpoint, port), count in taken.items():
        if count > 1:
            raise PortTaken(place=f"site {site}", port=port, endpoint=endpoint, count=count)


def _check_meter(place: str, registers: Sequence[PlannedPort]) -> None:
    """Check the registers of one meter."""
    compound = any(planned.register_role != "single" for planned in registers)
    without = [planned for planned in registers if planned.port is None]
    if without:
        second = compound and len(without) < len(registers)
        raise PortMissing(place=place, what=SECOND_REGISTER if second else "the register has no port")
    if not compound:
        return
    if len({planned.endpoint_number for planned in registers}) > 1:
        raise PortsExchanged(place=place, what="compound: its two registers are planned on two endpoints")
    for planned in registers:
        wanted = PORT_OF_ROLE.get(planned.register_role)
        if wanted is not None and planned.port != wanted:
            role = planned.register_role
            raise PortsExchanged(place=place, what=f"compound: the {role} register is planned on port {planned.port}")


def check_port_count(registers: Iterable[tuple[str, str, str]], ports: int) -> None:
    """Refuse a count of ports that is not one a register.

    Parameters
    ----------
    registers : iterable of (site, meter_serial, register_role)
        Every register of the sites.
    ports : int
        Ports that somebody counted. [0 or more]

    Returns
    -------
    None

    Raises
    ------
    PortMissing
        Too few. Where the count is that of the meters, it names the compound meter whose second register was left out.

    Source
    ------
    Trade story 3: twelve ports for eleven single meters and one compound are refused.
    """
    rows = list(registers)
    if ports >= len(rows):
        return
    seen: set[tuple[str, str]] = set()
    seconds = []
    for site, serial, _ in rows:
        if (site, serial) in seen:
            seconds.append(f"site {site}, meter {serial}")
        seen.add((site, serial))
    short = len(rows) - ports
    if seconds and short <= len(seconds):
        raise PortMissing(place="; ".join(seconds[:3]), what=SECOND_REGISTER)
    raise PortMissing(
        place=f"{counted(ports, 'port')} for {counted(len(rows), 'register')}",
        what=f"{counted(short, 'register')} would have none",
    )
