"""Validated reads out, block by block: CSV, gzipped CSV or Parquet, moved to their place when all are there."""

from __future__ import annotations

import gzip
from collections.abc import Iterator
from pathlib import Path
from typing import IO, BinaryIO, Final

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pacsv
import pyarrow.parquet as pq

from dialtrue.domain.errors.input_files import UnknownSuffix
from dialtrue.domain.errors.validate import OriginalKept
from dialtrue.files.tables_out import ROW_GROUP_ROWS, iso_text, write_atomically

SCHEMA: Final = pa.schema(
    [
        ("endpoint_serial", pa.dictionary(pa.int32(), pa.string())),
        ("port", pa.int32()),
        ("at", pa.timestamp("us", tz="UTC")),
        ("index", pa.int64()),
        ("estimate", pa.int64()),
        ("quality", pa.int8()),
        ("rule", pa.dictionary(pa.int16(), pa.string())),
        ("low", pa.int64()),
        ("high", pa.int64()),
    ]
)
"""One row a read or an estimate, in order of endpoint, port and time."""


def keep_original(path: Path, originals: list[Path]) -> None:
    """Raise ``OriginalKept`` where a result would stand in the place of a file of reads, or among them."""
    there = path.resolve()
    for original in originals:
        whole = original.resolve()
        if there == whole or (whole.parent.name == "reads" and there.parent == whole.parent):
            raise OriginalKept(file=str(path))


def write_validated(path: Path, blocks: Iterator[pa.Table]) -> None:
    """Write validated reads as they come; the file stands there only once all have come.

    Parameters
    ----------
    path : Path
        Ends in ``.csv``, ``.csv.gz`` or ``.parquet``.
    blocks : iterator of pa.Table
        In the form of ``SCHEMA``, in order.

    Raises
    ------
    UnknownSuffix
        Another ending.
    OutputNotWritten
        The system refused; what stood there is unchanged.
    """
    name = path.name.lower()
    if name.endswith(".parquet"):
        write_atomically(path, lambda sink: _write_parquet(blocks, sink))
    elif name.endswith(".csv.gz"):
        write_atomically(path, lambda sink: _write_packed(blocks, sink))
    elif name.endswith(".csv"):
        write_atomically(path, lambda sink: _write_csv(blocks, sink))
    else:
        raise UnknownSuffix(file=str(path), allowed=".csv, .csv.gz or .parquet")


def _write_parquet(blocks: Iterator[pa.Table], sink: BinaryIO) -> None:
    # Dictionaries differ from block to block: in the file each is a plain text with a dictionary of its own.
    plain = pa.schema([(item.name, _plain(item.type)) for item in SCHEMA])
    with pq.ParquetWriter(sink, plain, compression="zstd", use_dictionary=["endpoint_serial", "rule"]) as writer:
        for block in blocks:
            writer.write_table(block.cast(plain), row_group_size=ROW_GROUP_ROWS)


def _write_packed(blocks: Iterator[pa.Table], sink: BinaryIO) -> None:
    # No name and no time in the header: the same reads give the same bytes.
    with gzip.GzipFile(filename="", fileobj=sink, mode="wb", compresslevel=6, mtime=0) as packed:
        _write_csv(blocks, packed)


def _write_csv(blocks: Iterator[pa.Table], sink: IO[bytes]) -> None:
    sink.write((",".join(SCHEMA.names) + "\n").encode())
    for block in blocks:
        # The writer quotes every text once it may quote at all; most serials need no quote mark.
        serials = block["endpoint_serial"].unify_dictionaries().chunk(0).dictionary
        marks = pc.any(pc.match_substring_regex(serials, '[",\r\n]')).as_py()
        options = pacsv.WriteOptions(include_header=False, quoting_style="needed" if marks else "none")
        columns = [
            iso_text(column) if pa.types.is_timestamp(column.type) else column.cast(_plain(column.type))
            for column in block.columns
        ]
        pacsv.write_csv(pa.table(columns, names=SCHEMA.names), sink, options)


def _plain(kind: pa.DataType) -> pa.DataType:
    return kind.value_type if pa.types.is_dictionary(kind) else kind
