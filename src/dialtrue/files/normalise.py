"""One table from its written form to the contract's: every column, its type, its default; bad rows set aside."""

from __future__ import annotations

import datetime as dt
from typing import Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from dialtrue.domain.contracts import Column, Form, Table
from dialtrue.files.cells import Cells, Fault, as_text, blank_to_null, mask, parse
from dialtrue.files.column_types import check_types
from dialtrue.files.csv_in import RawTable
from dialtrue.files.date_order import Order, settle_order
from dialtrue.files.decisions import replay
from dialtrue.files.findings import ARROW_TYPE
from dialtrue.files.headers import settle_header
from dialtrue.files.limits import FUTURE_DAYS
from dialtrue.files.offers import offer_number_cells, offer_spaces, offer_spelling, offer_turned_places
from dialtrue.files.problems import ProblemLog, RowProblem
from dialtrue.files.times import (
    DAY_FORM,
    TIME_FORM,
    Moments,
    apply_order,
    moments,
    slashed,
    time_cells,
    to_utc,
)
from dialtrue.files.zone import DAY_US, FOLD_RULE, GAP_RULE, FoldOrder

_EPOCH: Final = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_FAR_US: Final = int((dt.datetime(2200, 1, 1, tzinfo=dt.UTC) - _EPOCH).total_seconds()) * 1_000_000
_FIRST_ENDPOINT_US: Final = int((dt.datetime(2000, 1, 1, tzinfo=dt.UTC) - _EPOCH).total_seconds()) * 1_000_000
_SERIES: Final = ("meter_serial", "endpoint_serial", "port", "station")
_SPEAKS_OF_THE_PAST: Final = frozenset({"fittings", "dial_reads", "reads", "alarms"})


def micros(at: dt.datetime) -> int:
    """Return microseconds since 1970 of an aware time. Never raises for one."""
    return (at - _EPOCH) // dt.timedelta(microseconds=1)


def time_bounds(table: str, at: dt.datetime) -> tuple[int, int]:
    """Return the earliest and the latest time a table may hold. [µs]

    Source
    ------
    Our assumption: an endpoint's stamp before 2000 or two days ahead is a clock that was not set; what people wrote may
    be older, but the first day of 1970 shows an unset clock; weather may be a forecast.
    """
    low = _FIRST_ENDPOINT_US if table in ("reads", "alarms") else DAY_US
    high = micros(at) + FUTURE_DAYS * DAY_US if table in _SPEAKS_OF_THE_PAST else _FAR_US
    return low, high


def normalise(
    raw: RawTable,
    table: Table,
    log: ProblemLog,
    *,
    zone: str,
    at: dt.datetime,
    order: FoldOrder | None = None,
    dates: Order | None = None,
    whole: bool = True,
) -> pa.Table:
    """Bring a table into the contract's form.

    Parameters
    ----------
    raw : RawTable
        The table as written.
    table : Table
        The contract.
    log : ProblemLog
        Takes bad rows, offered repairs and notes.
    zone : str
        IANA zone of times without an offset.
    at : datetime
        The time of the run, aware.
    order : FoldOrder, optional
        What earlier blocks of the same file have settled of repeated hours.
    dates : Order, optional
        The order of dates where the whole file has settled it already.
    whole : bool
        ``raw`` is the whole file: rows that copy another are left out, and what was counted is said at once.

    Returns
    -------
    pa.Table
        Contract columns, then unknown ones as text, then ``_row`` (the line in the file). Refused rows are left out.

    Raises
    ------
    ColumnMissing, WrongColumnType
    """
    log.bad_many(raw.file, raw.misshapen, len(raw.misshapen))
    for sentence in raw.said:
        log.note(sentence)
    columns = replayed(raw, table.name, settle_header(raw, table, log), log)
    check_types(raw.file, table, columns)
    rows = len(raw.lines)
    written = ~blank_rows(columns, rows)
    if raw.blank_lines or not written.all():
        log.tally(f"{raw.file}: {{rows}} passed over.", "blank row", [*raw.blank_lines, *raw.lines[~written].tolist()])
    if not written.all():
        columns, numbers = _only(columns, written), {n: m[written] for n, m in raw.number_cells.items()}
        lines = raw.lines[written]
    else:
        numbers, lines = raw.number_cells, raw.lines
    work = _Work(raw.file, table, columns, lines, numbers, log, zone, at, order or FoldOrder(), dates)
    result = work.run()
    if not whole:
        return result
    log.say_tallies()
    if not result.num_rows and not log.counts.get(raw.file):
        log.note(f"{raw.file} has a header and no rows.")
    return _once(result, raw.file, log)


def replayed(raw: RawTable, table: str, columns: dict[str, pa.Array], log: ProblemLog) -> dict[str, pa.Array]:
    """Make the repairs that ``repairs.csv`` accepts; a serial repaired so is no number of a workbook any more."""
    if raw.replayed:
        return columns
    done = replay(log.decisions, table, raw.file, columns, raw.lines)
    if done is None:
        return columns
    for name, rows in done.rows.items():
        if name in raw.number_cells:
            raw.number_cells[name] = raw.number_cells[name].copy()
            raw.number_cells[name][rows] = False
    log.accepted.extend(done.made)
    return done.columns


def _only(columns: dict[str, pa.Array], keep: np.ndarray) -> dict[str, pa.Array]:
    chosen = pa.array(keep)
    return {name: column.filter(chosen) for name, column in columns.items()}


def blank_rows(columns: dict[str, pa.Array], rows: int) -> np.ndarray:
    """Return the rows in which no cell is written. Never raises."""
    blank = np.ones(rows, bool)
    for column in columns.values():
        if not blank.any():
            break
        blank &= mask(column.is_null())
    return blank


class _Work:
    """The work on one table: its columns as written, and the faults found so far."""

    def __init__(
        self, file: str, table: Table, columns: dict[str, pa.Array], lines: np.ndarray,
        number_cells: dict[str, np.ndarray], log: ProblemLog, zone: str, at: dt.datetime, order: FoldOrder,
        dates: Order | None,
    ) -> None:  # fmt: skip
        self.order, self.dates = order, dates
        self.file, self.table, self.columns, self.lines = file, table, columns, lines
        self.number_cells, self.log, self.zone, self.at = number_cells, log, zone, at
        self.bad = np.zeros(len(lines), bool)
        self.found: list[RowProblem] = []

    def run(self) -> pa.Table:
        if self.table.name == "sites":
            offer_turned_places(self.file, self.columns, self.lines, self.log)
        for name, rows in self.number_cells.items():
            if _form(self.table, name) is not None and rows.any():
                refused = offer_number_cells(
                    self.file, self.table, name, self.columns[name], rows, self.lines, self.log
                )
                if refused is not None:
                    self._fault(name, refused)
        offer_spaces(self.file, self.table, self.columns, self.lines, self.log)
        stamps = self._stamps()
        out: dict[str, pa.Array] = {}
        for column in self.table.columns:
            if column.name not in self.columns:
                values: pa.Array = pa.nulls(len(self.lines), ARROW_TYPE[column.form])
            else:
                values = self._column(column, stamps)
            out[column.name] = _filled(values, column)
        for name, values in self.columns.items():
            if name not in out:
                out[name] = as_text(values)
        self._report()
        out["_row"] = pa.array(self.lines)
        result = pa.table(out)
        return result.filter(pa.array(~self.bad)) if self.bad.any() else result

    def _column(self, column: Column, stamps: dict[str, Moments]) -> pa.Array:
        written = self.columns[column.name]
        if column.form in ("choice", "unit"):
            text = blank_to_null(as_text(written))
            written = offer_spelling(self.file, self.table, column, text, self.lines, self.log)
            self.columns[column.name] = written
        if column.form == "time":
            cells = self._times(column, stamps[column.name])
        elif column.form == "day":
            cells = self._days(stamps[column.name])
        else:
            cells = parse(written, column)
        for fault in cells.faults:
            self._fault(column.name, fault)
        for rows, words in cells.said:
            self._say(column.name, rows, words)
        if column.required:
            empty = mask(cells.values.is_null()) & mask(_blank(written))
            if empty.any():
                remedy = "Fill it in at its source, or take the row out."
                self._fault(column.name, Fault(empty, f"a value ({column.meaning})", remedy, "BLANK-CELL"))
        return cells.values

    def _say(self, column: str, rows: np.ndarray, words: str) -> None:
        self.log.tally(f"{self.file}, {column}: {{rows}} {words}.", "number", self.lines[rows].tolist())

    def _fault(self, column: str, fault: Fault) -> None:
        """Set rows aside; describe the first of them."""
        fresh = np.flatnonzero(fault.rows & ~self.bad)
        self.bad |= fault.rows
        written = self.columns[column]
        for row in fresh[: self.log.room(self.file)].tolist():
            value = written[row].as_py()
            shown = "" if value is None else str(value)
            shown = shown if len(shown) <= 60 else shown[:57] + "…"
            self.found.append(
                RowProblem(self.file, int(self.lines[row]), column, shown, fault.expected, fault.remedy, fault.code)
            )

    def _report(self) -> None:
        self.found.sort(key=lambda problem: problem.row)
        self.log.bad_many(self.file, self.found, int(self.bad.sum()))

    def _stamps(self) -> dict[str, Moments]:
        """Read every time and day column, settling the order of dates for the whole file."""
        names = [c.name for c in self.table.columns if c.form in ("time", "day") and c.name in self.columns]
        stamps = {name: moments(self.columns[name]) for name in names}
        other = {name: slashed(self.columns[name], stamps[name].odd) for name in names}
        if not any(rows.any() for rows in other.values()):
            return stamps
        order = self.dates or self._settle_order(names, other)
        for name in names:
            if order.taken is not None:
                apply_order(self.columns[name], stamps[name], other[name], order.taken)
            left = other[name] & stamps[name].odd
            if left.any():
                stamps[name].odd &= ~left
                form = DAY_FORM if _form(self.table, name) == "day" else TIME_FORM
                self._fault(name, Fault(left, form, order.remedy, "DATE-ORDER"))
        return stamps

    def _settle_order(self, names: list[str], other: dict[str, np.ndarray]) -> Order:
        first = next(name for name in names if other[name].any())
        row = int(np.flatnonzero(other[first])[0])
        texts = [t for name in names for t in as_text(self.columns[name]).filter(pa.array(other[name])).to_pylist()]
        example = as_text(self.columns[first])[row].as_py()
        return settle_order(self.table.name, self.file, first, int(self.lines[row]), example, texts, self.log)

    def _times(self, column: Column, found: Moments) -> Cells:
        naive = bool(found.naive.any())
        self.log.naive_seen |= naive
        us, news = to_utc(found, self.zone, self._series() if naive and self.zone != "UTC" else None, self.order)
        for rows, what, rule in ((news.gap, "skips", GAP_RULE), (news.fold, "repeats", FOLD_RULE)):
            if rows.any():
                words = f"{self.file}, {column.name}: {{rows}} in an hour that {self.zone} {what}: {rule}."
                self.log.tally(words, "time", self.lines[rows].tolist())
        return time_cells(us, found.known, found.odd, *time_bounds(self.table.name, self.at))

    def _days(self, found: Moments) -> Cells:
        days = found.us // DAY_US
        kept = found.known & (np.abs(days) < 2**30)
        cells = Cells(pa.array(days.clip(-(2**30), 2**30).astype(np.int32), mask=~kept).cast(pa.date32()))
        timed = kept & (found.us % DAY_US != 0)
        odd = found.odd | timed
        if odd.any():
            cells.faults.append(Fault(odd, DAY_FORM, "Write the day alone.", "NOT-A-DAY"))
        return cells

    def _series(self) -> np.ndarray:
        parts = [pc.fill_null(as_text(self.columns[name]), "") for name in _SERIES if name in self.columns]
        if not parts:
            return np.zeros(len(self.lines), np.int8)
        joined = pc.binary_join_element_wise(*parts, "\x1f")
        return np.asarray(joined.dictionary_encode().indices.to_numpy(zero_copy_only=False))


def _form(table: Table, name: str) -> Form | None:
    column = table.column(name)
    return None if column is None else column.form


def _blank(values: pa.Array) -> pa.Array:
    if not pa.types.is_string(values.type):
        return values.is_null()
    return blank_to_null(values).is_null()


def _filled(values: pa.Array, column: Column) -> pa.Array:
    """Fill the contract's default into blanks."""
    if column.default is None or not values.null_count:
        return values
    default: Any = int(column.default) if column.form == "int" else column.default
    return pc.fill_null(values, pa.scalar(default, values.type))


def _once(result: pa.Table, file: str, log: ProblemLog) -> pa.Table:
    """Keep one of rows that are alike in every cell, and say which were left out."""
    if result.num_rows < 2:
        return result
    codes = np.zeros(result.num_rows, np.int64)
    for name in result.column_names:
        if name == "_row":
            continue
        cells = _one(result[name]).dictionary_encode(null_encoding="encode")
        if len(cells.dictionary) > 1:
            both = codes * len(cells.dictionary) + cells.indices.to_numpy(zero_copy_only=False)
            codes = pa.array(both).dictionary_encode().indices.to_numpy(zero_copy_only=False).astype(np.int64)
        # Most tables are told apart by their first columns.
        if int(codes[-1]) == result.num_rows - 1:
            return result
    # Codes are given in order of first appearance, so a row is new exactly where its code tops all before it.
    top = np.maximum.accumulate(codes)
    fresh = np.concatenate(([True], codes[1:] > top[:-1]))
    if fresh.all():
        return result
    places = result["_row"].to_numpy()[~fresh].tolist()
    log.tally(f"{file}: {{rows}} copying an earlier row in every cell; each counts once.", "row", places)
    log.say_tallies()
    return result.filter(pa.array(fresh))


def _one(column: pa.ChunkedArray) -> pa.Array:
    flat = column.combine_chunks()
    return flat if isinstance(flat, pa.Array) else pa.concat_arrays(flat.chunks)
