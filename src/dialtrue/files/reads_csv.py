"""Reads from CSV and CSV.gz, block by block at the speed of the parser; odd blocks cell by cell."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv as pacsv

from dialtrue.domain.contracts import READS
from dialtrue.files.csv_in import RawTable, split_rows
from dialtrue.files.date_order import Order, settle_order
from dialtrue.files.headers import renamed_header
from dialtrue.files.limits import BLOCK_BYTES
from dialtrue.files.reads_part import (
    READS_BOUNDED,
    RECEIVED,
    ReadsPart,
    ReadsRules,
    careful_part,
    flag_codes,
    known_times,
)
from dialtrue.files.text_in import Block, CheckedText
from dialtrue.files.times import slashed

_WORDS = pa.dictionary(pa.int32(), pa.string())
_TIMES = (pa.timestamp("us", tz="UTC"), pa.timestamp("us"))
_KNOWN = tuple(column.name for column in READS.columns)


def csv_parts(path: Path, name: str, rules: ReadsRules) -> Iterator[ReadsPart]:
    """Yield the reads of a CSV file.

    Parameters
    ----------
    path, name
        The file, and what to call it in messages.
    rules : ReadsRules
        Bounds, zone and log.

    Raises
    ------
    DialtrueError
        One of the errors of ``errors/input_files.py``.
    """
    with CheckedText(path, name, _KNOWN, block_bytes=BLOCK_BYTES, most=None) as text:
        renamed = renamed_header(text.header, READS_BOUNDED, name, rules.log)
        header = [renamed.get(column, column) for column in text.header]
        rules.arrival_written = RECEIVED in header
        times = list(_TIMES)
        for block in text.blocks():
            data = block.data.rstrip(b"\r\n")
            if not data:
                continue
            part = None
            for kind in tuple(times):
                part = _fast(data, header, kind, block, name, rules)
                if part is not None:
                    # The form that fitted is tried first on the next block.
                    times.remove(kind)
                    times.insert(0, kind)
                    break
            if part is None:
                raw = split_rows(block.data, header, name, block.first_line)
                if rules.dates is None and _slashed(raw).any():
                    rules.dates = _whole_order(path, name, header, rules)
                part = careful_part(raw, rules, block.bytes_done)
            yield part


def _slashed(raw: RawTable) -> np.ndarray:
    """Return the rows whose time is a date that is not ISO 8601."""
    return slashed(raw.columns["at"], np.ones(len(raw.lines), bool))


def _whole_order(path: Path, name: str, header: list[str], rules: ReadsRules) -> Order:
    """Settle the order of dates by every row of the file: the one day above 12 may stand at its end."""
    texts: dict[str, None] = {}
    first: tuple[int, str] | None = None
    with CheckedText(path, name, _KNOWN, block_bytes=BLOCK_BYTES, most=None) as text:
        for block in text.blocks():
            raw = split_rows(block.data, header, name, block.first_line)
            rows = _slashed(raw)
            written = raw.columns["at"].filter(pa.array(rows)).to_pylist()
            if written and first is None:
                first = (int(raw.lines[np.argmax(rows)]), written[0])
            texts.update(dict.fromkeys(stamp[:10] for stamp in written))
    line, example = first or (0, "")
    return settle_order("reads", name, "at", line, example, list(texts), rules.log)


def _fast(
    data: bytes, header: list[str], time_kind: pa.DataType, block: Block, name: str, rules: ReadsRules
) -> ReadsPart | None:
    """Parse a block with every column in its type; None if any cell, row or bound does not hold."""
    kinds = {"endpoint_serial": _WORDS, "port": pa.int32(), "at": time_kind, "index": pa.int64(), "flag": _WORDS}
    kinds[RECEIVED] = time_kind
    columns = [column for column in rules.needed if column in header]
    try:
        table = pacsv.read_csv(
            pa.BufferReader(data),
            read_options=pacsv.ReadOptions(column_names=header, block_size=2_000_000),
            parse_options=pacsv.ParseOptions(newlines_in_values=False, ignore_empty_lines=False),
            convert_options=pacsv.ConvertOptions(
                include_columns=columns, column_types={column: kinds[column] for column in columns},
                null_values=[""], strings_can_be_null=True, quoted_strings_can_be_null=True,
                timestamp_parsers=[pacsv.ISO8601],
            ),
        )  # fmt: skip
    except pa.ArrowException:
        return None
    rows = table.num_rows
    lines = block.line_ends - block.data.count(b"\n", len(data)) + 1
    if rows != lines or any(table[column].null_count for column in ("endpoint_serial", "at", "index")):
        return None
    table = table.unify_dictionaries()
    serials, codes = _words(table["endpoint_serial"])
    port = table["port"].fill_null(1).to_numpy() if "port" in columns else np.ones(rows, np.int32)
    at_us = table["at"].to_numpy().astype("datetime64[us]", copy=False).view(np.int64)
    if "flag" in columns and table["flag"].null_count < rows:
        words, flag_rows = _words(table["flag"])
        flag = np.append(flag_codes(words), np.int8(0))[flag_rows]
    else:
        flag = np.zeros(0, np.int8)
    part = ReadsPart(serials, codes, port, at_us, table["index"].to_numpy(), flag, block.first_line, block.bytes_done)
    naive = time_kind.tz is None
    if RECEIVED in columns:
        if naive:
            return None  # its arrival has to go through the zone too: cell by cell
        received = table[RECEIVED].combine_chunks().cast(pa.timestamp("us", tz="UTC"))
        part.known_us = known_times(received.view(pa.int64()), at_us)
    if not naive:
        return part if rules.holds(part) else None
    if not rules.within_any_zone(part):
        return None
    part.at_us = rules.to_utc(at_us, codes.astype(np.int64) * 128 + port, block.first_line, name)
    return part if rules.holds(part) else None


def _words(column: pa.ChunkedArray) -> tuple[list[str | None], np.ndarray]:
    """Return the words of a dictionary column and each row's place among them, -1 (the last) for blank."""
    flat = column.combine_chunks()
    flat = flat if isinstance(flat, pa.Array) else flat.chunk(0)
    return flat.dictionary.to_pylist(), flat.indices.fill_null(-1).to_numpy(zero_copy_only=False)
