"""Reads from Parquet, row group by row group, near the speed of a bare scan."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
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
from dialtrue.files.reads_part import (
    READS_BOUNDED,
    RECEIVED,
    ReadsPart,
    ReadsRules,
    careful_part,
    flag_codes,
    known_times,
)

_KNOWN: Final = tuple(column.name for column in READS.columns)
_SLICE_ROWS: Final = 1_000_000
MAX_GROUP_BYTES: Final = 2_000_000_000
"""Most bytes of one row group, unpacked. [bytes] Our assumption: hundreds of bytes a read is no read."""


def rows_in(path: Path, name: str) -> int:
    """Return the rows that a Parquet file's foot states; raises as ``open_parquet`` does."""
    return int(open_parquet(path, name, _KNOWN).metadata.num_rows)


def parquet_parts(path: Path, name: str, rules: ReadsRules) -> Iterator[ReadsPart]:
    """Yield the reads of a Parquet file.

    Parameters
    ----------
    path, name
        The file, and what to call it in messages.
    rules : ReadsRules
        Bounds, zone and log.

    Raises
    ------
    ColumnMissing, WrongColumnType, DamagedFile, FileTooLarge, FileUnreadable
    """
    plain = open_parquet(path, name, _KNOWN)
    schema = plain.schema_arrow
    renamed = renamed_header(schema.names, READS_BOUNDED, name, rules.log, row=0)
    wanted = {column: renamed.get(column, column) for column in schema.names}
    wanted = {column: to for column, to in wanted.items() if to in rules.needed}
    words = []
    for column, to in wanted.items():
        kind = schema.field(column).type
        kind = kind.value_type if pa.types.is_dictionary(kind) else kind
        kind = pa.string() if pa.types.is_large_string(kind) or pa.types.is_null(kind) else kind
        contract = READS_BOUNDED.column(to)
        if contract is not None and not fits(kind, contract.form, to):
            raise wrong_type(name, "reads", contract, kind)
        if to in ("endpoint_serial", "flag"):
            words.append(column)
    plain.close()
    first_row, done = 1, 0
    for table, share in _tables(path, name, words, list(wanted)):
        table = table.rename_columns([wanted[column] for column in table.column_names])
        done += share
        part = _fast(table, first_row, done, name, rules)
        yield part if part is not None else _careful(table, first_row, done, name, rules)
        first_row += table.num_rows


def _tables(path: Path, name: str, words: list[str], columns: list[str]) -> Iterator[tuple[pa.Table, int]]:
    """Yield each row group, in slices if it is very large, with its share of the file's bytes."""
    try:
        opened = pq.ParquetFile(path, read_dictionary=words)
        # The next group is unpacked while this one is judged: the library does its work outside the interpreter's lock.
        with ThreadPoolExecutor(max_workers=1) as ahead:
            groups = iter(range(opened.metadata.num_row_groups))
            coming = _begin(ahead, opened, next(groups, None), name, columns)
            while coming is not None:
                tables, size, rows = coming
                whole = tables.result() if isinstance(tables, Future) else None
                coming_group = next(groups, None)
                if whole is not None:
                    coming = _begin(ahead, opened, coming_group, name, columns)
                    yield _sound(whole), size
                    continue
                for batch in tables:
                    yield _sound(pa.Table.from_batches([batch])), size * batch.num_rows // rows
                coming = _begin(ahead, opened, coming_group, name, columns)
    except SPOILT as error:
        raise broken(name, error) from error


def _begin(
    ahead: ThreadPoolExecutor, opened: pq.ParquetFile, group: int | None, name: str, columns: list[str]
) -> tuple[Future[pa.Table] | Iterator[pa.RecordBatch], int, int] | None:
    """Begin to read a row group, or to slice a very large one; return it with its bytes and rows."""
    if group is None:
        return None
    about = opened.metadata.row_group(group)
    if about.total_byte_size > MAX_GROUP_BYTES:
        raise FileTooLarge(file=name, limit=f"{MAX_GROUP_BYTES // 1_000_000:,} MB in one row group")
    size = sum(about.column(place).total_compressed_size for place in range(about.num_columns))
    if about.num_rows > MAX_ROW_GROUP_ROWS:
        return opened.iter_batches(batch_size=_SLICE_ROWS, row_groups=[group], columns=columns), size, about.num_rows
    return ahead.submit(opened.read_row_group, group, columns=columns), size, about.num_rows


def _sound(table: pa.Table) -> pa.Table:
    """Check that text is UTF-8: of a dictionary once for each word; raises what the Parquet library raises."""
    for column in table.columns:
        for chunk in column.chunks:
            if pa.types.is_dictionary(chunk.type):
                chunk.dictionary.validate(full=True)
            elif not pa.types.is_primitive(chunk.type):
                chunk.validate(full=True)
    return table


def _fast(table: pa.Table, first_row: int, bytes_done: int, name: str, rules: ReadsRules) -> ReadsPart | None:
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
    port = np.ones(rows, np.int32)
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
    flag = np.zeros(rows, np.int8)
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
        if not rules.within_any_zone(part):
            return None
        part.at_us = rules.to_utc(at_us, codes.astype(np.int64) * 128 + port, first_row, name)
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
