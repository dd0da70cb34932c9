"""From three data sheets to a wiring, or to the reason why there is none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, Literal

from dialtrue.domain.hardware.endpoint import ENDPOINT_LOOPS
from dialtrue.domain.pulse_chain.cable import Cable
from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.input import Input
from dialtrue.domain.pulse_chain.margins import can_drive
from dialtrue.domain.pulse_chain.output import Output
from dialtrue.domain.pulse_chain.wire_ends import (
    LEAD_ROLES,
    LOOP_LEADS,
    LOOP_TERMINALS,
    PULSE_TERMINALS,
    SheetLead,
    SheetTerminal,
)
from dialtrue.domain.pulse_chain.words import cannot_drive
from dialtrue.domain.wiring.circuit import NotDrawn, Run, Wiring, signal_leads
from dialtrue.domain.wiring.ends import ROLE_WORDS, SCREEN_ENDS, Bridge, Conductor, Connection, Lead, Sure, Terminal
from dialtrue.domain.wiring.steps import steps_of, warnings_of

LOOP_CHOICES: Final = ("wired", "bridged", "absent")
WIRES_NEEDED: Final = {"none": 2, "two_wire": 4, "shared": 3}
"""Conductors for the pulse pair and a wired loop. Source: definition; the fit check's rule ``conductors``."""
PLUS_COLOURS: Final = ("red", "brown")
"""Colours that go to pulse + where the sheet of the output does not decide. Source: ``CP-WIRING``."""


def wiring_of(
    output: Output,
    input: Input,
    cable: Cable,
    *,
    role: str = "single",
    port: int = 1,
    tamper_loop: str | None = None,
    endpoint_loop: str | None = None,
) -> Wiring | NotDrawn:
    """Lay the wiring from one register to one port.

    Parameters
    ----------
    output, input, cable : Output, Input, Cable
        Data sheets; the ``NOT_KNOWN`` ones stand for what is missing.
    role : str
        ``single``, or ``high`` or ``low`` of a compound meter.
    port : int
        Port of the endpoint. [>= 1]
    tamper_loop : str or None
        ``wired``, ``bridged`` or ``absent``. None: wired where the cable has conductors enough, else bridged; absent
        where the input has no loop.
    endpoint_loop : str or None
        ``tamper_loop`` of the endpoint's sheet: ``none``, ``per_endpoint`` (its terminals are on port 1) or
        ``per_port``. A port without terminals of the loop is drawn as absent. None: as the sheet of the input says.

    Returns
    -------
    Wiring or NotDrawn
        ``NotDrawn`` where the fit check's rule ``kinds`` refuses the pair, where a sheet is missing, or where the loop
        cannot be left as asked.

    Raises
    ------
    ValueError
        ``role``, ``port``, ``tamper_loop`` or ``endpoint_loop`` is none of those above.

    Source
    ------
    ``CP-WIRING``; the colours are those of the sheets.

    Examples
    --------
    >>> from dialtrue.domain.pulse_chain.cable import Cable
    >>> from dialtrue.domain.pulse_chain.input import Input
    >>> from dialtrue.domain.pulse_chain.output import Output
    >>> reed, radio = Output(key="reed", kind="dry_contact"), Input(key="radio", kind="pull_up")
    >>> laid = wiring_of(reed, radio, Cable(key="pair", colours=("black", "red")))
    >>> laid.title
    'Meter to port 1'
    >>> wiring_of(reed, Input(key="logic", kind="voltage"), Cable(key="pair")).reason
    'a contact cannot drive a logic input without pull-up'
    """
    if role not in ROLE_WORDS or port < 1 or tamper_loop not in (None, *LOOP_CHOICES):
        raise ValueError(f"role {role!r}, port {port!r}, tamper_loop {tamper_loop!r}")
    if endpoint_loop not in (None, *ENDPOINT_LOOPS):
        raise ValueError(f"endpoint_loop {endpoint_loop!r}")
    if endpoint_loop == "none" or (endpoint_loop == "per_endpoint" and port > 1):
        input, tamper_loop = _without_loop(input), None
    refused = _refused(output, input, cable, tamper_loop)
    if refused is not None:
        outcome, rule, reason, ask = refused
        return NotDrawn(outcome=outcome, rule=rule, reason=reason, ask=ask, role=role, port=port)
    run = _run(output, input, cable, role, port, tamper_loop or _loop_left(input, cable))
    return _wiring((run,))


def _without_loop(entry: Input) -> Input:
    """Return the input as a port without terminals of a tamper loop."""
    kept = tuple(item for item in entry.terminals if not item.function.startswith("loop"))
    return replace(entry, tamper_loop="none", terminals=kept)


def side_by_side(wirings: Sequence[Wiring]) -> Wiring:
    """Put the wirings of a compound meter's registers in one, the high register first.

    Parameters
    ----------
    wirings : sequence of Wiring
        Each of its own register and port.

    Returns
    -------
    Wiring
        With steps and warnings of both, and a caution against exchanging them.

    Raises
    ------
    ValueError
        Two runs have the same register or the same port.

    Source
    ------
    Definition.
    """
    runs = sorted((run for wiring in wirings for run in wiring.runs), key=lambda run: (run.role != "high", run.port))
    if len({run.role for run in runs}) < len(runs) or len({run.port for run in runs}) < len(runs):
        raise ValueError("each register has its own port: " + ", ".join(run.title for run in runs))
    return _wiring(tuple(runs))


def _wiring(runs: tuple[Run, ...]) -> Wiring:
    """Return runs with what is said of them."""
    return Wiring(runs=runs, steps=steps_of(runs), warnings=warnings_of(runs))


Refused = tuple[Literal["refused", "not_known"], str, str, tuple[str, ...]]


def _refused(output: Output, entry: Input, cable: Cable, tamper_loop: str | None) -> Refused | None:
    """Return why no wiring is drawn, None where it can be."""
    drives = can_drive(Chain(output=output, input=entry, cable=cable))
    if drives == 0.0:
        chain = Chain(output=output, input=entry, cable=cable)
        return "refused", "kinds", cannot_drive(chain), ("Take an input of the right kind, or another output.",)
    missing = [
        (output.kind == "not_known", "the output: contact, transistor, active or two-wire sensor, from its sheet"),
        (entry.kind == "not_known", "the endpoint's input: its data sheet"),
        (not cable.key, "the cable: how many conductors, their colours, a screen or none"),
    ]
    unknown = [what for absent, what in missing if absent]
    if unknown:
        find_out = tuple(f"Find out {what}." for what in unknown)
        return "not_known", "kinds", "a wrong guess would mislead", find_out
    if tamper_loop is None:
        return None
    if entry.tamper_loop == "none" and tamper_loop != "absent":
        ask = ("Plan it as absent, or say in the sheet which loop it has.",)
        return "refused", "tamper_loop", "the sheet of this input has no tamper loop", ask
    if entry.tamper_loop != "none" and tamper_loop == "absent":
        reason = "this input has a tamper loop, and left open it alarms from the first day"
        return "refused", "tamper_loop", reason, ("Wire it, or bridge it and write that down.",)
    needed = WIRES_NEEDED[entry.tamper_loop]
    if tamper_loop == "wired" and cable.conductors < needed:
        reason = f"the cable has {cable.conductors} wires, the pulse pair and the tamper loop need {needed} wires"
        return "refused", "conductors", reason, (f"Take a cable of {needed}, or bridge the loop and write that down.",)
    return None


def _loop_left(entry: Input, cable: Cable) -> str:
    """Return how the loop is left where nobody says."""
    if entry.tamper_loop == "none":
        return "absent"
    return "wired" if cable.conductors >= WIRES_NEEDED[entry.tamper_loop] else "bridged"


def _run(output: Output, entry: Input, cable: Cable, role: str, port: int, loop: str) -> Run:
    """Return the run with every end joined."""
    leads, conductors, terminals = _leads(output), _conductors(cable), _terminals(entry, port)
    pulse, rest = _pulse_pair(output, leads, conductors, cable)
    joints: list[Connection] = []
    bridges: tuple[Bridge, ...] = ()
    at_meter: dict[str, list[str]] = {}
    for lead, wire, function in zip(signal_leads(output.kind), pulse, PULSE_TERMINALS, strict=True):
        at_meter[wire.id] = [lead, wire.end("meter")]
        joints.append(Connection("terminal", "endpoint", (wire.end("endpoint"), f"terminal:{function}")))
    used = {lead for ends in at_meter.values() for lead in ends}
    if loop == "wired":
        own = [lead.id for lead in leads if lead.role in LOOP_LEADS]
        count = len(LOOP_TERMINALS[entry.tamper_loop])
        wires, rest = rest[:count], rest[count:]
        for wire, function in zip(wires, LOOP_TERMINALS[entry.tamper_loop], strict=True):
            joints.append(Connection("terminal", "endpoint", (wire.end("endpoint"), f"terminal:{function}")))
        if entry.tamper_loop == "shared":
            at_meter[pulse[1].id].append(wires[0].end("meter"))
        elif own:
            at_meter |= {wire.id: [lead, wire.end("meter")] for lead, wire in zip(own, wires, strict=True)}
            used |= set(own)
        else:
            at_meter[wires[0].id] = [wire.end("meter") for wire in wires]
    elif loop == "bridged":
        bridges, joints = _bridged(entry, joints)
    joints = [Connection("splice", "meter", tuple(ends)) for ends in at_meter.values()] + joints
    joints += [Connection("cap", "meter", (lead.id,)) for lead in leads if lead.id not in used]
    for wire in rest:
        joints += [Connection("cap", "meter", (wire.end("meter"),))]
        joints += [Connection("cap", "endpoint", (wire.end("endpoint"),))]
    if cable.screen:
        joints.append(Connection("cut-back", "meter", SCREEN_ENDS[:1]))
        placed = any(terminal.function == "screen" for terminal in terminals)
        held: tuple[str, ...] = (SCREEN_ENDS[1], "terminal:screen") if placed else SCREEN_ENDS[1:]
        joints.append(Connection("terminal" if placed else "cut-back", "endpoint", held))
    return Run(
        role=role, port=port, output=output, input=entry, cable=cable, tamper_loop=loop, leads=leads,
        conductors=conductors, terminals=terminals, bridges=bridges, connections=tuple(joints),
    )  # fmt: skip


def _bridged(entry: Input, joints: list[Connection]) -> tuple[tuple[Bridge, ...], list[Connection]]:
    """Return the jumper that closes the loop at the endpoint; a shared loop closes to pulse - by way of a tail."""
    jumper, tail = Bridge("jumper"), Bridge("tail")
    first = Connection("terminal", "endpoint", (jumper.ends[0], "terminal:loop-out"))
    if entry.tamper_loop == "two_wire":
        second = Connection("terminal", "endpoint", (jumper.ends[1], "terminal:loop-back"))
        return (jumper,), [*joints, first, second]
    minus = next(joint for joint in joints if "terminal:pulse-" in joint.ends)
    others = [joint for joint in joints if joint is not minus]
    shared = Connection("splice", "endpoint", (minus.ends[0], jumper.ends[1], tail.ends[0]))
    return (jumper, tail), [
        *others,
        shared,
        Connection("terminal", "endpoint", (tail.ends[1], "terminal:pulse-")),
        first,
    ]


def _sure(name: str, usual: frozenset[str], colour: str) -> Sure:
    """Return how well a colour is known."""
    if not colour:
        return ""
    return "usual" if name in usual else "declared"


def _leads(output: Output) -> tuple[Lead, ...]:
    """Return the leads of an output, in the order of their roles where the sheet is silent."""
    listed = output.leads or tuple(SheetLead(role) for role in LEAD_ROLES[output.kind])
    found: list[Lead] = []
    for lead in listed:
        number = 1 + sum(other.role == lead.role for other in found)
        found.append(Lead(lead.role, lead.colour, _sure("leads", output.usual, lead.colour), number))
    return tuple(found)


def _conductors(cable: Cable) -> tuple[Conductor, ...]:
    """Return the conductors of a cable, numbered by us from 1 in the order of the sheet."""
    colours = cable.colours or ("",) * cable.conductors
    return tuple(
        Conductor(number, colour, _sure("colours", cable.usual, colour)) for number, colour in enumerate(colours, 1)
    )


def _terminals(entry: Input, port: int) -> tuple[Terminal, ...]:
    """Return the terminals of a port; those of its functions where the sheet is silent."""
    silent = tuple(SheetTerminal(name) for name in (*PULSE_TERMINALS, *LOOP_TERMINALS[entry.tamper_loop]))
    return tuple(
        Terminal(item.function, port, item.label.replace("{port}", str(port))) for item in entry.terminals or silent
    )


def _pulse_pair(
    output: Output, leads: tuple[Lead, ...], conductors: tuple[Conductor, ...], cable: Cable
) -> tuple[tuple[Conductor, Conductor], list[Conductor]]:
    """Return the conductors for pulse + and pulse -, and the others pair by pair.

    The first pair of the cable carries the pulse. Within it a conductor of the lead's own colour goes first, then red
    or brown to plus, then the order of the sheet.
    """
    order = sorted(conductors, key=lambda wire: (cable.pairs[wire.number - 1] if cable.pairs else 0, wire.number))
    one, two = order[:2]
    colours = {lead.id: lead.colour for lead in leads}
    plus, minus = (colours[lead] for lead in signal_leads(output.kind))

    def rank(first: Conductor, second: Conductor) -> int:
        same = sum(bool(want) and wire.colour == want for wire, want in ((first, plus), (second, minus)))
        return 2 * same + (first.colour in PLUS_COLOURS)

    pair = (two, one) if rank(two, one) > rank(one, two) else (one, two)
    return pair, order[2:]
