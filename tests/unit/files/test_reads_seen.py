"""Whether a file of reads is what it was, has grown at its end, or has been changed."""

from __future__ import annotations

import os
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from dialtrue.files.reads_seen import compare, seen_now, settled

HEADER = "endpoint_serial,at,index\n"
STAMP = pa.timestamp("us", tz="UTC")


def rows(first: int, count: int) -> pa.Table:
    return pa.table({
        "endpoint_serial": ["E1"] * count, "at": pa.array(range(first, first + count), pa.int64()).cast(STAMP),
        "index": list(range(first, first + count)),
    })  # fmt: skip


def parquet(path: Path, *groups: pa.Table) -> Path:
    with pq.ParquetWriter(path, groups[0].schema) as writer:
        for group in groups:
            writer.write_table(group)
    os.utime(path, ns=(1, next(CLOCK)))
    return path


def text(path: Path, words: str) -> Path:
    path.write_text(words, encoding="utf-8")
    os.utime(path, ns=(1, next(CLOCK)))
    return path


CLOCK = iter(range(1, 1_000))


def test_untouched_and_merely_touched_files_are_the_same(tmp_path: Path) -> None:
    for path in (parquet(tmp_path / "a.parquet", rows(0, 5)), text(tmp_path / "a.csv", HEADER + "E1,1970-01-02,5\n")):
        seen = seen_now(path, path.name)
        assert compare(path, seen)[0] == "same"
        os.utime(path, ns=(1, next(CLOCK)))
        assert compare(path, seen)[0] == "same"


def test_row_groups_after_the_old_ones_are_growth(tmp_path: Path) -> None:
    path = parquet(tmp_path / "a.parquet", rows(0, 5), rows(5, 5))
    seen = seen_now(path, path.name)
    seen.rows, seen.low_us, seen.high_us = 10, 0, 9
    word, now = compare(parquet(path, rows(0, 5), rows(5, 5), rows(10, 3)), seen)
    assert word == "grown"
    assert (now.rows, now.high_us, len(now.marks)) == (10, 9, 3)
    assert now.absolute


@pytest.mark.parametrize("groups", [[rows(0, 5)], [rows(0, 5), rows(6, 5), rows(10, 3)], [rows(0, 10), rows(10, 9)]])
def test_other_row_groups_are_a_change(tmp_path: Path, groups: list[pa.Table]) -> None:
    path = parquet(tmp_path / "a.parquet", rows(0, 5), rows(5, 5))
    seen = seen_now(path, path.name)
    assert compare(parquet(path, *groups), seen)[0] == "changed"


def test_another_schema_is_a_change(tmp_path: Path) -> None:
    path = parquet(tmp_path / "a.parquet", rows(0, 5))
    seen = seen_now(path, path.name)
    other = rows(0, 5).rename_columns(["endpoint_serial", "at", "count"])
    assert compare(parquet(path, other, other), seen)[0] == "changed"


@pytest.mark.parametrize(
    ("before", "after", "word"),
    [
        ("E1,1970-01-02,5\n", "E1,1970-01-02,5\nE1,1970-01-03,6\n", "grown"),
        ("E1,1970-01-02,5", "E1,1970-01-02,56\n", "changed"),  # the last line was not whole
        ("E1,1970-01-02,5\n", "E1,1970-01-02,6\nE1,1970-01-03,6\n", "changed"),
        ("E1,1970-01-02,5\n", "E1,1970-01-02,5", "changed"),
    ],
)
def test_lines_after_the_old_ones_are_growth(tmp_path: Path, before: str, after: str, word: str) -> None:
    path = text(tmp_path / "a.csv", HEADER + before)
    seen = seen_now(path, path.name)
    assert compare(text(path, HEADER + after), seen)[0] == word


def test_a_file_written_to_while_it_was_read_is_not_trusted_again(tmp_path: Path) -> None:
    path = text(tmp_path / "a.csv", HEADER + "E1,1970-01-02,5\n")
    seen = seen_now(path, path.name)
    text(path, HEADER + "E1,1970-01-02,5\nE1,1970-01-03,6\n")
    assert compare(path, settled(path, seen))[0] == "changed"
