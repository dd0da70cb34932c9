"""Installs, reads and left-out ports as CSV and as Parquet; and the data package that describes the CSV files."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, BinaryIO, Final

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pacsv
import pyarrow.parquet as pq

from dialtrue.domain.handover.exact import MOST_PLACES
from dialtrue.domain.handover.forms import READS_OUT, HandedTable, Kind
from dialtrue.domain.handover.port import QUALITIES
from dialtrue.files.handover.part import PortReads, repeated, stamps, volume_texts
from dialtrue.files.tables_out import iso_text

_DECIMAL: Final = pa.decimal128(38, MOST_PLACES)
_ARROW: Final[dict[Kind, pa.DataType]] = {
    "string": pa.string(),
    "integer": pa.int64(),
    "number": _DECIMAL,
    "datetime": pa.timestamp("us", tz="UTC"),
}


def reads_columns(ports: list[PortReads], *, personal: bool) -> dict[str, pa.ChunkedArray]:
    """Return the columns of ``reads`` for some ports; ``volume`` as text, exactly."""
    columns: dict[str, list[pa.Array]] = {item.name: [] for item in READS_OUT.shown(personal=personal)}
    words = pa.array(QUALITIES)
    for held in ports:
        count, port = len(held.at_us), held.port
        texts = {
            "endpoint_serial": port.endpoint_serial, "meter_serial": port.meter_serial,
            "register_role": port.register_role, "unit": port.volume_unit,
        }  # fmt: skip
        made = {name: repeated(text, count) for name, text in texts.items()}
        made["port"] = pa.repeat(pa.scalar(port.port, pa.int64()), count)
        made["at"] = stamps(held.at_us)
        made["index"] = pa.array(held.index, pa.int64())
        made["volume"] = volume_texts(held.index, port.step)
        made["quality"] = words.take(pa.array(held.quality, pa.int8()))
        for name, arrays in columns.items():
            arrays.append(made[name])
    return {name: pa.chunked_array(arrays) for name, arrays in columns.items()}


class ReadsTables:
    """Writes ``reads.csv`` or ``reads.parquet``, or both, part by part."""

    def __init__(self, folder: Path, *, personal: bool, csv: bool, parquet: bool, notes: dict[str, str]) -> None:
        self._personal = personal
        self._rows = 0
        self._csv: BinaryIO | None = None
        self._parquet: pq.ParquetWriter | None = None
        fields = READS_OUT.shown(personal=personal)
        if csv:
            self._csv = (folder / "reads.csv").open("wb")
            self._csv.write((",".join(item.name for item in fields) + "\n").encode("ascii"))
        if parquet:
            schema = _schema(READS_OUT, personal=personal, notes=notes)
            order = pq.SortingColumn.from_ordering(schema, [(name, "ascending") for name in READS_OUT.key])
            self._parquet = pq.ParquetWriter(
                folder / "reads.parquet", schema, compression="zstd", sorting_columns=order
            )

    def add(self, ports: list[PortReads]) -> None:
        """Take the reads of some ports, in order."""
        if not ports:
            return
        columns = reads_columns(ports, personal=self._personal)
        self._rows += len(columns["at"])
        if self._csv is not None:
            _append_csv(self._csv, {**columns, "at": iso_text(columns["at"])})
        if self._parquet is not None:
            exact = {**columns, "volume": columns["volume"].cast(_DECIMAL)}
            self._parquet.write_table(pa.table(exact, schema=self._parquet.schema))

    def close(self) -> list[tuple[str, int]]:
        """Finish the files and say which they are, with their rows."""
        made = []
        if self._csv is not None:
            self._csv.close()
            made.append(("reads.csv", self._rows))
        if self._parquet is not None:
            self._parquet.close()
            made.append(("reads.parquet", self._rows))
        return made

    def give_up(self) -> None:
        """Let go of the files as they are; does nothing to files that are closed."""
        if self._csv is not None:
            self._csv.close()
        if self._parquet is not None:
            self._parquet.close()


def write_rows(
    folder: Path, table: HandedTable, rows: list[dict[str, Any]], *, personal: bool, csv: bool, parquet: bool,
    notes: dict[str, str],
) -> list[tuple[str, int]]:  # fmt: skip
    """Write a small table whole; numbers come as decimal texts, times as UTC [µs]; return its files with their rows."""
    fields = table.shown(personal=personal)
    made = []
    if csv:
        texts = {item.name: _texts([row[item.name] for row in rows], item.kind) for item in fields}
        with (folder / f"{table.name}.csv").open("wb") as sink:
            sink.write((",".join(texts) + "\n").encode("ascii"))
            _append_csv(sink, {name: pa.chunked_array([column]) for name, column in texts.items()})
        made.append((f"{table.name}.csv", len(rows)))
    if parquet:
        schema = _schema(table, personal=personal, notes=notes)
        arrays = [_typed([row[item.name] for row in rows], item.kind) for item in fields]
        pq.write_table(pa.table(arrays, schema=schema), folder / f"{table.name}.parquet", compression="zstd")
        made.append((f"{table.name}.parquet", len(rows)))
    return made


def _append_csv(sink: BinaryIO, columns: dict[str, pa.ChunkedArray]) -> None:
    texts = {name: column.cast(pa.string()) for name, column in columns.items()}
    # The writer quotes every text once it may quote at all; most tables need no quote mark anywhere.
    marks = any(pc.any(pc.match_substring_regex(column, '[",\r\n]')).as_py() for column in texts.values())
    options = pacsv.WriteOptions(include_header=False, quoting_style="needed" if marks else "none")
    pacsv.write_csv(pa.table(texts), sink, options)


def _texts(values: list[Any], kind: Kind) -> pa.Array:
    if kind == "datetime":
        return iso_text(pa.chunked_array([_typed(values, kind)])).combine_chunks()
    return pa.array([None if value in ("", None) else str(value) for value in values], pa.string())


def _typed(values: list[Any], kind: Kind) -> pa.Array:
    blank = [None if value in ("", None) else value for value in values]
    if kind == "datetime":
        return pa.array(blank, pa.int64()).cast(_ARROW[kind])
    if kind == "number":
        return pa.array(blank, pa.string()).cast(_DECIMAL)
    return pa.array(blank, _ARROW[kind])


def _schema(table: HandedTable, *, personal: bool, notes: dict[str, str]) -> pa.Schema:
    """Return the columns with their meaning, and the table's key and notes, as the file itself carries them."""
    fields = [
        pa.field(item.name, _ARROW[item.kind], nullable=not item.required, metadata={"description": item.meaning})
        for item in table.shown(personal=personal)
    ]
    key = ",".join(name for name in table.key)
    return pa.schema(fields, metadata={"title": table.title, "sorted_by": key, "primary_key": key, **notes})


def data_package(
    tables: list[tuple[HandedTable, int, str]], *, name: str, title: str, made_at: str, personal: bool
) -> str:
    """Return ``datapackage.json`` for CSV tables, each with its size in bytes and its SHA-256.

    Source
    ------
    ``FRICTIONLESS``: Data Package and Table Schema, version 1.
    """
    package = {
        "profile": "tabular-data-package",
        "name": name,
        "title": title,
        "created": made_at,
        "resources": [_resource(*each, personal=personal) for each in tables],
    }
    return json.dumps(package, ensure_ascii=False, indent=1) + "\n"


def _resource(table: HandedTable, size: int, digest: str, *, personal: bool) -> dict[str, Any]:
    return {
        "profile": "tabular-data-resource",
        "name": table.name,
        "title": table.title,
        "path": f"{table.name}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": size,
        "hash": f"sha256:{digest}",
        "schema": table_schema(table, personal=personal),
    }


def table_schema(table: HandedTable, *, personal: bool) -> dict[str, Any]:
    """Return a table's Table Schema: fields with types, units in their descriptions, constraints, keys.

    Never raises.

    Source
    ------
    ``FRICTIONLESS``: Table Schema, version 1.
    """
    fields = []
    for item in table.shown(personal=personal):
        made: dict[str, Any] = {"name": item.name, "type": item.kind, "description": item.meaning}
        if item.kind == "datetime":
            made["format"] = "default"
        limits = {**({"required": True} if item.required else {}), **item.limits}
        if limits:
            made["constraints"] = limits
        fields.append(made)
    schema: dict[str, Any] = {"fields": fields, "missingValues": [""]}
    if table.key:
        schema["primaryKey"] = list(table.key)
    if table is READS_OUT:
        both = ["endpoint_serial", "port"]
        schema["foreignKeys"] = [{"fields": both, "reference": {"resource": "installs", "fields": both}}]
    return schema
