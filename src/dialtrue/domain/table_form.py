"""What a contract table is made of: columns with their forms."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Form = Literal["text", "digits", "int", "decimal", "float", "time", "day", "unit", "choice", "flag", "json"]
"""``text`` kept as written; ``digits`` text of decimal digits, zeros kept; ``decimal`` exact; ``time`` UTC inside."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its form, whether a row needs it, and what it means."""

    name: str
    form: Form
    required: bool
    meaning: str
    choices: tuple[str, ...] = ()
    default: str | None = None
    minimum: int | None = None
    maximum: int | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """One contract table. ``without_it`` says what a programme loses when the file is missing.

    ``later`` marks a table that no programme has from the start: nobody is told that it is missing.
    """

    name: str
    meaning: str
    columns: tuple[Column, ...]
    without_it: str = ""
    xlsx: bool = False
    out: bool = False
    later: bool = False

    def column(self, name: str) -> Column | None:
        """Return the column of that name, or None."""
        return next((column for column in self.columns if column.name == name), None)
