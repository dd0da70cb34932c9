"""The sites table as surveyed: every row kept, good or bad, beside the table that the other commands will see."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np
import pyarrow as pa

from dialtrue.domain.contracts import DIAL_READS, FITTINGS, SITES, TABLE, USE_HISTORY, Column
from dialtrue.domain.errors.input_files import ColumnMissing, FileUnreadable
from dialtrue.domain.watch_result import RowProblem
from dialtrue.files.cells import as_text, blank_to_null, mask, parse
from dialtrue.files.csv_in import RawTable
from dialtrue.files.decisions import Decisions
from dialtrue.files.headers import folded_header, settle_header
from dialtrue.files.locate import SUFFIXES, locate
from dialtrue.files.normalise import blank_rows, normalise, replayed
from dialtrue.files.problems import ProblemLog
from dialtrue.files.programme import read_raw
from dialtrue.files.serials import offer_serial_repairs
from dialtrue.files.settings import programme_zone
from dialtrue.files.times import moments, slashed

NUMBERS: Final = (
    "latitude", "longitude", "dial_digits", "fixed_zeros", "dial_resolution", "pulse_weight", "cable_length_m",
    "use_l_per_day",
)  # fmt: skip
_LIST_COLUMNS: Final = ("meter_serial", "site", "account", "address", "area")
_LIST_NAMES: Final = {"serial": "meter_serial", "serial_number": "meter_serial", "service_address": "address",
                      "route": "area"}  # fmt: skip


@dataclass(slots=True)
class BadCells:
    """Rows of a column that cannot be used, and why."""

    column: str
    rows: list[int]
    expected: str
    remedy: str
    code: str


@dataclass(slots=True)
class SurveySheet:
    """The sheet as written, accepted repairs made.

    ``texts`` holds each contract column trimmed, a blank as None; ``raw`` the cells before trimming; ``numbers`` the
    columns of numbers, NaN where blank or bad; ``slashed`` the rows of each time column whose date has an order.
    """

    file: str
    lines: list[int]
    texts: dict[str, list[str | None]]
    raw: dict[str, list[str | None]]
    numbers: dict[str, np.ndarray]
    bad: list[BadCells]
    slashed: dict[str, list[int]]
    number_cells: dict[str, list[int]]
    misshapen: list[RowProblem]

    def text(self, name: str) -> list[str | None]:
        """Return a column's texts, all blank where the sheet does not have it. Never raises."""
        return self.texts.get(name) or [None] * len(self.lines)


@dataclass(slots=True)
class SurveyFiles:
    """What a survey starts from: the sheet, the cleaned table, other tables of the folder, and the log."""

    sheet: SurveySheet
    sites: pa.Table
    tables: dict[str, pa.Table]
    files: dict[str, str]
    listed: dict[str, list[str | None]]
    listed_name: str
    at: dt.datetime
    log: ProblemLog = field(default_factory=ProblemLog)


def open_survey(
    folder: Path, *, at: dt.datetime, known: Path | None, decisions: Decisions, accept: Sequence[str] = ()
) -> SurveyFiles:
    """Read what a survey needs.

    Parameters
    ----------
    folder : Path
        The programme folder; ``sites`` must be there.
    at : datetime
        The time of the run, aware.
    known : Path, optional
        A list of meters, else the file ``known`` of the folder if there is one. It has a column ``meter_serial``, and
        ``site``, ``account``, ``address`` and ``area`` where it has them.
    decisions : Decisions
        What ``repairs.csv`` decides.
    accept : sequence of str
        Keys to accept besides.

    Returns
    -------
    SurveyFiles

    Raises
    ------
    FileUnreadable
        The folder holds no sites table, or the list is not there.
    ColumnMissing
        A needed column is missing from sites, or the list has no ``meter_serial``.
    DialtrueError
        A file cannot be used; see ``errors/input_files.py``, exit codes 10 to 19.
    """
    found = locate(folder)
    if "sites" not in found:
        raise FileUnreadable(file=str(folder), reason="the folder holds no sites table")
    zone, _ = programme_zone(folder)
    log = ProblemLog(accept=tuple(accept), decisions=decisions)
    raw = read_raw(found["sites"][0], SITES)
    raw.columns = replayed(raw, "sites", settle_header(raw, SITES, log), log)
    raw.replayed = True
    sheet = _sheet(raw, log)
    tables = {"sites": normalise(raw, SITES, log, zone=zone, at=at)}
    files = {"sites": raw.file}
    for table in (FITTINGS, DIAL_READS, USE_HISTORY):
        if table.name in found:
            path = found[table.name][0]
            files[table.name] = path.name
            tables[table.name] = normalise(read_raw(path, table), table, log, zone=zone, at=at)
    offer_serial_repairs(tables, files, log)
    log.say_decisions(tuple(tables))
    path = known or _own_list(folder)
    listed, name = ({}, "") if path is None else (_list(path), path.name)
    return SurveyFiles(sheet, tables.pop("sites"), tables, files, listed, name, at, log)


def _own_list(folder: Path) -> Path | None:
    """Return the folder's own list of meters, if it has one."""
    return next((folder / f"known{end}" for end in (*SUFFIXES, ".xlsx") if (folder / f"known{end}").is_file()), None)


def _list(path: Path) -> dict[str, list[str | None]]:
    """Read a list of meters: the columns that place a meter, under the contract's names."""
    if not path.is_file():
        reason = "it is a folder" if path.is_dir() else "there is no such file"
        raise FileUnreadable(file=str(path), reason=reason)
    raw = read_raw(path, TABLE["sites"])
    names = {_LIST_NAMES.get(folded_header(name), folded_header(name)): name for name in reversed(list(raw.columns))}
    if "meter_serial" not in names:
        raise ColumnMissing(file=path.name, columns="meter_serial", hint="", found=", ".join(list(raw.columns)[:12]))
    return {
        name: [None if cell is None else cell.strip() or None for cell in as_text(raw.columns[names[name]]).to_pylist()]
        for name in _LIST_COLUMNS
        if name in names
    }


def _sheet(raw: RawTable, log: ProblemLog) -> SurveySheet:
    """Lay the raw table out; blank rows and exact copies of earlier rows are left out."""
    keep = ~blank_rows(raw.columns, len(raw.lines))
    contract = {column.name: column for column in SITES.columns if column.name in raw.columns}
    cells = {name: as_text(raw.columns[name]).to_pylist() for name in raw.columns}
    keep &= ~_copies(cells, len(raw.lines))
    where = np.flatnonzero(keep)
    chosen = pa.array(where)
    written = {name: [cells[name][row] for row in where.tolist()] for name in contract}
    trimmed = {
        name: [None if cell is None else cell.strip() or None for cell in column] for name, column in written.items()
    }
    numbers: dict[str, np.ndarray] = {}
    bad: list[BadCells] = []
    dated: dict[str, list[int]] = {}
    for name, column in contract.items():
        values = raw.columns[name].take(chosen)
        if name in NUMBERS:
            numbers[name] = _numbers(values, column, bad)
        elif column.form in ("time", "day"):
            dated[name] = _dates(values, column, bad)
        elif column.form in ("choice", "unit"):
            trimmed[name] = _words(trimmed[name], column, bad, log)
        elif column.form == "text":
            for fault in parse(blank_to_null(as_text(values)), column).faults:
                if fault.code != "SERIAL-ROUNDED":
                    _note(bad, name, fault.rows, fault.expected, fault.remedy, fault.code)
        if column.required:
            empty = np.fromiter((not (cell and cell.strip()) for cell in written[name]), bool, len(where))
            _note(bad, name, empty, f"a value ({column.meaning})", "Fill it in.", "BLANK-CELL")
    marks = {
        name: np.flatnonzero(rows[where]).tolist()
        for name, rows in raw.number_cells.items()
        if name in contract and rows[where].any()
    }
    lines = raw.lines[where].tolist()
    return SurveySheet(raw.file, lines, trimmed, written, numbers, bad, dated, marks, raw.misshapen)


def _copies(cells: dict[str, list[str | None]], rows: int) -> np.ndarray:
    """Mark the rows that are alike to an earlier one in every cell."""
    first = [cells[name] for name in ("site", "meter_serial") if name in cells]
    seen: dict[tuple[str | None, ...], list[int]] = {}
    for row, key in enumerate(zip(*first, strict=True) if first else ()):
        seen.setdefault(key, []).append(row)
    copies = np.zeros(rows, bool)
    for places in seen.values():
        if len(places) > 1:
            whole: set[tuple[str | None, ...]] = set()
            for row in places:
                content = tuple(column[row] for column in cells.values())
                copies[row] = content in whole
                whole.add(content)
    return copies


def _note(bad: list[BadCells], column: str, rows: np.ndarray, expected: str, remedy: str, code: str) -> None:
    if rows.any():
        bad.append(BadCells(column, np.flatnonzero(rows).tolist(), expected, remedy, code))


def _numbers(values: pa.Array, column: Column, bad: list[BadCells]) -> np.ndarray:
    """Return a column of numbers. Coordinates off the Earth are kept: exchanged ones may be."""
    place = column.name in ("latitude", "longitude")
    cells = parse(values, Column(column.name, "float", False, "") if place else column)
    for fault in cells.faults:
        _note(bad, column.name, fault.rows, fault.expected, fault.remedy, fault.code)
    numbers = cells.values
    if column.form == "decimal":
        texts = numbers.to_pylist()
        known = {text: float(text) for text in set(texts) if text is not None}
        return np.array([np.nan if text is None else known[text] for text in texts], np.float64)
    return np.asarray(numbers.cast(pa.float64()).to_numpy(zero_copy_only=False), np.float64)


def _dates(values: pa.Array, column: Column, bad: list[BadCells]) -> list[int]:
    """Return the rows whose date is written with the parts in an order that must be settled."""
    found = moments(values)
    ordered = slashed(values, found.odd)
    left = found.odd & ~ordered & mask(values.is_valid())
    form = "a day such as 2026-03-31" if column.form == "day" else "a time such as 2026-03-31 14:05"
    _note(bad, column.name, left, form, "Write it as ISO 8601.", "NOT-A-TIME")
    return np.flatnonzero(ordered).tolist()


def _words(texts: list[str | None], column: Column, bad: list[BadCells], log: ProblemLog) -> list[str | None]:
    """Return a column of chosen words in the contract's spelling; None where a word means nothing.

    Words that differ by spelling alone are understood here; whether they are taken is decided by their own key.
    """
    folded = {folded_header(choice): choice for choice in column.choices}
    known: dict[str, str | None] = {choice: choice for choice in column.choices}
    for word in {text for text in texts if text is not None} - known.keys():
        known[word] = folded.get(folded_header(word.replace("³", "3")))
    rows = np.fromiter((text is not None and known[text] is None for text in texts), bool, len(texts))
    _note(bad, column.name, rows, "one of " + ", ".join(column.choices), "Choose one of them.", "NOT-A-CHOICE")
    odd = {
        word: choice
        for word, choice in known.items()
        if choice is not None and word != choice and not log.takes(f"spelling:sites:{column.name}:{word}")
    }
    for word, choice in sorted(odd.items()):
        some = np.fromiter((text == word for text in texts), bool, len(texts))
        _note(bad, column.name, some, choice or "", word, "SPELLING")
    return [None if text is None else known[text] for text in texts]
