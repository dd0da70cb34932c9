"""Findings and crossings as contract tables."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
import pyarrow as pa

from dialtrue.domain.contracts import CROSSINGS, FINDINGS, Form, Table
from dialtrue.domain.finding import Crossing, Evidence, Figure, Finding, Findings
from dialtrue.files.tables_out import write_table

ARROW_TYPE: Final[dict[Form, pa.DataType]] = {
    "text": pa.string(),
    "digits": pa.string(),
    "decimal": pa.string(),
    "unit": pa.string(),
    "choice": pa.string(),
    "json": pa.string(),
    "int": pa.int64(),
    "float": pa.float64(),
    "time": pa.timestamp("us", tz="UTC"),
    "day": pa.date32(),
    "flag": pa.bool_(),
}
"""The Arrow type that holds each contract form."""


def findings_table(findings: Sequence[Finding]) -> pa.Table:
    """Return the findings as a table in the contract's columns; blank texts are blank cells. Never raises."""
    if isinstance(findings, Findings):
        held = findings.columns()
        return pa.table(
            [_column(held[column.name], ARROW_TYPE[column.form]) for column in FINDINGS.columns],
            schema=pa.schema([(column.name, ARROW_TYPE[column.form]) for column in FINDINGS.columns]),
        )
    rows = [{**_plain(finding, FINDINGS), "evidence": evidence_json(finding.evidence)} for finding in findings]
    return _as_table(FINDINGS, rows)


def _column(values: Sequence[Any], kind: pa.DataType) -> pa.Array:
    """Turn a column as ``Findings.columns`` carries it into Arrow: its blanks become nulls."""
    array = np.asarray(values)
    if pa.types.is_timestamp(kind):
        return pa.array(array, pa.int64(), mask=array < 0).cast(kind)
    if pa.types.is_floating(kind):
        return pa.array(array, kind, mask=np.isnan(array))
    if pa.types.is_string(kind):
        return pa.array(array, kind, mask=array == "")
    return pa.array(array, kind)


def evidence_json(evidence: Sequence[Evidence]) -> str:
    """Write the reasons as a JSON list of rule, says, figures and weight [nat]. Never raises."""
    items = [
        {
            "rule": item.rule,
            "says": item.says,
            "figures": {name: _finite(figure) for name, figure in item.figures.items()},
            "weight": _finite(round(item.weight, 4)),
        }
        for item in evidence
    ]
    return json.dumps(items, ensure_ascii=False, separators=(",", ":"))


def _finite(figure: Figure) -> Figure:
    """Return the figure, or None for one that JSON has no word for (not a number, without end)."""
    return None if isinstance(figure, float) and not math.isfinite(figure) else figure


def write_findings(path: Path, findings: Sequence[Finding]) -> None:
    """Write findings as CSV or Parquet by the ending of the name.

    Raises
    ------
    UnknownSuffix
        Another ending than .csv, .csv.gz or .parquet.
    OutputNotWritten
        The system refused; what stood there is unchanged.
    """
    write_table(path, findings_table(findings))


def write_crossings(path: Path, crossings: Sequence[Crossing]) -> None:
    """Write crossings as CSV or Parquet by the ending of the name; raises as ``write_findings`` does."""
    write_table(path, _as_table(CROSSINGS, [_plain(crossing, CROSSINGS) for crossing in crossings]))


def _plain(item: Finding | Crossing, table: Table) -> dict[str, Any]:
    """Return the fields of a dataclass that are columns, an empty text as None."""
    names = [column.name for column in table.columns if column.name != "evidence"]
    values = ((name, getattr(item, name)) for name in names)
    return {name: None if value == "" else value for name, value in values}


def _as_table(table: Table, rows: Sequence[dict[str, Any]]) -> pa.Table:
    schema = pa.schema([(column.name, ARROW_TYPE[column.form]) for column in table.columns])
    return pa.Table.from_pylist(list(rows), schema=schema)
