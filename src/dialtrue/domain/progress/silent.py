"""Ports without a fresh read, and what is done first about each: from the desk where that may settle it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Final, Literal

from dialtrue.domain.words import counted, day_text

Step = Literal["record", "serial", "other_port", "reach", "cell", "activation", "visit"]

STEP_TITLES: Final[dict[Step, str]] = {
    "record": "one serial at two meters: correct the record first",
    "serial": "a serial much like it is heard: check the record",
    "other_port": "its other port is heard: check the port",
    "reach": "neighbours are silent too: collector or route first",
    "cell": "a low cell was told: exchange it",
    "activation": "never heard: check activation and serial",
    "visit": "visit, with the list",
}
"""Steps in the order in which they are taken; the first that fits decides. Our assumption: what a desk can settle, and
what settles several ports at once, goes before a drive."""


@dataclass(frozen=True, slots=True)
class SilentSigns:
    """What is known of a port without a fresh read.

    ``last_heard`` is None where it was never heard. ``other_meters`` bear the same endpoint serial on record;
    ``near_serials`` are heard and fitted nowhere; ``near_silent`` of ``near_all`` endpoints around it are silent.
    """

    last_heard: dt.datetime | None
    low_battery: bool = False
    other_meters: tuple[str, ...] = ()
    near_serials: tuple[str, ...] = ()
    other_port_heard: int | None = None
    near_silent: int = 0
    near_all: int = 0


@dataclass(frozen=True, slots=True)
class SilentPort:
    """A port without a fresh read: who it is, since when, and the next step in words."""

    site: str
    area: str
    meter_serial: str
    register_role: str
    endpoint_serial: str
    port: int
    fitted_at: dt.datetime | None
    last_heard: dt.datetime | None
    step: Step
    says: str


def next_step(signs: SilentSigns, *, cluster: int) -> tuple[Step, str]:
    """Return what to do first about a silent port, and the sentence that says so.

    Parameters
    ----------
    signs : SilentSigns
        What is known of it.
    cluster : int
        Silent endpoints near each other from which they may have one cause. [endpoints]

    Returns
    -------
    tuple of str and str

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption: see ``STEP_TITLES``.

    Examples
    --------
    >>> next_step(SilentSigns(None), cluster=3)[0]
    'activation'
    """
    heard = "Never heard" if signs.last_heard is None else f"Last heard {day_text(signs.last_heard)}"
    if signs.other_meters:
        meters = ", ".join(signs.other_meters[:3])
        return "record", f"{heard}. Recorded at {meters} too: read both labels, correct the record, then look again."
    if signs.last_heard is None and signs.near_serials:
        near = ", ".join(signs.near_serials[:3])
        return "serial", f"{heard}, but {near} is heard and fitted nowhere on record: compare label and record."
    if signs.other_port_heard is not None:
        return "other_port", (
            f"{heard}, while port {signs.other_port_heard} of the same endpoint is: check that the port is switched on "
            "and recorded, then its wires."
        )
    if signs.low_battery:
        return "cell", f"{heard}, after an alarm of a low cell: exchange the cell, or the endpoint, at one visit."
    if signs.near_silent >= cluster and 2 * signs.near_silent >= signs.near_all:
        return "reach", (
            f"{heard}; {signs.near_silent:,} of {counted(signs.near_all, 'endpoint')} around it are silent: look at "
            "the collector or drive the route again before anybody opens a lid."
        )
    if signs.last_heard is None:
        return "activation", f"{heard}: check in the record whether it was activated and its serial is right."
    return "visit", f"{heard}, alone: visit, with dial read, antenna and cell on the list."
