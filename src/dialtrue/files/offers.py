"""Repairs within one table: offered, and made only where accepted."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from dialtrue.domain.contracts import Column, Table
from dialtrue.files.cells import IDENTIFIERS, Fault, as_text, mask, parse
from dialtrue.files.headers import folded_header
from dialtrue.files.problems import ProblemLog, Repair, count_of

_MOST_SPELLINGS = 1_000
"""Most words of one column whose spelling is looked at. Our assumption: more is free text in the wrong column."""


def offer_turned_places(file: str, columns: dict[str, pa.Array], lines: np.ndarray, log: ProblemLog) -> None:
    """Offer to exchange latitude and longitude where only the exchange makes a place on Earth; change ``columns``.

    Never raises.
    """
    pair = ("latitude", "longitude")
    if not all(name in columns for name in pair):
        return
    degrees = [
        pc.fill_null(parse(columns[name], Column(name, "float", False, "")).values, np.nan).to_numpy(
            zero_copy_only=False
        )
        for name in pair
    ]
    turned = (np.abs(degrees[0]) > 90) & (np.abs(degrees[0]) <= 180) & (np.abs(degrees[1]) <= 90)
    if not turned.any():
        return
    texts = [as_text(columns[name]).to_pylist() for name in pair]
    why = "a latitude lies between -90 and 90; exchanged with the longitude it does"
    for row in np.flatnonzero(turned).tolist():
        line = int(lines[row])
        was, becomes = f"{texts[0][row]}, {texts[1][row]}", f"{texts[1][row]}, {texts[0][row]}"
        if log.offer(
            Repair(f"swap:sites:{_label(columns, row, line)}", "swap", file, line, ", ".join(pair), was, becomes, why)
        ):
            texts[0][row], texts[1][row] = texts[1][row], texts[0][row]
    for name, text in zip(pair, texts, strict=True):
        columns[name] = pa.array(text, pa.string())


def _label(columns: dict[str, pa.Array], row: int, line: int) -> str:
    """Name a row by its site, which stays when rows move; by its line where it has none."""
    site = as_text(columns["site"])[row].as_py() if "site" in columns else None
    return (site or "").strip() or str(line)


def offer_number_cells(
    file: str, table: Table, name: str, values: pa.Array, rows: np.ndarray, lines: np.ndarray, log: ProblemLog
) -> Fault | None:
    """Offer to take serials that a sheet holds as numbers; return the fault of those rows where it is not accepted.

    Never raises.
    """
    first = int(np.flatnonzero(rows)[0])
    value = str(values[first].as_py())
    key = f"numbers:{table.name}:{name}"
    why = f"{count_of(int(rows.sum()), 'cell')} of {name} are numbers: leading zeros may be lost"
    if log.offer(Repair(key, "numbers", file, int(lines[first]), name, value, f'"{value}" as text', why)):
        return None
    remedy = f"Format the column as text, or accept {key} if no serial begins with a zero."
    return Fault(rows, "text, not a number that may have lost its leading zeros,", remedy, "NUMBER-CELL")


def offer_spaces(file: str, table: Table, columns: dict[str, pa.Array], lines: np.ndarray, log: ProblemLog) -> None:
    """Offer to take away white space around serials and ids; change ``columns``. Never raises."""
    for column in table.columns:
        if column.name not in IDENTIFIERS or column.name not in columns:
            continue
        text = as_text(columns[column.name])
        trimmed = pc.utf8_trim_whitespace(text)
        rows = np.flatnonzero(mask(pc.not_equal(trimmed, text)) & mask(pc.greater(pc.utf8_length(trimmed), 0)))
        if not rows.size:
            continue
        first = int(rows[0])
        key = f"spaces:{table.name}:{column.name}"
        why = f"{count_of(len(rows), 'cell')} of {column.name} have white space around the text"
        was, becomes = text[first].as_py(), trimmed[first].as_py()
        if log.offer(Repair(key, "spaces", file, int(lines[first]), column.name, was, becomes, why)):
            columns[column.name] = trimmed


def offer_spelling(
    file: str, table: Table, column: Column, text: pa.Array, lines: np.ndarray, log: ProblemLog
) -> pa.Array:
    """Offer the contract's spelling for words that differ only by capitals, spaces or hyphens; return the column.

    Never raises.
    """
    trimmed = pc.utf8_trim_whitespace(text)
    folded = {folded_header(choice): choice for choice in column.choices}
    written = [word for word in pc.unique(trimmed).to_pylist() if word is not None and word not in column.choices]
    renamed: dict[str, str] = {}
    for word in written[:_MOST_SPELLINGS]:
        choice = folded.get(folded_header(word.replace("³", "3")))
        if choice is None:
            continue
        line = int(lines[int(pc.index(trimmed, word).as_py())])
        key = f"spelling:{table.name}:{column.name}:{word}"
        why = f"the contract spells it {choice}"
        if log.offer(Repair(key, "spelling", file, line, column.name, word, choice, why)):
            renamed[word] = choice
    if not renamed:
        return text
    return pa.array([renamed.get(word, word) for word in trimmed.to_pylist()], pa.string())
