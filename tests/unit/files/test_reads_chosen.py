"""Taking only some files, some row groups, and what may hold some endpoints."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from dialtrue.files.programme import open_programme
from tests.support.folders import AT, pulled, with_files

STAMP = pa.timestamp("us", tz="UTC")


def write(path: Path, *groups: list[tuple[str, int]]) -> None:
    path.parent.mkdir(exist_ok=True)
    tables = [
        pa.table({"endpoint_serial": [serial for serial, _ in group], "index": [index for _, index in group],
                  "at": pa.array([1_750_000_000_000_000 + index for _, index in group], pa.int64()).cast(STAMP)})
        for group in groups
    ]  # fmt: skip
    with pq.ParquetWriter(path, tables[0].schema) as writer:
        for table in tables:
            writer.write_table(table)


def indexes(folder: Path, **chosen: object) -> list[int]:
    programme = open_programme(folder, at=AT, accept=chosen.get("accept", ()))  # type: ignore[arg-type]
    assert programme.reads is not None
    if "begin" in chosen:
        programme.reads.choose(chosen["begin"])  # type: ignore[arg-type]
    if "only" in chosen:
        programme.reads.only(chosen["only"])  # type: ignore[arg-type]
    return [row[3] for row in pulled(programme)]


def test_files_and_row_groups_are_chosen_by_place(tmp_path: Path) -> None:
    write(tmp_path / "reads" / "a.parquet", [("E1", 1)], [("E1", 2)], [("E1", 3)])
    write(tmp_path / "reads" / "b.parquet", [("E1", 4)])
    assert indexes(tmp_path, begin={0: 2}) == [3]
    assert indexes(tmp_path, begin={0: 1, 1: 0}) == [2, 3, 4]
    assert indexes(tmp_path, begin=None) == [1, 2, 3, 4]


def test_row_groups_without_the_endpoint_are_left_out(tmp_path: Path) -> None:
    write(tmp_path / "reads.parquet", [("A", 1), ("C", 2)], [("D", 3), ("F", 4)], [("F", 5), ("G", 6)])
    assert indexes(tmp_path, only=["E"]) == [3, 4]
    assert indexes(tmp_path, only=["F"]) == [3, 4, 5, 6]
    assert indexes(tmp_path, only=["B", "Z"]) == [1, 2]
    assert indexes(tmp_path, only=["H"]) == []


def test_an_accepted_repair_leaves_nothing_out(tmp_path: Path) -> None:
    write(tmp_path / "reads.parquet", [("7", 1)], [("8", 2)])
    with_files(tmp_path, fittings_csv="meter_serial,endpoint_serial,fitted_at\nM,007,2025-01-01T00:00Z\n")
    assert indexes(tmp_path, only=["007"], accept=("zeros",)) == [1, 2]
