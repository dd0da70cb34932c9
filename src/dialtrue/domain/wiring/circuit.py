"""The wiring as a circuit: a run from one register to one port, checked when it is made."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Final, Literal

from dialtrue.domain.pulse_chain.cable import Cable
from dialtrue.domain.pulse_chain.input import Input
from dialtrue.domain.pulse_chain.output import Output
from dialtrue.domain.wiring.ends import ROLE_WORDS, SCREEN_ENDS, Bridge, Conductor, Connection, Lead, Terminal

SIGNAL_LEADS: Final = {
    "dry_contact": ("lead:contact-1", "lead:contact-2"),
    "changeover": ("lead:normally-open", "lead:common"),
}
"""Leads that go to pulse + and pulse -; every other kind has leads of these names. A changeover output uses the
contact that is open at rest. Source: our assumption, an idle meter then seldom parks it closed; the other would do."""


def signal_leads(kind: str) -> tuple[str, str]:
    """Return the ids of the leads that belong to pulse + and pulse -."""
    return SIGNAL_LEADS.get(kind, ("lead:pulse+", "lead:pulse-"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One register, its cable and its port.

    Parameters
    ----------
    role : str
        ``single``, ``high`` or ``low``.
    port : int
        Port of the endpoint. [>= 1]
    output, input, cable : Output, Input, Cable
        The sheets it is drawn from.
    tamper_loop : str
        ``wired``, ``bridged`` or ``absent``.
    leads, conductors, terminals, bridges : tuple
        Everything that has an end.
    connections : tuple of Connection
        Every joint, cap and cut-back end.

    Raises
    ------
    ValueError
        A wire end that does not exist, is joined twice or not at all; a terminal that does not exist or takes two
        wires; a screen bonded at both ends; a lead that reaches another terminal than its own. A bug of ours.

    Source
    ------
    Definition; ``CP-WIRING`` for the screen.
    """

    role: str
    port: int
    output: Output
    input: Input
    cable: Cable
    tamper_loop: str
    leads: tuple[Lead, ...]
    conductors: tuple[Conductor, ...]
    terminals: tuple[Terminal, ...]
    bridges: tuple[Bridge, ...] = ()
    connections: tuple[Connection, ...] = ()

    def __post_init__(self) -> None:
        wires = Counter(end for joint in self.connections for end in joint.ends if not end.startswith("terminal:"))
        every = [lead.id for lead in self.leads]
        every += [end for wire in self.conductors for end in (wire.end("meter"), wire.end("endpoint"))]
        every += [end for bridge in self.bridges for end in bridge.ends]
        every += SCREEN_ENDS if self.cable.screen else ()
        if wires != Counter(every):
            odd = sorted((wires - Counter(every)) + (Counter(every) - wires))
            raise ValueError(f"wire ends not joined once each: {', '.join(odd)}")
        self._check_terminals()
        for lead, terminal in zip(signal_leads(self.output.kind), ("terminal:pulse+", "terminal:pulse-"), strict=True):
            reached = [end for end in self.joined_to(lead) if end.startswith(("terminal:pulse", "lead:"))]
            if sorted(reached) != sorted([lead, terminal]):
                raise ValueError(f"{lead} reaches {', '.join(sorted(reached))}, expected {terminal}")
        bonded = [end for end in SCREEN_ENDS if self.joint_of(end).kind == "terminal"] if self.cable.screen else []
        if len(bonded) > 1:
            raise ValueError("the screen is bonded at both ends")

    def _check_terminals(self) -> None:
        """Refuse a terminal that does not exist, takes two wires, or stands empty where it must not."""
        known = {terminal.id for terminal in self.terminals}
        used = Counter[str]()
        for joint in self.connections:
            taken = [end for end in joint.ends if end.startswith("terminal:")]
            used.update(taken)
            if (joint.kind == "terminal") != (len(taken) == 1 and len(joint.ends) == 2):
                raise ValueError(f"a terminal takes one wire, not {joint.ends}")
        must = known - {"terminal:screen"}
        if not must <= set(used) <= known or any(count > 1 for count in used.values()):
            raise ValueError(f"terminals used {dict(used)}, there are {sorted(known)}")

    def joint_of(self, end: str) -> Connection:
        """Return the connection that holds a wire end; KeyError where none does."""
        for joint in self.connections:
            if end in joint.ends:
                return joint
        raise KeyError(end)

    def joined_to(self, start: str) -> frozenset[str]:
        """Return everything that conducts to a wire end or terminal while the output is open."""
        wires = [(wire.end("meter"), wire.end("endpoint")) for wire in self.conductors]
        wires += [bridge.ends for bridge in self.bridges]
        groups = [*wires, *(joint.ends for joint in self.connections)]
        reached, grown = {start}, True
        while grown:
            more = {end for group in groups if reached & set(group) for end in group} - reached
            reached |= more
            grown = bool(more)
        return frozenset(reached)

    @property
    def title(self) -> str:
        """Return which register goes to which port."""
        return f"{ROLE_WORDS[self.role].capitalize()} to port {self.port}"

    def lead(self, id_: str) -> Lead:
        """Return a lead by id."""
        return next(lead for lead in self.leads if lead.id == id_)

    def conductor(self, id_: str) -> Conductor:
        """Return the conductor of an id or of one of its ends."""
        return next(wire for wire in self.conductors if wire.id == id_.partition("@")[0])

    def terminal(self, id_: str) -> Terminal:
        """Return a terminal by id."""
        return next(terminal for terminal in self.terminals if terminal.id == id_)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing to do; ``basis`` is ``sheet``, or ``common practice`` where no sheet and no standard says it."""

    text: str
    basis: Literal["sheet", "common practice"]
    role: str = "single"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wiring:
    """A wiring that can be drawn: one run, or the two of a compound meter, high first.

    ``steps`` are in the order the hands work; ``warnings`` are what must not be overlooked.
    """

    runs: tuple[Run, ...]
    steps: tuple[Step, ...]
    warnings: tuple[str, ...]

    @property
    def title(self) -> str:
        """Return what is joined, in a line."""
        return "; ".join(run.title for run in self.runs)


@dataclass(frozen=True, slots=True, kw_only=True)
class NotDrawn:
    """No drawing, because it would mislead.

    Parameters
    ----------
    outcome : str
        ``refused``: these parts do not go together; ``not_known``: something must be known first.
    rule : str
        Rule of the fit check (``kinds``, ``conductors``), or ``tamper_loop``.
    reason : str
        In words, as the fit check says it.
    ask : tuple of str
        What must be known, or what would make it drawable.
    """

    outcome: Literal["refused", "not_known"]
    rule: str
    reason: str
    ask: tuple[str, ...] = ()
    role: str = "single"
    port: int = 1

    @property
    def sentence(self) -> str:
        """Return reason and what next in a line or two."""
        head = "Not drawn" if self.outcome == "refused" else "Not known"
        return " ".join((f"{head}: {self.reason}.", *self.ask))
