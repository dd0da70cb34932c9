"""Parquet tables other than reads, as columns."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from dialtrue.domain.errors.input_files import (
    ColumnTwice,
    DamagedFile,
    EmptyFile,
    FileTooLarge,
    FileUnreadable,
    HeaderTooLarge,
)
from dialtrue.files.csv_in import RawTable
from dialtrue.files.limits import MAX_CELLS, MAX_COLUMNS, MAX_TABLE_BYTES, MAX_TABLE_ROWS

SPOILT: Final = (pa.ArrowException, OSError, ValueError, NotImplementedError)
"""What the Parquet library raises for spoilt files (names that are not UTF-8 come as ValueError)."""


def open_parquet(path: Path, name: str, known: tuple[str, ...]) -> pq.ParquetFile:
    """Open a Parquet file and look at its foot.

    Raises
    ------
    EmptyFile, DamagedFile, FileUnreadable, HeaderTooLarge, ColumnTwice
    """
    try:
        if path.stat().st_size == 0:
            raise EmptyFile(file=name, header=", ".join(known[:4]) + " …")
        opened = pq.ParquetFile(path)
    except SPOILT as error:
        raise broken(name, error) from error
    width = opened.metadata.num_columns
    if width > MAX_COLUMNS:
        raise HeaderTooLarge(file=name, size=f"{width:,} columns", limit=f"{MAX_COLUMNS:,} columns")
    try:
        names = opened.schema_arrow.names
    except SPOILT as error:
        raise broken(name, error) from error
    for column in known:
        if names.count(column) > 1:
            places = [str(place) for place, other in enumerate(names, start=1) if other == column]
            raise ColumnTwice(file=name, column=column, places=" and ".join(places))
    return opened


def broken(name: str, error: BaseException) -> DamagedFile | FileUnreadable:
    """Return the error that says what is wrong with a Parquet file."""
    if isinstance(error, OSError) and error.errno is not None and not isinstance(error, pa.ArrowException):
        return FileUnreadable(file=name, reason=(error.strerror or str(error)).lower())
    first = (str(error).splitlines() or [""])[0][:160].rstrip(".")
    return DamagedFile(file=name, kind="Parquet", reason=first or "it is damaged")


def read_parquet(path: Path, name: str, known: tuple[str, ...]) -> RawTable:
    """Read a whole Parquet table.

    Parameters
    ----------
    path, name
        The file, and what to call it in messages.
    known : tuple of str
        The contract's columns.

    Raises
    ------
    FileTooLarge
        More rows, cells or bytes than memory is set aside for.
    EmptyFile, DamagedFile, FileUnreadable, HeaderTooLarge, ColumnTwice
    """
    opened = open_parquet(path, name, known)
    rows, width = opened.metadata.num_rows, opened.metadata.num_columns
    if rows > MAX_TABLE_ROWS:
        raise FileTooLarge(file=name, limit=f"{MAX_TABLE_ROWS:,} rows")
    if rows * width > MAX_CELLS:
        raise FileTooLarge(file=name, limit=f"{MAX_CELLS:,} cells")
    unpacked = sum(opened.metadata.row_group(group).total_byte_size for group in range(opened.metadata.num_row_groups))
    if unpacked > MAX_TABLE_BYTES:
        raise FileTooLarge(file=name, limit=f"{MAX_TABLE_BYTES // 1_000_000:,} MB when unpacked")
    try:
        text = [field.name for field in opened.schema_arrow if _is_text(field.type)]
        # Text stays as dictionaries until its true size is known: a page of ten bytes may repeat a long text.
        table = pq.ParquetFile(path, read_dictionary=text).read()
        table.validate(full=True)
        columns = {}
        left = MAX_TABLE_BYTES
        for column in table.column_names:
            flat = table[column].combine_chunks()
            flat = flat if isinstance(flat, pa.Array) else pa.concat_arrays(flat.chunks)
            left -= _plain_bytes(flat)
            if left < 0:
                raise FileTooLarge(file=name, limit=f"{MAX_TABLE_BYTES // 1_000_000:,} MB when unpacked")
            columns[column] = plain_column(flat)
    except SPOILT as error:
        raise broken(name, error) from error
    columns.pop("_row", None)
    return RawTable(name, columns, np.arange(1, rows + 1, dtype=np.int64))


def _is_text(kind: pa.DataType) -> bool:
    return bool(
        pa.types.is_string(kind)
        or pa.types.is_large_string(kind)
        or pa.types.is_binary(kind)
        or pa.types.is_dictionary(kind)
    )


def _plain_bytes(column: pa.Array) -> int:
    """Return what a column weighs once written out."""
    if not pa.types.is_dictionary(column.type):
        return int(column.nbytes)
    words = column.dictionary
    if not (pa.types.is_string(words.type) or pa.types.is_large_string(words.type) or pa.types.is_binary(words.type)):
        return int(column.nbytes)
    lengths = pc.fill_null(pc.binary_length(words), 0).to_numpy(zero_copy_only=False)
    codes = pc.fill_null(column.indices, 0).to_numpy(zero_copy_only=False)
    return int(lengths[codes].sum()) if len(lengths) else 0


def plain_column(column: pa.Array) -> pa.Array:
    """Return plain text for text, other types as they are."""
    kind = column.type
    if pa.types.is_dictionary(kind):
        column = pc.cast(column, kind.value_type)
        kind = column.type
    if pa.types.is_large_string(kind) or pa.types.is_binary(kind) or pa.types.is_large_binary(kind):
        return pc.cast(column, pa.string())
    if pa.types.is_null(kind):
        return pa.nulls(len(column), pa.string())
    return column
