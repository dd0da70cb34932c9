"""Rows of CSV text as columns of text, with the line each row stands on."""

from __future__ import annotations

import csv
import itertools
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.csv as pacsv

from dialtrue.domain.errors.input_files import DamagedFile, FileTooLarge
from dialtrue.files.limits import BLOCK_BYTES, MAX_CELLS, MAX_TABLE_BYTES
from dialtrue.files.problems import RowProblem
from dialtrue.files.text_in import CheckedText

_MOST_OPEN_QUOTES: Final = 1_000
"""Rows with unpaired quote marks after which the file is given up. Our assumption: more is damage, not a slip."""


@dataclass(slots=True)
class RawTable:
    """A table as written: text columns (typed ones from Parquet), the line of each row, rows of a wrong shape."""

    file: str
    columns: dict[str, pa.Array]
    lines: np.ndarray
    misshapen: list[RowProblem] = field(default_factory=list)
    blank_lines: list[int] = field(default_factory=list)
    number_cells: dict[str, np.ndarray] = field(default_factory=dict)
    """XLSX: rows whose cell in an identifying column is a number, by column."""
    said: list[str] = field(default_factory=list)
    """What reading the file brought up."""
    replayed: bool = False
    """The repairs that ``repairs.csv`` accepts have been made in ``columns``."""


def read_csv(path: Path, name: str, known: tuple[str, ...]) -> RawTable:
    """Read a whole CSV or CSV.gz table as text.

    Parameters
    ----------
    path, name
        The file, and what to call it in messages.
    known : tuple of str
        The contract's columns.

    Raises
    ------
    DialtrueError
        One of the errors of ``errors/input_files.py``: encoding, separator, header, size, damage.
    """
    with CheckedText(path, name, known, block_bytes=BLOCK_BYTES, most=MAX_TABLE_BYTES) as text:
        first_line, parts = 0, []
        for block in text.blocks():
            first_line = first_line or block.first_line
            parts.append(block.data)
        return split_rows(b"".join(parts), text.header, name, first_line or 2)


def split_rows(data: bytes, header: list[str], name: str, first_line: int) -> RawTable:
    """Split lines into text columns; rows of a wrong shape are described, the others keep their line numbers.

    Raises ``FileTooLarge`` for more cells than memory is set aside for, ``DamagedFile`` where quote marks do not pair.
    """
    data = data.rstrip(b"\r\n")
    if not data:
        empty = {column: pa.array([], pa.string()) for column in header}
        return RawTable(name, empty, np.zeros(0, np.int64))
    lines = data.count(b"\n") + 1
    if lines * len(header) > MAX_CELLS:
        raise FileTooLarge(file=name, limit=f"{MAX_CELLS:,} cells")
    fast = _arrow_split(data, header, lines)
    if fast is not None:
        return RawTable(name, fast, np.arange(first_line, first_line + lines, dtype=np.int64))
    return _careful_split(data.decode("utf-8"), header, name, first_line)


def _arrow_split(data: bytes, header: list[str], lines: int) -> dict[str, pa.Array] | None:
    """Split at full speed; None if any row has another shape or spans lines."""
    try:
        table = pacsv.read_csv(
            pa.BufferReader(data),
            read_options=pacsv.ReadOptions(column_names=header, block_size=max(2_000_000, min(len(data), 16_000_000))),
            parse_options=pacsv.ParseOptions(newlines_in_values=False, ignore_empty_lines=False),
            convert_options=text_options(header),
        )
    except pa.ArrowException:
        return None
    if table.num_rows != lines:
        return None
    return {column: _flat(table[column]) for column in header}


def text_options(header: list[str]) -> pacsv.ConvertOptions:
    """Return the options that keep every cell as text and an empty one as blank."""
    return pacsv.ConvertOptions(
        column_types={column: pa.string() for column in header},
        null_values=[""],
        strings_can_be_null=True,
        quoted_strings_can_be_null=True,
    )


def _flat(column: pa.ChunkedArray) -> pa.Array:
    flat = column.combine_chunks()
    return flat if isinstance(flat, pa.Array) else pa.concat_arrays(flat.chunks)


def _careful_split(text: str, header: list[str], name: str, first_line: int) -> RawTable:
    """Split row by row: the way for files in which some row is odd."""
    width = len(header)
    misshapen: list[RowProblem] = []
    chunks: list[list[pa.Array]] = []
    lines: list[int] = []
    rows: list[list[str]] = []
    blank_lines: list[int] = []
    for line, row in _rows(text.split("\n"), first_line, name, misshapen):
        if not row or not any(row):
            blank_lines.append(line)
        elif len(row) != width:
            misshapen.append(
                RowProblem(
                    name, line, "", f"{len(row)} cells", f"{width} cells, as in the header",
                    "Look for a missing comma, or a comma inside a cell that is not in quote marks.", "ROW-SHAPE",
                ))  # fmt: skip
        else:
            rows.append(row)
            lines.append(line)
            if len(rows) == 50_000:
                chunks.append(_columns(rows))
                rows = []
    if rows or not chunks:
        chunks.append(_columns(rows) if rows else [pa.array([], pa.string()) for _ in header])
    columns = {column: pa.concat_arrays([chunk[place] for chunk in chunks]) for place, column in enumerate(header)}
    return RawTable(name, columns, np.array(lines, np.int64), misshapen, blank_lines)


def _columns(rows: list[list[str]]) -> list[pa.Array]:
    return [pa.array([cell or None for cell in column], pa.string()) for column in zip(*rows, strict=True)]


def _rows(lines: list[str], first_line: int, name: str, misshapen: list[RowProblem]) -> Iterator[tuple[int, list[str]]]:
    """Yield line number and cells; start afresh after a row whose quote marks do not pair."""
    start = 0
    while start < len(lines):
        reader: Any = csv.reader((line + "\n" for line in itertools.islice(lines, start, None)), strict=True)
        done = 0
        try:
            for row in reader:
                yield first_line + start + done, row
                done = reader.line_num
            return
        except csv.Error:
            line = first_line + start + done
            misshapen.append(
                RowProblem(
                    name, line, "", lines[start + done][:60], "quote marks in pairs",
                    'Close the quote mark, or write "" for one inside a cell.', "QUOTE-OPEN",
                ))  # fmt: skip
            if len(misshapen) > _MOST_OPEN_QUOTES:
                raise DamagedFile(file=name, kind="CSV", reason=f"quote marks do not pair up from row {line}") from None
            start += done + 1
