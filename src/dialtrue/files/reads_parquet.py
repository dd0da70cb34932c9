"""Reads from Parquet, row group by row group, each on any thread, near the speed of a bare scan."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from dialtrue.domain.contracts import READS
from dialtrue.domain.errors.input_files import FileTooLarge
from dialtrue.files.column_types import fits, wrong_type
from dialtrue.files.csv_in import RawTable
from dialtrue.files.headers import renamed_header
from dialtrue.files.limits import MAX_ROW_GROUP_ROWS
from dialtrue.files.parquet_in import SPOILT, broken, open_parquet, plain_column
from dialtrue.files.reads_copies import copies_in
from dialtrue.files.reads_part import (
    READS_BOUNDED,
    RECEIVED,
    ReadsPart,
    ReadsRules,
    careful_part,
    flag_codes,
    known_times,
)
from dialtrue.files.reads_told import Told

_KNOWN: Final = tuple(column.name for column in READS.columns)
_SLICE_ROWS: Final = 1_000_000
MAX_GROUP_BYTES: Final = 2_000_000_000
"""Most bytes of one row group, unpacked. [bytes] Our assumption: hundreds of bytes a read is no read."""


class ParquetPieces:
    """The row groups of one Parquet file, each to be decoded on any thread.

    Parameters
    ----------
    path, name
        The file, and what to call it in messages.
    rules : ReadsRules
        Bounds, zone and log.
    begin : int
        Row group to begin at. [0 or more]
    serials : sequence of str, optional
        Leave out row groups that surely hold none of these, given in ascending order.

    Raises
    ------
    ColumnMissing, WrongColumnType, DamagedFile, FileTooLarge, FileUnreadable
    """

    def __init__(
        self, path: Path, name: str, rules: ReadsRules, *, begin: int = 0, serials: Sequence[str] | None = None
    ) -> None:
        self._serials = serials
        self._path, self._name, self._rules, self._begin = path, name, rules, begin
        with open_parquet(path, name, _KNOWN) as plain:
            self._about, schema = plain.metadata, plain.schema_arrow
        renamed = renamed_header(schema.names, READS_BOUNDED, name, rules.log, row=0)
        wanted = {column: renamed.get(column, column) for column in schema.names}
        rules.arrival_written = RECEIVED in wanted.values()
        self._wanted = {column: to for column, to in wanted.items() if to in rules.needed}
        self._words = []
        for column, to in self._wanted.items():
            kind = schema.field(column).type
            kind = kind.value_type if pa.types.is_dictionary(kind) else kind
            kind = pa.string() if pa.types.is_large_string(kind) or pa.types.is_null(kind) else kind
            contract = READS_BOUNDED.column(to)
            if contract is not None and not fits(kind, contract.form, to):
                raise wrong_type(name, "reads", contract, kind)
            if to in ("endpoint_serial", "flag"):
                self._words.append(column)
        self._told = Told(self._about, schema, {to: column for column, to in self._wanted.items()}, rules)
        self._own = threading.local()

    @property
    def span_us(self) -> tuple[int, int] | None:
        """First and last time as the file's own statistics tell them, within bounds; None where they do not."""
        return self._told.span_us()

    @property
    def rows(self) -> int:
        """Rows that the file's foot states."""
        return int(self._about.num_rows)

    def __iter__(self) -> Iterator[ParquetPiece]:
        """Yield each row group, in slices if it is very large."""
        first_row, done = 1, 0
        for group in range(self._about.num_row_groups):
            about = self._about.row_group(group)
            if group < self._begin or (self._serials is not None and not self._told.may_hold(group, self._serials)):
                first_row += about.num_rows
                continue
            if about.total_byte_size > MAX_GROUP_BYTES:
                raise FileTooLarge(file=self._name, limit=f"{MAX_GROUP_BYTES // 1_000_000:,} MB in one row group")
            size = sum(about.column(place).total_compressed_size for place in range(about.num_columns))
            if about.num_rows <= MAX_ROW_GROUP_ROWS:
                done += size
                yield ParquetPiece(self, group, None, first_row, done)
                first_row += about.num_rows
                continue
            try:
                columns = list(self._wanted)
                for batch in self._opened().iter_batches(_SLICE_ROWS, row_groups=[group], columns=columns):
                    done += size * batch.num_rows // about.num_rows
                    yield ParquetPiece(self, group, pa.Table.from_batches([batch]), first_row, done)
                    first_row += batch.num_rows
            except SPOILT as error:
                raise broken(self._name, error) from error

    def _opened(self) -> pq.ParquetFile:
        """Return this thread's own reader."""
        opened = getattr(self._own, "opened", None)
        if opened is None:
            opened = pq.ParquetFile(self._path, metadata=self._about, read_dictionary=self._words, pre_buffer=False)
            self._own.opened = opened
        return opened

    def table(self, group: int, *, whole: bool) -> pa.Table:
        """Read a row group; only what has to be decoded, unless the whole is asked for."""
        told = () if whole else self._told.known(group)
        columns = [column for column, to in self._wanted.items() if to not in told]
        try:
            return self.sound(self._opened().read_row_group(group, columns=columns, use_threads=False))
        except SPOILT as error:
            raise broken(self._name, error) from error

    def sound(self, table: pa.Table) -> pa.Table:
        """Check the text of a table and give its columns the contract's names."""
        try:
            return _sound(table).rename_columns([self._wanted[column] for column in table.column_names])
        except SPOILT as error:
            raise broken(self._name, error) from error

    def fast(self, table: pa.Table, group: int, first_row: int, done: int) -> ReadsPart | None:
        """Take a table as arrays; None if any cell or bound does not hold."""
        return _fast(table, first_row, done, self._rules, self._told, group)

    def careful(self, table: pa.Table, first_row: int, done: int) -> ReadsPart:
        """Take a table cell by cell."""
        return _careful(table, first_row, done, self._name, self._rules)


@dataclass(slots=True)
class ParquetPiece:
    """One row group, or a slice of a very large one."""

    file: ParquetPieces
    group: int
    table: pa.Table | None
    first_row: int
    bytes_done: int
    part: ReadsPart | None = None

    def decode(self) -> None:
        """Unpack and check; on any thread."""
        sliced = self.table
        table = self.file.table(self.group, whole=False) if sliced is None else self.file.sound(sliced)
        self.part = self.file.fast(table, self.group, self.first_row, self.bytes_done)
        if self.part is not None and not self.part.naive:
            self.part.copies = copies_in(self.part)
            self.table = None

    def settle(self, rules: ReadsRules, name: str) -> ReadsPart:
        """Finish what touches the log and the zone; in the order of the file, one at a time."""
        part = self.part
        if part is not None and part.naive:
            part = self._through_zone(part, rules, name)
        if part is None:
            table = self.file.table(self.group, whole=True) if self.table is None else self.file.sound(self.table)
            part = self.file.careful(table, self.first_row, self.bytes_done)
        if part.copies is None:
            part.copies = copies_in(part)
        return part

    def _through_zone(self, part: ReadsPart, rules: ReadsRules, name: str) -> ReadsPart | None:
        if not rules.within_any_zone(part):
            return None
        ports = part.ports(np.arange(len(part.at_us)))
        series = part.serial_codes.astype(np.int64) * 128 + ports
        part.at_us = rules.to_utc(part.at_us, series, self.first_row, name)
        part.naive = False
        return part if rules.holds(part) else None


def _sound(table: pa.Table) -> pa.Table:
    """Check that text is UTF-8: of a dictionary once for each word; raises what the Parquet library raises."""
    for column in table.columns:
        for chunk in column.chunks:
            if pa.types.is_dictionary(chunk.type):
                chunk.dictionary.validate(full=True)
            elif not pa.types.is_primitive(chunk.type):
                chunk.validate(full=True)
    return table


def _fast(
    table: pa.Table, first_row: int, bytes_done: int, rules: ReadsRules, told: Told, group: int
) -> ReadsPart | None:
    """Take a row group as arrays; None if any cell or bound does not hold."""
    names = table.column_names
    rows = table.num_rows
    at, index = table["at"], table["index"]
    if not pa.types.is_timestamp(at.type) or not pa.types.is_integer(index.type) or pa.types.is_uint64(index.type):
        return None
    if any(table[column].null_count for column in ("endpoint_serial", "at", "index")):
        return None
    if "port" in names and not pa.types.is_integer(table["port"].type):
        return None
    if not rows:
        none = np.zeros(0, np.int64)
        narrow = none.astype(np.int32)
        return ReadsPart([], narrow, narrow, none, none, none.astype(np.int8), first_row, bytes_done)
    serials, codes = _words(table["endpoint_serial"])
    port = np.array([told.port(group)], np.int32)
    if "port" in names:
        written = table["port"].fill_null(1) if table["port"].null_count else table["port"]
        port = written.to_numpy()
        if port.dtype != np.int32:
            # Judged before it is narrowed: 2^32 + 1 is not port 1.
            if int(port.min()) < 1 or int(port.max()) > 99:
                return None
            port = port.astype(np.int32)
    at_us = _micros(at)
    if at_us is None:
        return None
    flag = np.zeros(0, np.int8)
    if "flag" in names and table["flag"].null_count < rows:
        if not pa.types.is_dictionary(table["flag"].type):
            return None
        flags, places = _words(table["flag"])
        flag = np.append(flag_codes(flags), np.int8(0))[places]
    part = ReadsPart(
        serials, codes, port, at_us, index.to_numpy().astype(np.int64, copy=False), flag, first_row, bytes_done
    )
    if rules.received and RECEIVED in names:
        part.known_us = _known(table[RECEIVED], at_us) if at.type.tz is not None else None
        if part.known_us is None:
            return None
    if at.type.tz is None:
        part.naive = True
        return part
    part.bounded = told.bounded(group)
    return part if rules.holds(part) else None


def _known(received: pa.ChunkedArray, at_us: np.ndarray) -> np.ndarray | None:
    """Return when each read was known; None where a naive time has to go through the zone first."""
    if not pa.types.is_timestamp(received.type) or received.type.tz is None:
        return None
    try:
        return known_times(_one(received.cast(pa.timestamp("us", tz="UTC"), safe=False)).view(pa.int64()), at_us)
    except pa.ArrowInvalid:
        return None


def _micros(at: pa.ChunkedArray) -> np.ndarray | None:
    """Return microseconds since 1970 without a copy where they are so written; None where they would not fit."""
    raw = at.cast(pa.int64()).to_numpy() if at.num_chunks != 1 else at.chunk(0).view(pa.int64()).to_numpy()
    unit = at.type.unit
    if unit == "us":
        return raw
    if unit == "ns":
        return raw // 1000
    factor = 1_000_000 if unit == "s" else 1000
    limit = (2**63 - 1) // factor
    return None if int(raw.max()) > limit or int(raw.min()) < -limit else raw * factor


def _words(column: pa.ChunkedArray) -> tuple[list[str | None], np.ndarray]:
    """Return the words of a dictionary column and each row's place among them, -1 (the last) for blank."""
    if column.num_chunks > 1:
        column = column.unify_dictionaries()
    flat = column.chunk(0) if column.num_chunks == 1 else column.combine_chunks()
    flat = flat if isinstance(flat, pa.Array) else flat.chunk(0)
    indices = pc.fill_null(flat.indices, -1) if flat.null_count else flat.indices
    return flat.dictionary.to_pylist(), indices.to_numpy(zero_copy_only=False)


def _careful(table: pa.Table, first_row: int, bytes_done: int, name: str, rules: ReadsRules) -> ReadsPart:
    """Take a row group cell by cell."""
    columns = {column: plain_column(_one(table[column])) for column in table.column_names}
    lines = np.arange(first_row, first_row + table.num_rows, dtype=np.int64)
    return careful_part(RawTable(name, columns, lines), rules, bytes_done)


def _one(column: pa.ChunkedArray) -> pa.Array:
    flat = column.combine_chunks()
    return flat if isinstance(flat, pa.Array) else pa.concat_arrays(flat.chunks)
