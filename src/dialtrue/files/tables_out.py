"""Tables out: CSV, gzipped CSV and Parquet, each written beside its place and then moved there in one step."""

from __future__ import annotations

import gzip
import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO, Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pacsv
import pyarrow.parquet as pq

from dialtrue.domain.errors.input_files import OutputNotWritten, UnknownSuffix

ROW_GROUP_ROWS: Final = 1_000_000
"""Row groups of reads are cut at the port boundary below this size. [rows] Our assumption: measured to scan best."""


def write_atomically(path: Path, write: Callable[[BinaryIO], None]) -> None:
    """Write a file so that a reader sees the old one whole or the new one whole, never a part.

    Parameters
    ----------
    path : Path
        Where the file is to stand; its folder is made if need be.
    write : callable
        Is given an open binary file beside ``path``.

    Raises
    ------
    OutputNotWritten
        The system refused (full, not permitted, a folder in the way); what stood there is unchanged.

    Source
    ------
    Definition: a rename within one folder is one step.
    """
    temporary: str | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
        with os.fdopen(handle, "wb") as sink:
            write(sink)
            sink.flush()
            os.fsync(sink.fileno())
        os.chmod(temporary, 0o666 & ~_umask())
        os.replace(temporary, path)
        temporary = None
    except OSError as error:
        raise OutputNotWritten(file=str(path), reason=(error.strerror or str(error)).lower()) from error
    finally:
        if temporary is not None and os.path.exists(temporary):
            os.unlink(temporary)


def _umask() -> int:
    """Return the process's mask for new files (mkstemp ignores it)."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def write_table(path: Path, table: pa.Table) -> None:
    """Write one contract table by the ending of its name; times in CSV are ISO 8601 with ``Z``.

    Parameters
    ----------
    path : Path
        Ends in ``.csv``, ``.csv.gz`` or ``.parquet``.
    table : pa.Table
        Columns as they are to stand in the file; a column ``_row`` (the line it was read from) is left out.

    Raises
    ------
    UnknownSuffix
        Another ending.
    OutputNotWritten
        The system refused; what stood there is unchanged.
    """
    if "_row" in table.column_names:
        table = table.drop_columns(["_row"])
    name = path.name.lower()
    if name.endswith(".parquet"):
        write_atomically(path, lambda sink: pq.write_table(table, sink, compression="zstd"))
    elif name.endswith(".csv"):
        write_atomically(path, lambda sink: _write_csv(table, sink))
    elif name.endswith(".csv.gz"):
        write_atomically(path, lambda sink: _write_csv_gz(table, sink))
    else:
        raise UnknownSuffix(file=str(path), allowed=".csv, .csv.gz or .parquet")


def _write_csv_gz(table: pa.Table, sink: BinaryIO) -> None:
    # No name and no time in the gzip header: the same table gives the same bytes.
    with gzip.GzipFile(filename="", fileobj=sink, mode="wb", compresslevel=6, mtime=0) as packed:
        _write_csv(table, packed)  # type: ignore[arg-type]


def _write_csv(table: pa.Table, sink: BinaryIO) -> None:
    columns = [_as_csv(column) for column in table.columns]
    out = pa.table(columns, names=table.column_names)
    # The writer quotes every text once it may quote at all; most tables need no quote mark anywhere.
    texts = [column for column in out.columns if pa.types.is_string(column.type)]
    marks = any(pc.any(pc.match_substring_regex(column, '[",\r\n]')).as_py() for column in texts)
    options = pacsv.WriteOptions(include_header=False, quoting_style="needed" if marks else "none")
    header = ",".join(_quoted(name) for name in table.column_names) + "\n"
    sink.write(header.encode("utf-8"))
    if out.num_columns:
        pacsv.write_csv(out, sink, options)


def _quoted(name: str) -> str:
    """Quote a header cell only where it must be."""
    return '"' + name.replace('"', '""') + '"' if any(mark in name for mark in ',"\r\n') else name


def _as_csv(column: pa.ChunkedArray) -> pa.ChunkedArray:
    """Turn a column into what its text shall be: ISO 8601 with Z, lower-case truth, plain text."""
    kind = column.type
    if pa.types.is_timestamp(kind):
        return iso_text(column)
    if pa.types.is_dictionary(kind):
        return _as_csv(pc.cast(column, kind.value_type))
    if pa.types.is_null(kind):
        return pc.cast(column, pa.string())
    if pa.types.is_decimal(kind):
        # The scale is the type's, not the figure's: 29.000 pieces are 29.
        text = pc.replace_substring_regex(pc.cast(column, pa.string()), r"(\.\d*?)0+$", r"\1")
        return pc.replace_substring_regex(text, r"\.$", "")
    if pa.types.is_string(kind) or pa.types.is_large_string(kind):
        # An empty text and a blank are one thing in the contract.
        return pc.if_else(pc.equal(column, ""), None, column)
    return column


def iso_text(column: pa.ChunkedArray) -> pa.ChunkedArray:
    """Write times as ISO 8601 with ``Z``: whole seconds where all are whole, microseconds otherwise."""
    micros = pc.cast(column, pa.timestamp("us", tz="UTC"), safe=False)
    stamps = pc.cast(micros, pa.timestamp("us"))
    whole = pc.all(pc.equal(pc.microsecond(stamps), 0)).as_py() and pc.all(pc.equal(pc.millisecond(stamps), 0)).as_py()
    if whole is not False:
        stamps = pc.cast(stamps, pa.timestamp("s"), safe=False)
    return pc.strftime(stamps, format="%Y-%m-%dT%H:%M:%SZ")


def write_reads(path: Path, table: pa.Table) -> None:
    """Write reads as Parquet for fast scans: sorted by endpoint, port and time, row groups cut at port boundaries.

    Parameters
    ----------
    path : Path
        Ends in ``.parquet``.
    table : pa.Table
        endpoint_serial, port, at, index, and flag and received_at if known; any order of rows.

    Raises
    ------
    UnknownSuffix
        Another ending.
    OutputNotWritten
        The system refused; what stood there is unchanged.

    Notes
    -----
    ``flag`` and ``received_at`` are left out where every cell is blank. A port with more rows than a row group holds
    has a row group of its own.
    """
    if not path.name.lower().endswith(".parquet"):
        raise UnknownSuffix(file=str(path), allowed=".parquet")
    table = _reads_sorted(table)
    starts = _port_starts(table)
    names = table.column_names
    words = [name for name in ("endpoint_serial", "flag") if name in names]
    delta = {name: "DELTA_BINARY_PACKED" for name in ("port", "at", "index", "received_at") if name in names}

    def write(sink: BinaryIO) -> None:
        with pq.ParquetWriter(
            sink, table.schema, compression="zstd", use_dictionary=words, column_encoding=delta
        ) as writer:
            cut = 0
            while cut < table.num_rows:
                end = _next_cut(starts, cut, table.num_rows)
                writer.write_table(table.slice(cut, end - cut), row_group_size=end - cut)
                cut = end
            if not table.num_rows:
                writer.write_table(table)

    write_atomically(path, write)


def _reads_sorted(table: pa.Table) -> pa.Table:
    """Bring reads into their types at rest and into order."""
    blank = [n for n in ("flag", "received_at") if n in table.column_names and table[n].null_count == table.num_rows]
    table = table.drop_columns([*blank, *(["_row"] if "_row" in table.column_names else [])])
    types = {
        "endpoint_serial": pa.string(), "port": pa.int32(), "at": pa.timestamp("us", tz="UTC"), "index": pa.int64(),
        "flag": pa.string(), "received_at": pa.timestamp("us", tz="UTC"),
    }  # fmt: skip
    columns = {
        name: pc.cast(table[name], types[name]) if name in types and table[name].type != types[name] else table[name]
        for name in table.column_names
    }
    table = pa.table(columns)
    keys = [("endpoint_serial", "ascending"), ("port", "ascending"), ("at", "ascending")]
    return table.take(pc.sort_indices(table, sort_keys=keys)).combine_chunks() if table.num_rows else table


def _port_starts(table: pa.Table) -> np.ndarray:
    """Return the row at which each port begins."""
    if not table.num_rows:
        return np.zeros(0, np.int64)
    endpoint = table["endpoint_serial"].combine_chunks().dictionary_encode()
    codes = (endpoint.combine_chunks() if isinstance(endpoint, pa.ChunkedArray) else endpoint).indices.to_numpy()
    port = table["port"].to_numpy()
    changes = (codes[1:] != codes[:-1]) | (port[1:] != port[:-1])
    return np.concatenate(([0], np.flatnonzero(changes) + 1))


def _next_cut(starts: np.ndarray, cut: int, rows: int) -> int:
    """Return the last port boundary within a row group's size, or the first one after it."""
    place = int(np.searchsorted(starts, cut + ROW_GROUP_ROWS, side="right")) - 1
    if place >= 0 and starts[place] > cut:
        return rows if cut + ROW_GROUP_ROWS >= rows else int(starts[place])
    later = np.searchsorted(starts, cut, side="right")
    return int(starts[later]) if later < len(starts) else rows
