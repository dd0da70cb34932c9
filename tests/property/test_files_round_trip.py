"""A table written and read again is the same table, in every form."""

from __future__ import annotations

import datetime as dt
import tempfile
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dialtrue.domain.contracts import TABLE, Column, Table
from dialtrue.files.findings import ARROW_TYPE
from dialtrue.files.tables_out import write_reads, write_table
from tests.support.folders import opened, pulled

WORDS = st.text(st.characters(exclude_categories=("Cs", "Cc")) | st.sampled_from('\n",;é'), min_size=1, max_size=12)
SERIALS = st.from_regex(r"[A-Z0-9-]{1,12}", fullmatch=True)
TIMES = st.datetimes(dt.datetime(2000, 1, 2), dt.datetime(2026, 6, 1), timezones=st.just(dt.UTC))  # noqa: DTZ001
DECIMALS = st.decimals("0.0001", "99999", places=4, allow_nan=False).map(lambda number: f"{number:f}")


def cells(column: Column) -> st.SearchStrategy[Any]:
    """Return the cells that a column may hold."""
    low, high = column.minimum or 0, column.maximum or 10**15
    kinds: dict[str, st.SearchStrategy[Any]] = {
        "text": SERIALS if column.name.endswith("serial") else WORDS.filter(str.strip).map(str.strip),
        "digits": st.from_regex(r"[0-9]{1,12}", fullmatch=True),
        "int": st.integers(low, high),
        "float": st.floats(low, high, allow_nan=False),
        "decimal": DECIMALS,
        "unit": st.sampled_from(column.choices or ("",)),
        "choice": st.sampled_from(column.choices or ("",)),
        "time": TIMES,
        "day": st.dates(dt.date(1990, 1, 1), dt.date(2030, 1, 1)),
        "flag": st.booleans(),
    }
    known = kinds[column.form]
    return known if column.required or column.default is not None else st.none() | known


def rows_of(table: Table) -> st.SearchStrategy[list[dict[str, Any]]]:
    row = st.fixed_dictionaries({column.name: cells(column) for column in table.columns})
    return st.lists(row, min_size=1, max_size=6, unique_by=lambda row: repr(sorted(row.items(), key=lambda i: i[0])))


def arrow(table: Table, rows: list[dict[str, Any]]) -> pa.Table:
    return pa.Table.from_pylist(rows, schema=pa.schema([(c.name, ARROW_TYPE[c.form]) for c in table.columns]))


@pytest.mark.parametrize("suffix", [".csv", ".csv.gz", ".parquet"])
@pytest.mark.parametrize("name", ["sites", "fittings", "dial_reads", "alarms", "weather", "use_history"])
@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_table_written_then_read_is_the_same_table(name: str, suffix: str, data: st.DataObject) -> None:
    rows = data.draw(rows_of(TABLE[name]))
    written = arrow(TABLE[name], rows)
    with tempfile.TemporaryDirectory() as folder:
        write_table(Path(folder) / (name + suffix), written)
        programme = opened(Path(folder))
    assert programme.problems == []
    assert programme.tables[name].drop_columns(["_row"]).to_pylist() == written.to_pylist()


@pytest.mark.parametrize("suffix", [".csv", ".csv.gz", ".parquet", ".fast.parquet"])
@settings(max_examples=40, deadline=None)
@given(
    rows=st.lists(
        st.tuples(
            SERIALS.filter(str.strip),
            st.integers(1, 99),
            TIMES,
            st.integers(0, 10**18),
            st.sampled_from([None, "estimated", "repeated"]),
        ),
        min_size=1,
        max_size=30,
    )
)
def test_reads_written_then_read_are_the_same_reads(suffix: str, rows: list[tuple[Any, ...]]) -> None:
    names = ("endpoint_serial", "port", "at", "index", "flag")
    kinds = (pa.string(), pa.int32(), pa.timestamp("us", tz="UTC"), pa.int64(), pa.string())
    written = pa.table({n: pa.array(list(c), k) for n, k, c in zip(names, kinds, zip(*rows, strict=True), strict=True)})
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / ("reads" + suffix.removeprefix(".fast"))
        (write_reads if suffix == ".fast.parquet" else write_table)(path, written)
        programme = opened(Path(folder))
        found = pulled(programme)
    flags = (None, "estimated", "repeated")
    epoch = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
    again = [(e, p, epoch + dt.timedelta(microseconds=at), i, flags[f]) for e, p, at, i, f in found]
    if suffix == ".fast.parquet":
        assert again == sorted(again, key=lambda row: row[:3])
        assert sorted(again, key=repr) == sorted(rows, key=repr)
    else:
        assert again == rows
