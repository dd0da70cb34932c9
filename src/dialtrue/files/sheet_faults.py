"""Faults of a data sheet: where each stands in its file, and what is wrong there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from dialtrue.domain.errors import DialtrueError, SheetFault

MOST_FAULTS: Final = 50
"""Faults of one file that are listed."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault: where, and what."""

    line: int
    path: str
    says: str

    def __str__(self) -> str:
        where = f"line {self.line}, " if self.line else ""
        return f"  {where}{self.path}: {self.says}"


def fault_at(lines: Mapping[str, int], path: str, says: str) -> Fault:
    """Return a fault with the line of its path, or of the table it stands in. Never raises."""
    table = path.rsplit(".", 1)[0]
    return Fault(lines.get(path, lines.get(table, 0)), path, says)


def refuse_faults(file: str, faults: list[Fault]) -> None:
    """Raise ``SheetFault`` with the faults of one file, if there are any."""
    if faults:
        shown = "\n".join(str(fault) for fault in faults[:MOST_FAULTS])
        raise SheetFault(file=file, count=len(faults), lines=shown)


def fault_words(why: DialtrueError) -> str:
    """Return an error's facts in one line. Never raises."""
    facts = why.facts
    if "expected" in facts:
        return f"{facts['value']} is not usable; expected {facts['expected']}"
    return why.message.format(**facts)


def lines_of(text: str) -> dict[str, int]:
    """Return the line of each table and key of a TOML text, as ``input.radio.pull_up_ohm``. Never raises."""
    found: dict[str, int] = {}
    table = ""
    for number, line in enumerate(text.splitlines(), start=1):
        stripped = line.strip()
        if stripped.startswith("[") and stripped.endswith("]"):
            table = stripped.strip("[]").replace('"', "").replace(" ", "")
            found.setdefault(table, number)
            found.setdefault(table.partition(".")[0], number)
        elif "=" in stripped and not stripped.startswith("#"):
            name = stripped.partition("=")[0].strip().strip('"')
            found.setdefault(f"{table}.{name}" if table else name, number)
    return found
