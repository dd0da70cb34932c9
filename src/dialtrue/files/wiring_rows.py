"""The lines of the wiring picture: which lead, conductors and terminal stand on one height."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from dialtrue.domain.wiring.circuit import Run, signal_leads
from dialtrue.domain.wiring.ends import TERMINAL_WORDS, Conductor, Lead, Terminal

FEW_SPARE: Final = 2
"""Spare conductors that are drawn one by one; more of them share a row."""


@dataclass(slots=True)
class Row:
    """One line of the picture: what stands on it at each side."""

    lead: Lead | None = None
    wires: list[Conductor] = field(default_factory=list)
    terminal: Terminal | None = None
    screen: bool = False


def rows_of(run: Run) -> list[Row]:
    """Return the rows: pulse pair, spare leads, tamper loop, spare conductors, screen."""
    by_terminal = {joint.ends[1]: joint.ends[0] for joint in run.connections if joint.kind == "terminal"}
    by_wire = {
        end.partition("@")[0]: joint.ends[0]
        for joint in run.connections
        if joint.kind == "splice" and joint.ends[0].startswith("lead:")
        for end in joint.ends[1:2]
    }
    rows: list[Row] = []
    pulse = dict(zip(("terminal:pulse+", "terminal:pulse-"), signal_leads(run.output.kind), strict=True))
    placed = next((item for item in run.terminals if item.function == "screen"), None)
    for terminal in sorted(run.terminals, key=lambda item: tuple(TERMINAL_WORDS).index(item.function)):
        if terminal is placed:
            continue
        end = by_terminal[terminal.id]
        wires = [run.conductor(end)] if end.startswith("conductor:") else []
        if end.startswith("tail") or (terminal.id in pulse and not wires):
            shared = next(joint for joint in run.connections if joint.kind == "splice" and joint.at == "endpoint")
            wires = [run.conductor(shared.ends[0])]
        held = pulse.get(terminal.id) or (by_wire.get(wires[0].id) if wires else None)
        rows.append(Row(run.lead(held) if held else None, wires, terminal))
    _add_spare(run, rows)
    if run.cable.screen or placed is not None:
        rows.append(Row(terminal=placed, screen=run.cable.screen))
    return rows


def _add_spare(run: Run, rows: list[Row]) -> None:
    """Put spare leads and conductors on rows that are free there, else on rows of their own.

    Leads stand above a loop that turns back at the meter; conductors below a jumper that runs along the port.
    """
    drawn_leads = {row.lead.id for row in rows if row.lead}
    leads = [lead for lead in run.leads if lead.id not in drawn_leads]
    if run.tamper_loop == "wired":
        rows[2:2] = [Row(lead) for lead in leads]
    else:
        rows += [Row() for _ in leads[len(rows) - 2 :]]
        for row, lead in zip(rows[2:], leads, strict=False):
            row.lead = lead
    drawn = {item.number for row in rows for item in row.wires}
    spare = [item for item in run.conductors if item.number not in drawn]
    first = 3 if len(run.bridges) > 1 else 2
    for bundle in [[item] for item in spare] if len(spare) <= FEW_SPARE else [spare] if spare else []:
        free = next((row for row in rows[first:] if not row.wires), None)
        if free is None:
            rows.append(Row(wires=bundle))
        else:
            free.wires = bundle


def rows_with(rows: list[Row], side: str) -> list[tuple[int, Row]]:
    """Return the rows that have a lead or a terminal, with their numbers."""
    return [(number, row) for number, row in enumerate(rows) if getattr(row, side) is not None]
