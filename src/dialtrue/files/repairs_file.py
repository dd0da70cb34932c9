"""``repairs.csv``: what is offered and asked, to be reviewed in a spreadsheet; what was decided, to be replayed."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

from dialtrue.domain.errors.input_files import ColumnMissing
from dialtrue.domain.survey.repair_line import LINE_COLUMNS, RepairLine, decision_word
from dialtrue.files.cells import as_text
from dialtrue.files.csv_in import read_csv
from dialtrue.files.decisions import Decisions
from dialtrue.files.headers import folded_header
from dialtrue.files.problems import count_of, some
from dialtrue.files.tables_out import write_atomically

REPAIRS_FILE: Final = "repairs.csv"

_HARMED: Final = re.compile(
    r"^'|^[=+\-@\t\r]|^0\d|^\d{12,}$|^[\d.,]+[eE][+-]?\d+$|^\d*\.\d*0$|^\s|\s$"
    r"|^\d{1,4}[-/.]\d{1,2}([-/.]\d{1,4})?(\D.*)?$"
)
"""Texts that a spreadsheet would change or run: they are written with an apostrophe in front, which keeps them."""

_NEEDED: Final = ("key", "decision")


def guarded(text: str) -> str:
    """Return a text that survives a spreadsheet: an apostrophe stands before what it would change. Never raises.

    Examples
    --------
    >>> guarded("00417733"), guarded("417733"), guarded("03/04/2026")
    ("'00417733", '417733', "'03/04/2026")
    """
    return "'" + text if _HARMED.match(text) else text


def unguarded(text: str) -> str:
    """Return the text that ``guarded`` was given. Never raises.

    Examples
    --------
    >>> unguarded(guarded("00417733")), unguarded(guarded("'tis")), unguarded("417733")
    ('00417733', "'tis", '417733')
    """
    return text[1:] if text.startswith("'") else text


def read_decisions(folder: Path) -> Decisions:
    """Read ``repairs.csv`` of a programme folder.

    Parameters
    ----------
    folder : Path
        The programme folder.

    Returns
    -------
    Decisions
        Empty where there is no such file. What cannot be used is said in ``said``.

    Raises
    ------
    ColumnMissing
        The file has no column ``key`` or no column ``decision``.
    DialtrueError
        The file cannot be read; see ``errors/input_files.py``, exit codes 10 to 19.
    """
    path = folder / REPAIRS_FILE
    if not path.exists() and not path.is_symlink():
        return Decisions()
    return Decisions.of(*read_lines(path))


def read_lines(path: Path) -> tuple[list[RepairLine], list[str]]:
    """Read the lines of a repairs file, and what is to be said of them; raises as ``read_decisions`` does."""
    raw = read_csv(path, path.name, LINE_COLUMNS)
    folded = {folded_header(name): name for name in raw.columns}
    missing = [name for name in _NEEDED if name not in folded]
    if missing:
        found = ", ".join(list(raw.columns)[:12])
        raise ColumnMissing(file=path.name, columns=", ".join(missing), hint="", found=found)
    rows = len(raw.lines)
    cells = {
        name: [unguarded(cell or "") for cell in as_text(raw.columns[folded[name]]).to_pylist()]
        for name in LINE_COLUMNS
        if name in folded
    }
    said = [problem.says() for problem in raw.misshapen[:5]]
    lines: list[RepairLine] = []
    odd: list[int] = []
    nameless = 0
    for row in range(rows):
        values = {name: column[row] for name, column in cells.items()}
        key = values["key"].strip()
        if not key:
            continue
        word = decision_word(values["decision"])
        if word is None:
            odd.append(int(raw.lines[row]))
            word = ""
        number = values.pop("row", "")
        nameless += word == "accept" and not values.get("by", "").strip()
        rule = values.get("rule") or key.split(":", 1)[0]
        where = int(number) if number.isascii() and number.isdigit() and len(number) < 10 else 0
        lines.append(RepairLine(**{**values, "key": key, "decision": word, "rule": rule, "row": where}))  # type: ignore[arg-type]
    if odd:
        rows_said = f"{'row' if len(odd) == 1 else 'rows'} {some(odd)}"
        said.append(f"{path.name}, {rows_said}: the decision is neither accept nor refuse and is taken as open.")
    if nameless:
        said.append(f"{path.name}: {count_of(nameless, 'accepted repair')} without a name in the column by.")
    return lines, said


def write_lines(path: Path, lines: Iterable[RepairLine]) -> None:
    """Write lines as ``repairs.csv``; texts that a spreadsheet would change carry an apostrophe in front.

    Raises
    ------
    OutputNotWritten
        The system refused; what stood there is unchanged.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(LINE_COLUMNS)
    for line in lines:
        writer.writerow(
            [guarded(str(getattr(line, name)) if name != "row" else str(line.row or "")) for name in LINE_COLUMNS]
        )
    data = text.getvalue().encode("utf-8", "replace")
    write_atomically(path, lambda sink: sink.write(data))


def merged(offered: Sequence[RepairLine], standing: Sequence[RepairLine]) -> list[RepairLine]:
    """Return what the file is to hold: decided lines as they stand, then what is offered and not yet decided.

    Never raises. An undecided line that is offered no more is left out; an answer typed into ``becomes`` stays.
    """
    kept = [line for line in standing if line.decision]
    decided = {line.key for line in kept}
    typed = {line.key: line for line in standing if not line.decision and line.becomes}
    fresh: dict[str, RepairLine] = {}
    for line in offered:
        if line.key in decided or line.key in fresh:
            continue
        before = typed.get(line.key)
        fresh[line.key] = before if before is not None and before.was == line.was and not line.becomes else line
    return kept + list(fresh.values())
