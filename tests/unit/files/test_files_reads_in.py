"""Reads in: CSV and Parquet alike, odd blocks cell by cell, serials that grow into codes."""

from __future__ import annotations

import gzip
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from dialtrue.domain.errors.input_files import RowsRefused
from dialtrue.files import reads_csv, reads_parquet
from dialtrue.files.tables_out import write_reads
from tests.support.folders import opened, pulled, us, with_files

HEADER = "endpoint_serial,port,at,index,flag\n"
CHICAGO = 'timezone = "America/Chicago"'


@pytest.fixture
def small_blocks(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Make blocks of a few rows, so that a short file has many."""
    monkeypatch.setattr(reads_csv, "BLOCK_BYTES", 120)
    monkeypatch.setattr(reads_parquet, "MAX_ROW_GROUP_ROWS", 3)
    monkeypatch.setattr(reads_parquet, "_SLICE_ROWS", 3)
    return


def test_clean_reads_come_in_file_order(tmp_path: Path) -> None:
    rows = "E2,2,2026-01-01T01:00:00Z,7,estimated\nE1,,2026-01-01T00:00:00Z,417733,\n"
    rows += "E2,2,2026-01-01T02:00:00Z,9,repeated\n"
    programme = opened(with_files(tmp_path, reads_csv=HEADER + rows))
    at = us("2026-01-01T00:00:00+00:00")
    hour = 3_600_000_000
    assert pulled(programme) == [("E2", 2, at + hour, 7, 1), ("E1", 1, at, 417733, 0), ("E2", 2, at + 2 * hour, 9, 2)]
    assert programme.reads is not None
    assert programme.reads.total_rows is None
    assert programme.reads.endpoints == ["E2", "E1"]


def test_batches_have_the_promised_types_and_end_at_the_size(tmp_path: Path) -> None:
    source = opened(with_files(tmp_path, reads_csv=HEADER + "E1,1,2026-01-01T01:00:00Z,7,\n")).reads
    assert source is not None
    (batch,) = source.batches()
    kinds = [batch.endpoint.dtype, batch.port.dtype, batch.at_us.dtype, batch.index.dtype, batch.flag.dtype]
    assert kinds == [np.int32, np.int32, np.int64, np.int64, np.int8]
    assert batch.bytes_done == source.total_bytes == (tmp_path / "reads.csv").stat().st_size


@pytest.mark.usefixtures("small_blocks")
def test_odd_cells_cost_their_rows_only_whatever_the_block(tmp_path: Path) -> None:
    good = [f"E{n % 3},1,2026-01-01T{n:02}:00:00Z,{n},\n" for n in range(20)]
    bad = {
        3: ("E1,1,1970-01-01T00:00:00Z,5,\n", "TIME-TOO-EARLY"),
        6: ("E1,1,2026-01-01T00:00:00Z,-5,\n", "OUT-OF-RANGE"),
        9: ("E1,1,2026-01-01T00:00:00Z,1000000000000000001,\n", "OUT-OF-RANGE"),
        12: ("4.17E+05,1,2026-01-01T00:00:00Z,5,\n", "SERIAL-ROUNDED"),
        15: ("E1,1,2026-01-01T00:00:00Z,5,guess\n", "NOT-A-CHOICE"),
        16: ("E1,0,2026-01-01T00:00:00Z,5,\n", "OUT-OF-RANGE"),
        18: ("E1,1,2026-01-01T00:00:00Z,5\n", "ROW-SHAPE"),
        19: (",1,2026-01-01T00:00:00Z,5,\n", "BLANK-CELL"),
        20: ("E1,1,2026-06-09T00:00:00Z,5,\n", "TIME-TOO-LATE"),
        21: ("E1,1,2026-01-01T00:00:00Z,99999999999999999999,\n", "OUT-OF-RANGE"),
    }
    rows = iter(good)
    lines = [bad[line][0] if line in bad else next(rows) for line in range(2, 32)]
    programme = opened(with_files(tmp_path, reads_csv=HEADER + "".join(lines)))
    assert [row[3] for row in pulled(programme)] == list(range(20))
    assert programme.reads is not None
    found = {problem.row: problem.code for problem in programme.reads.problems}
    expected = {line: code for line, (_, code) in bad.items()}
    assert found == expected
    assert programme.reads.problem_counts == {"reads.csv": len(bad)}
    again = pulled(programme)
    assert len(again) == 20
    assert programme.reads.problem_counts == {"reads.csv": len(bad)}


def test_index_with_exponent_is_taken_only_where_exactly_whole(tmp_path: Path) -> None:
    rows = "E1,1,2026-01-01T00:00:00Z,4e+05,\nE1,1,2026-01-01T01:00:00Z,417733.0,\nE1,1,2026-01-01T02:00:00Z,4.5,\n"
    programme = opened(with_files(tmp_path, reads_csv=HEADER + rows))
    assert [row[3] for row in pulled(programme)] == [400_000, 417_733]
    assert programme.reads is not None
    assert [(p.row, p.code) for p in programme.reads.problems] == [(4, "NOT-A-WHOLE-NUMBER")]
    assert any("2 numbers (rows 2, 3)" in note for note in programme.notes)


def test_strict_reads_refuse_at_the_end(tmp_path: Path) -> None:
    programme = opened(with_files(tmp_path, reads_csv=HEADER + "E1,1,1970-01-01T00:00:00Z,5,\n"), strict=True)
    with pytest.raises(RowsRefused, match="1970"):
        pulled(programme)


@pytest.mark.usefixtures("small_blocks")
def test_repeated_hour_is_settled_by_the_order_of_the_file(tmp_path: Path) -> None:
    # Six half hours by the wall clock: 00:30, 01:00, 01:30, then 01:00 and 01:30 again, then 02:00.
    walls = ["00:30", "01:00", "01:30", "01:00", "01:30", "02:00"]
    rows = [f"{e},1,2025-11-02 {wall},{n},\n" for e in ("E1", "E2") for n, wall in enumerate(walls)]
    with_files(tmp_path, reads_csv=HEADER + "".join(rows), programme_toml=CHICAGO)
    first = us("2025-11-02T00:30:00-05:00")
    half = 1_800_000_000
    programme = opened(tmp_path)
    found = sorted((name, at, index) for name, _, at, index, _ in pulled(programme))
    assert found == [(e, first + n * half, n) for e in ("E1", "E2") for n in range(6)]
    assert any("8 times" in note for note in programme.notes)


def test_repeated_hour_in_a_file_from_new_to_old(tmp_path: Path) -> None:
    walls = ["00:30", "01:00", "01:30", "01:00", "01:30", "02:00"]
    rows = [f"E1,1,2025-11-02 {wall},{n},\n" for n, wall in enumerate(walls)]
    with_files(tmp_path, reads_csv=HEADER + "".join(rows[::-1]), programme_toml=CHICAGO)
    first = us("2025-11-02T00:30:00-05:00")
    assert sorted(row[2] for row in pulled(opened(tmp_path))) == [first + n * 1_800_000_000 for n in range(6)]


def reads_table(rows: int = 10, **more: pa.Array) -> pa.Table:
    at = us("2026-01-01T00:00:00+00:00") + np.arange(rows) * 3_600_000_000
    return pa.table(
        {
            "endpoint_serial": pa.array([f"E{n % 2}" for n in range(rows)]),
            "port": pa.array(np.ones(rows, np.int32)),
            "at": pa.array(at).cast(pa.timestamp("us")).cast(pa.timestamp("us", tz="UTC")),
            "index": pa.array(np.arange(rows)),
            **more,
        }
    )


@pytest.mark.parametrize("unit", ["s", "ms", "us", "ns"])
@pytest.mark.parametrize("zone", [None, "UTC", "America/Chicago"])
def test_parquet_stamps_of_any_resolution_and_zone(tmp_path: Path, unit: str, zone: str | None) -> None:
    table = reads_table()
    kind = pa.timestamp(unit, tz=zone)
    at = table["at"].cast(pa.timestamp(unit)) if zone is None else table["at"].cast(kind)
    pq.write_table(table.set_column(2, "at", at), tmp_path / "reads.parquet")
    assert [row[2] for row in pulled(opened(tmp_path))] == table["at"].cast(pa.int64()).to_pylist()


def test_naive_parquet_stamps_follow_the_zone(tmp_path: Path) -> None:
    table = reads_table()
    pq.write_table(table.set_column(2, "at", table["at"].cast(pa.timestamp("us"))), tmp_path / "reads.parquet")
    with_files(tmp_path, programme_toml=CHICAGO)
    shifted = [at + 6 * 3_600_000_000 for at in table["at"].cast(pa.int64()).to_pylist()]
    assert [row[2] for row in pulled(opened(tmp_path))] == shifted


@pytest.mark.parametrize("kind", [pa.int16(), pa.int32(), pa.uint64(), pa.float64(), pa.string()])
def test_parquet_index_of_any_whole_type(tmp_path: Path, kind: pa.DataType) -> None:
    table = reads_table()
    pq.write_table(table.set_column(3, "index", table["index"].cast(kind)), tmp_path / "reads.parquet")
    assert [row[3] for row in pulled(opened(tmp_path))] == list(range(10))


@pytest.mark.usefixtures("small_blocks")
def test_parquet_odd_rows_are_named_by_row_number(tmp_path: Path) -> None:
    table = reads_table(flag=pa.array([None, "estimated", "repeated", "", None, None, "odd", None, None, None]))
    index = table["index"].to_pylist()
    index[4] = -(10**8)
    at = table["at"].to_pylist()
    at[8] = None
    table = table.set_column(3, "index", pa.array(index)).set_column(2, "at", pa.array(at, table["at"].type))
    pq.write_table(table, tmp_path / "reads.parquet")
    programme = opened(tmp_path)
    rows = pulled(programme)
    assert programme.reads is not None
    assert [(p.row, p.column) for p in programme.reads.problems] == [(5, "index"), (7, "flag"), (9, "at")]
    assert [row[3] for row in rows] == [0, 1, 2, 3, 5, 7, 9]
    assert [row[4] for row in rows][:4] == [0, 1, 2, 0]
    assert programme.reads.total_rows == 10


def test_port_beyond_32_bits_is_not_narrowed(tmp_path: Path) -> None:
    table = reads_table(2)
    table = table.set_column(1, "port", pa.array([1, 2**32 + 1]))
    pq.write_table(table, tmp_path / "reads.parquet")
    assert len(pulled(opened(tmp_path))) == 1


def test_folder_of_reads_mixes_forms_and_keeps_codes(tmp_path: Path) -> None:
    (tmp_path / "reads" / "2026").mkdir(parents=True)
    (tmp_path / "reads" / "a.csv.gz").write_bytes(gzip.compress((HEADER + "E9,1,2026-01-01T00:00Z,1,\n").encode()))
    write_reads(tmp_path / "reads" / "2026" / "b.parquet", reads_table(4))
    (tmp_path / "reads" / "notes.txt").write_text("no table")
    programme = opened(tmp_path)
    rows = pulled(programme)
    assert programme.reads is not None
    assert sorted(programme.reads.endpoints) == ["E0", "E1", "E9"]
    assert len(rows) == 5
    assert pulled(programme) == rows


@pytest.mark.parametrize("ordered", [True, False])
def test_exact_copies_are_counted_and_said(tmp_path: Path, ordered: bool) -> None:
    rows = [f"E{e},1,2026-01-01T{h:02}:00Z,{h},\n" for e in range(3) for h in range(10)]
    rows.insert(5, rows[4])
    if not ordered:
        rows.sort(key=lambda row: row.split(",")[2])
        rows.append(rows[0])
    programme = opened(with_files(tmp_path, reads_csv=HEADER + "".join(rows)))
    pulled(programme)
    assert any(f"{1 if ordered else 2} row" in note and "copying" in note for note in programme.notes)


def test_copied_file_is_said(tmp_path: Path) -> None:
    (tmp_path / "reads").mkdir()
    for name in ("a.csv", "b.csv"):
        (tmp_path / "reads" / name).write_text(HEADER + "E9,1,2026-01-01T00:00Z,1,\n")
    assert "reads/b.csv is a copy of reads/a.csv: remove one." in opened(tmp_path).notes


@pytest.mark.parametrize(("fitted", "heard"), [("00417", "417"), ("417", "00417")])
def test_endpoint_serial_without_its_zeros_is_offered(tmp_path: Path, fitted: str, heard: str) -> None:
    with_files(
        tmp_path,
        fittings_csv=f"meter_serial,endpoint_serial,fitted_at\nM,{fitted},2026-01-01T00:00Z\n",
        reads_csv=HEADER + f"{heard},1,2026-01-02T00:00Z,1,\n",
    )
    programme = opened(tmp_path)
    assert pulled(programme)[0][0] == heard
    assert [r.key for r in programme.repairs] == [f"zeros:reads:{heard}"]
    pulled(programme)
    assert len(programme.repairs) == 1
    taken = opened(tmp_path, accept=[f"zeros:reads:{heard}"])
    assert pulled(taken)[0][0] == fitted
    assert len(taken.accepted) == 1


@pytest.mark.usefixtures("small_blocks")
def test_dates_in_another_order_are_settled_for_the_whole_file(tmp_path: Path) -> None:
    # The only row that settles the order stands at the end, blocks away from the first.
    rows = [f"E1,1,{day:02}/02/2026 10:00,{day},\n" for day in range(1, 14)]
    programme = opened(with_files(tmp_path, reads_csv=HEADER + "".join(rows)))
    assert pulled(programme) == []
    assert [r.key for r in programme.repairs] == ["dates:reads:day-first"]
    taken = opened(tmp_path, accept=["dates"])
    first = us("2026-02-01T10:00:00+00:00")
    assert [row[2] for row in pulled(taken)] == [first + n * 86_400_000_000 for n in range(13)]
