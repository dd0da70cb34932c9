"""The wiring as plain lines, for the terminal and for readers who do not see the picture."""

from __future__ import annotations

import textwrap

from dialtrue.domain.wiring.circuit import NotDrawn, Wiring
from dialtrue.domain.wiring.ends import ROLE_WORDS
from dialtrue.domain.wiring.steps import endpoint_joints, meter_joints


def wiring_lines(wiring: Wiring | NotDrawn, *, columns: int = 100) -> list[str]:
    """Return title, numbered steps and warnings, wrapped.

    Parameters
    ----------
    wiring : Wiring or NotDrawn
        What was laid, or why not.
    columns : int
        Width. [characters, >= 40]

    Returns
    -------
    list of str
        Steps of common practice end in ``(common practice)``. A wiring that is not drawn gives its sentence.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.
    """
    if isinstance(wiring, NotDrawn):
        return textwrap.wrap(wiring.sentence, columns)
    lines = [f"Wiring: {wiring.title}"]
    number, role = 0, ""
    for step in wiring.steps:
        if len(wiring.runs) > 1 and step.role != role:
            lines.append(f"{ROLE_WORDS[step.role].capitalize()}:")
            number, role = 0, step.role
        number += 1
        mark = "" if step.basis == "sheet" else " (common practice)"
        lines += textwrap.wrap(
            f"{step.text}{mark}", columns, initial_indent=f"{number:>3}. ", subsequent_indent="     "
        )
    for warning in wiring.warnings:
        lines += textwrap.wrap(warning, columns, initial_indent="  !  ", subsequent_indent="     ")
    return lines


def connection_sentences(wiring: Wiring) -> list[str]:
    """Return every connection as a sentence, run by run: the text equivalent of the picture. Never raises."""
    said: list[str] = []
    for run in wiring.runs:
        head = f"{run.title}: " if len(wiring.runs) > 1 else ""
        said += [f"{head}{text}" for text in (*meter_joints(run), *endpoint_joints(run))]
    return said
