"""The first sheet of a workbook as columns of text, remembering which serials were numbers."""

from __future__ import annotations

import datetime as dt
import lzma
import zipfile
import zlib
from pathlib import Path
from typing import Any, Final

import numpy as np
import pyarrow as pa
from python_calamine import CalamineError, load_workbook

from dialtrue.domain.errors.input_files import DamagedFile, EmptyFile, FileTooLarge, FileUnreadable
from dialtrue.domain.words import counted
from dialtrue.files.cells import IDENTIFIERS
from dialtrue.files.csv_in import RawTable
from dialtrue.files.limits import MAX_CELLS, MAX_TABLE_BYTES, MAX_XLSX_ROWS
from dialtrue.files.text_in import named_once
from dialtrue.files.xlsx_formulas import unvalued_formulas

_CELLS_SHOWN: Final = 5
_MOST_PARTS: Final = 10_000
"""Most parts in a workbook. Our assumption: an honest one has a few dozen."""


def read_xlsx(path: Path, name: str, known: tuple[str, ...]) -> RawTable:
    """Read the first sheet of an XLSX workbook.

    Parameters
    ----------
    path, name
        The file, and what to call it in messages.
    known : tuple of str
        The contract's columns.

    Returns
    -------
    RawTable
        Every cell as text; ``number_cells`` marks the serials and ids that the sheet holds as numbers, whose leading
        zeros may be lost.

    Raises
    ------
    EmptyFile, DamagedFile, FileTooLarge, FileUnreadable, HeaderTooLarge, ColumnTwice
    """
    _weigh(path, name)
    try:
        with path.open("rb") as source:
            book = load_workbook(source)
            sheet = book.get_sheet_by_index(0)
            if sheet.total_height > MAX_XLSX_ROWS or sheet.total_height * sheet.total_width > MAX_CELLS:
                raise FileTooLarge(file=name, limit=f"{MAX_XLSX_ROWS:,} rows or {MAX_CELLS:,} cells")
            rows = sheet.to_python(skip_empty_area=False)
    except OSError as error:
        raise FileUnreadable(file=name, reason=(error.strerror or str(error)).lower()) from error
    except (CalamineError, IndexError, ValueError) as error:
        raise DamagedFile(file=name, kind="a workbook", reason=str(error)[:160] or "it has no sheet") from error
    while rows and not any(_blank_is_none(cell) is not None for cell in rows[-1]):
        rows.pop()
    first = next(
        (place for place, row in enumerate(rows) if any(_blank_is_none(cell) is not None for cell in row)), None
    )
    if first is None:
        raise EmptyFile(file=name, header=", ".join(known[:4]) + " …")
    header = [str(_blank_is_none(cell) or "").strip() for cell in rows[first]]
    while header and not header[-1]:
        header.pop()
    names = named_once(header, name, known)
    body = rows[first + 1 :]
    columns: dict[str, pa.Array] = {}
    numbers: dict[str, np.ndarray] = {}
    for place, column in enumerate(names):
        cells = [row[place] for row in body]
        columns[column] = pa.array([_text(cell) for cell in cells], pa.string())
        if column in IDENTIFIERS:
            marks = np.fromiter((type(cell) in (int, float) for cell in cells), bool, len(cells))
            if marks.any():
                numbers[column] = marks
    lines = np.arange(first + 2, first + 2 + len(body), dtype=np.int64)
    return RawTable(name, columns, lines, number_cells=numbers, said=_unvalued(path, name))


def _unvalued(path: Path, name: str) -> list[str]:
    """Say which cells are read as blank although they hold a formula."""
    cells = unvalued_formulas(path)
    if not cells:
        return []
    more = f" and {len(cells) - _CELLS_SHOWN:,} more" if len(cells) > _CELLS_SHOWN else ""
    return [
        f"{name}: {counted(len(cells), 'formula')} without a value ({', '.join(cells[:_CELLS_SHOWN])}{more}), read as "
        "blank: open the workbook in a spreadsheet program and save it again, or write the values themselves."
    ]


def _weigh(path: Path, name: str) -> None:
    """Unpack the workbook's parts without keeping them, so that a small file cannot fill the memory."""
    try:
        if path.stat().st_size == 0:
            raise EmptyFile(file=name, header="site,meter_serial …")
        with zipfile.ZipFile(path) as book:
            parts = book.infolist()
            if len(parts) > _MOST_PARTS:
                raise FileTooLarge(file=name, limit=f"{_MOST_PARTS:,} parts")
            left = MAX_TABLE_BYTES
            for part in parts:
                with book.open(part) as source:
                    while piece := source.read(1_000_000):
                        left -= len(piece)
                        if left < 0:
                            raise FileTooLarge(file=name, limit=f"{MAX_TABLE_BYTES // 1_000_000:,} MB when unpacked")
    except (zipfile.BadZipFile, zlib.error, lzma.LZMAError, NotImplementedError, RuntimeError, EOFError) as error:
        raise DamagedFile(file=name, kind="a workbook", reason=str(error)[:160].lower()) from error
    except OSError as error:
        raise FileUnreadable(file=name, reason=(error.strerror or str(error)).lower()) from error


def _blank_is_none(cell: Any) -> Any:
    return None if cell is None or (isinstance(cell, str) and not cell.strip()) else cell


def _text(cell: Any) -> str | None:
    """Return a cell as a person would have typed it."""
    if cell is None or cell == "":
        return None
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, float):
        return str(int(cell)) if cell == cell and abs(cell) < 2**53 and cell == int(cell) else repr(cell)
    if isinstance(cell, dt.datetime):
        return cell.isoformat(sep=" ")
    return str(cell)
