"""Tables out: whole or not at all, times with Z, reads cut at port boundaries."""

from __future__ import annotations

import csv
import datetime as dt
import gzip
import json
import os
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from dialtrue.domain.contracts import CROSSINGS, FINDINGS
from dialtrue.domain.errors.input_files import OutputNotWritten, UnknownSuffix
from dialtrue.domain.finding import Crossing, Evidence, Finding
from dialtrue.files import tables_out
from dialtrue.files.findings import write_crossings, write_findings
from dialtrue.files.tables_out import write_atomically, write_reads, write_table

FINDING = Finding(
    meter_serial="00123", endpoint_serial="E1", port=1, register_role="single", fault="dead_input", probability=0.97,
    runner_up="vacant", runner_up_probability=0.02, action="visit", since=dt.datetime(2026, 3, 1, 6, tzinfo=dt.UTC),
    volume_error_l=-1234.5, volume_error_low_l=-1300.0, volume_error_high_l=-1200.0, parameter=None,
    next_check='A dial read, "now"', remedy="Mend it.", verdict="", priority=3.5,
    evidence=(Evidence("dial_gap", "The dial moved, the index did not.", {"ratio": float("nan"), "n": 3}, 12.34567),),
)  # fmt: skip


def rows_of(path: Path) -> list[dict[str, str]]:
    text = gzip.decompress(path.read_bytes()).decode() if path.suffix == ".gz" else path.read_text("utf-8")
    return list(csv.DictReader(text.splitlines()))


@pytest.mark.parametrize("name", ["findings.csv", "findings.csv.gz", "deep/er/findings.csv"])
def test_findings_are_written_in_the_contract_s_columns(tmp_path: Path, name: str) -> None:
    write_findings(tmp_path / name, [FINDING])
    (row,) = rows_of(tmp_path / name)
    assert list(row) == [column.name for column in FINDINGS.columns]
    assert (row["meter_serial"], row["since"]) == ("00123", "2026-03-01T06:00:00Z")
    assert (row["parameter"], row["verdict"], row["next_check"]) == ("", "", 'A dial read, "now"')
    (reason,) = json.loads(row["evidence"], parse_constant=lambda word: pytest.fail(word))
    assert reason["figures"] == {"ratio": None, "n": 3}
    assert reason["weight"] == 12.3457


def test_no_findings_still_give_a_header(tmp_path: Path) -> None:
    write_findings(tmp_path / "findings.csv", [])
    assert (tmp_path / "findings.csv").read_text() == ",".join(c.name for c in FINDINGS.columns) + "\n"


def test_crossings_keep_a_blank_kind(tmp_path: Path) -> None:
    write_crossings(tmp_path / "crossings.parquet", [Crossing(1, "M1", "E1", "E2", 1, "", 0.9)])
    table = pq.read_table(tmp_path / "crossings.parquet")
    assert table.column_names == [column.name for column in CROSSINGS.columns]
    assert table.to_pylist()[0]["kind"] is None


def test_unknown_ending_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UnknownSuffix, match=r"findings\.xls"):
        write_findings(tmp_path / "findings.xls", [])
    with pytest.raises(UnknownSuffix):
        write_reads(tmp_path / "reads.csv", pa.table({}))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("failing", ["write", "replace", "fsync"])
def test_failed_write_leaves_the_old_file_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: str
) -> None:
    path = tmp_path / "findings.csv"
    path.write_text("old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    if failing == "write":
        with pytest.raises(OutputNotWritten, match="no space left"):
            write_atomically(path, full)
    else:
        monkeypatch.setattr(os, failing, full)
        with pytest.raises(OutputNotWritten, match="no space left"):
            write_table(path, pa.table({"a": [1]}))
    assert path.read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["findings.csv"]


def test_folder_in_the_way_is_said(tmp_path: Path) -> None:
    (tmp_path / "findings.csv").mkdir()
    with pytest.raises(OutputNotWritten):
        write_findings(tmp_path / "findings.csv", [])
    (tmp_path / "a").write_text("file")
    with pytest.raises(OutputNotWritten):
        write_findings(tmp_path / "a" / "findings.csv", [])


def test_written_file_has_the_usual_permissions(tmp_path: Path) -> None:
    write_table(tmp_path / "a.csv", pa.table({"a": [1]}))
    (tmp_path / "b.csv").write_text("plain")
    assert (tmp_path / "a.csv").stat().st_mode == (tmp_path / "b.csv").stat().st_mode


def test_same_table_gives_the_same_bytes(tmp_path: Path) -> None:
    table = pa.table({"a": ["x", None, "y"], "t": pa.array([1, 2, None], pa.timestamp("us", tz="UTC"))})
    for suffix in (".csv", ".csv.gz", ".parquet"):
        for name in ("one", "two"):
            write_table(tmp_path / (name + suffix), table)
        assert (tmp_path / f"one{suffix}").read_bytes() == (tmp_path / f"two{suffix}").read_bytes()
    assert (tmp_path / "one.csv").read_text().splitlines()[1] == "x,1970-01-01T00:00:00.000001Z"


def test_cells_with_marks_of_csv_come_back(tmp_path: Path) -> None:
    cells = ['q"u', "a,b", "two\nlines", "cr\rhere", " x "]
    write_table(tmp_path / "a.csv", pa.table({"x,y": cells, "n": range(5)}))
    with (tmp_path / "a.csv").open(newline="", encoding="utf-8") as source:
        assert [row["x,y"] for row in csv.DictReader(source)] == cells


def test_row_groups_of_reads_are_cut_at_port_boundaries(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables_out, "ROW_GROUP_ROWS", 10)
    sizes = {("A", 1): 4, ("A", 2): 4, ("B", 1): 4, ("C", 1): 25, ("D", 1): 1}
    rows = [(e, p, n) for (e, p), count in sizes.items() for n in range(count)]
    order = np.random.default_rng(3).permutation(len(rows))
    shuffled = [rows[place] for place in order]
    table = pa.table(
        {
            "endpoint_serial": [e for e, _, _ in shuffled],
            "port": [p for _, p, _ in shuffled],
            "at": pa.array([n * 10**6 for *_, n in shuffled], pa.timestamp("us", tz="UTC")),
            "index": [n for *_, n in shuffled],
            "flag": pa.nulls(len(rows), pa.string()),
        }
    )
    write_reads(tmp_path / "reads.parquet", table)
    opened = pq.ParquetFile(tmp_path / "reads.parquet")
    groups = [opened.read_row_group(g).to_pylist() for g in range(opened.num_row_groups)]
    assert [len(group) for group in groups] == [8, 4, 25, 1]
    found = [(row["endpoint_serial"], row["port"], row["index"]) for group in groups for row in group]
    assert found == sorted(rows)
    assert opened.schema_arrow.names == ["endpoint_serial", "port", "at", "index"]
    column = opened.metadata.row_group(0).column(2)
    assert "DELTA_BINARY_PACKED" in column.encodings
    assert column.compression == "ZSTD"


def test_reads_without_rows_still_give_a_schema(tmp_path: Path) -> None:
    kinds = {"endpoint_serial": pa.string(), "port": pa.int32(), "at": pa.timestamp("us", "UTC"), "index": pa.int64()}
    write_reads(tmp_path / "reads.parquet", pa.table({n: pa.array([], k) for n, k in kinds.items()}))
    assert pq.read_table(tmp_path / "reads.parquet").schema.names == list(kinds)
