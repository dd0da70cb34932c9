"""Faults between ports: endpoints crossed, ports swapped, serials doubled, a register without a port.

Source
------
Volumes are exchanged by pulses: a crossed channel turns the other register's pulses into index with its own setting.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from dialtrue.engine.simulation.port import SOUND, Port
from dialtrue.engine.simulation.sky import DAY_S


@dataclass(slots=True)
class Tie:
    """How one port stands in the records.

    ``endpoint`` and ``number`` are serial and port as recorded; ``sent_as`` the serial under which its reads arrive
    (None: they never do); ``heard`` the place, in the group, of the port whose reads the record leads to (None: none).
    ``on_record`` is False where the fittings hold no row.
    """

    endpoint: str
    number: int
    sent_as: str | None
    heard: int | None
    on_record: bool = True
    true_endpoint: str = ""
    true_number: int = 0


def straight_ties(ports: list[Port]) -> list[Tie]:
    """Return the ties of ports that are recorded as they stand."""
    return [
        Tie(port.spec.endpoint_serial, port.spec.port, port.spec.endpoint_serial, place)
        for place, port in enumerate(ports)
    ]


def cross_counts(ports: list[Port]) -> None:
    """Let each port count the pulses of the next register in the ring."""
    crossed = []
    for place, port in enumerate(ports):
        other = ports[(place + 1) % len(ports)]
        theirs = other.pulses(port.marks_s, from_s=port.fitted_s)
        since_s = port.fate.onset_s
        if since_s > port.fitted_s and port.fate.code == "crossed":
            # Exchanged at a later job: each counts its own until then.
            before = other.pulses(np.array([since_s]), from_s=port.fitted_s)[0]
            own = port.pulses(np.minimum(port.marks_s, since_s))
            theirs = own + np.maximum(theirs - before, 0)
        crossed.append(theirs)
    for port, counts in zip(ports, crossed, strict=True):
        own = int(port.counts[-1]) * port.spec.face.weight_l
        port.parameter = round(float(int(counts[-1]) * port.actual.weight_l / own), 6) if own else None
        port.counts = counts


def tie_crossed(ports: list[Port], rng: np.random.Generator) -> tuple[list[Tie], str]:
    """Cross the wires, or the records, of a ring; return the ties and which of the two it was."""
    ties = straight_ties(ports)
    size = len(ports)
    kind = "wires" if rng.random() < 0.6 else "records"
    if any(port.spec.face != ports[0].spec.face or port.recorded != ports[0].recorded for port in ports):
        kind = "wires"  # records of unlike endpoints exchanged would not pass the desk
    if any(port.fate.onset_s > port.fitted_s for port in ports):
        kind = "wires"
    if kind == "wires":
        cross_counts(ports)
        for place, tie in enumerate(ties):
            counted_by = ports[(place - 1) % size].spec
            tie.true_endpoint, tie.true_number = counted_by.endpoint_serial, counted_by.port
    else:
        for place, (port, tie) in enumerate(zip(ports, ties, strict=True)):
            other = (place + 1) % size
            tie.true_endpoint, tie.true_number = port.spec.endpoint_serial, port.spec.port
            tie.endpoint, tie.number, tie.heard = ports[other].spec.endpoint_serial, ports[other].spec.port, other
            passed = int(port.counts[-1]) * port.spec.face.weight_l
            theirs = int(ports[other].counts[-1]) * ports[other].spec.face.weight_l
            port.parameter = round(float(theirs / passed), 6) if passed else None
    for port in ports:
        port.variant = kind if size == 2 else f"{kind}_ring_of_{size}"
    return ties, kind


def tie_duplicate(ports: list[Port], rng: np.random.Generator) -> list[Tie]:
    """Give the second meter the first one's endpoint serial: on the label itself, or only in the record."""
    ties = straight_ties(ports)
    first, second = ties
    second.endpoint = first.endpoint
    second.true_endpoint = ports[1].spec.endpoint_serial
    if rng.random() < 0.5:
        second.sent_as = first.endpoint
        ports[0].variant = ports[1].variant = "both_send_it"
        later = 1 if ports[1].marks_s[-1] > ports[0].marks_s[-1] else 0
        first.heard = second.heard = later
    else:
        ports[0].variant = ports[1].variant = "typed_twice"
        second.heard = 0
    return ties


def tie_unread(ports: list[Port], place: int, rng: np.random.Generator) -> list[Tie]:
    """Leave one side of a compound meter without reads: no row in the record, or a port that never speaks."""
    ties = straight_ties(ports)
    tie = ties[place]
    tie.sent_as, tie.heard = None, None
    tie.on_record = rng.random() < 0.6
    ports[place].variant = "no_reads" if tie.on_record else "no_record"
    return ties


def split_at_exchange(port: Port, rng: np.random.Generator, at_s: int) -> tuple[Port, Port]:
    """Split a sound port at an exchange on record: of the endpoint (the dial runs on) or of the whole meter."""
    before, after = port.marks_s < at_s, port.marks_s >= at_s
    spec = port.spec
    turned = int(port.turned_ul(np.array([at_s]))[0])
    if spec.exchange == "endpoint" or port.fate.code == "start_slip":
        later = replace(spec, endpoint_serial=str(int(spec.endpoint_serial) + 30_000_000), fitted_s=at_s)
        dial_ul = port.dial_ul + turned
    else:
        later = replace(spec, meter_serial=f"9{spec.meter_serial[1:]}", fitted_s=at_s)
        dial_ul = int(rng.uniform(0, 3e9))
    variant = f"{spec.exchange}_exchanged_on_record"
    if port.fate.code == "start_slip":
        # The old endpoint fell silent some days before it was replaced, and its last value was carried over.
        carried_s = at_s - int(rng.uniform(4, 25) * DAY_S)
        heard = port.marks_s < max(carried_s, int(port.marks_s[1]))
        last_s = int(port.marks_s[heard][-1])
        silent = replace(
            port, fate=SOUND, marks_s=port.marks_s[heard], removed_s=at_s, end_s=at_s, variant="fell_silent"
        )
        silent.alarms = [(last_s - DAY_S, "low_battery")] if rng.random() < 0.5 else []
        fate = replace(port.fate, onset_s=at_s)
        carried = replace(
            port, spec=replace(later, phase_ul=int(rng.random() * float(spec.face.weight_l) * 1e6)), fate=fate,
            marks_s=port.marks_s[after], dial_ul=dial_ul, carried_s=last_s, alarms=[],
        )  # fmt: skip
        return silent, carried
    old = replace(port, marks_s=port.marks_s[before], removed_s=at_s, end_s=at_s, variant=variant)
    new = replace(
        port,
        spec=replace(later, phase_ul=int(rng.random() * float(spec.face.weight_l) * 1e6)),
        marks_s=port.marks_s[after],
        dial_ul=dial_ul,
        variant=variant,
    )
    return old, new
