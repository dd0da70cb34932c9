"""Bad input through the real command: its exit code, one sentence, no traceback, nothing half-written."""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest

from dialtrue.interfaces.cli import run
from tests.support.folders import SITE, SITES_HEADER

READS = b"endpoint_serial,at,index\n"

REFUSED: list[tuple[str, bytes, int, str]] = [
    ("reads.csv", b"", 12, "EMPTY-FILE"),
    ("reads.csv", READS.replace(b",", b";") + b"E1;2026-01-01T00:00Z;5\n", 14, "WRONG-SEPARATOR"),
    ("reads.csv", READS + "É,2026-01-01T00:00Z,5\n".encode("latin-1"), 13, "NOT-UTF-8"),
    ("reads.csv", READS.decode().encode("utf-16"), 13, "NOT-UTF-8"),
    ("reads.csv", READS + b"E\x001,2026-01-01T00:00Z,5\n", 13, "NOT-TEXT"),
    ("reads.csv", b"column," * 1_000_000, 15, "HEADER-TOO-LARGE"),
    ("reads.csv", b"endpoint_serial,index\n", 15, "COLUMN-MISSING"),
    ("reads.csv", READS + b"1" * 20_000_000, 16, "LINE-TOO-LONG"),
    ("reads.csv.gz", gzip.compress(READS, mtime=0)[:-4], 17, "DAMAGED-FILE"),
    ("reads.parquet", b"PAR1 and no more", 17, "DAMAGED-FILE"),
    ("sites.xlsx", b"no workbook", 17, "DAMAGED-FILE"),
    ("programme.toml", b'timezone = "Nowhere/Town"', 19, "UNKNOWN-TIME-ZONE"),
    ("notes.txt", b"no table", 10, "NO-TABLES"),
]


@pytest.mark.parametrize(("name", "content", "exit_code", "code"), REFUSED)
def test_refused_file_ends_with_its_own_code(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, content: bytes, exit_code: int, code: str
) -> None:
    folder = tmp_path / "programme"
    folder.mkdir()
    (folder / name).write_bytes(content)
    if name == "programme.toml":
        (folder / "sites.csv").write_text(f"{SITES_HEADER}\n{SITE}\n")
    out = tmp_path / "findings.csv"
    assert run(["watch", str(folder), "--out", str(out)]) == exit_code
    said = capsys.readouterr()
    assert f"[{code}]" in said.err
    assert "Traceback" not in said.err + said.out
    assert [entry.name for entry in tmp_path.iterdir()] == ["programme"]


def test_missing_folder_ends_with_ten(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["watch", str(tmp_path / "nowhere")]) == 10
    assert "[FOLDER-MISSING]" in capsys.readouterr().err


def test_bad_reads_are_left_out_and_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rows = b"E1,1970-01-01T00:00:00Z,5\nE1,2026-01-01T00:00:00Z,-100000000\nE1,2026-01-01T01:00:00Z,7\n"
    (tmp_path / "reads.csv").write_bytes(READS + rows)
    assert run(["watch", str(tmp_path)]) in (0, 3)
    assert "2 bad rows" in capsys.readouterr().out


def test_strict_refuses_bad_reads_and_writes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "reads.csv").write_bytes(READS + b"E1,1970-01-01T00:00:00Z,5\n")
    assert run(["watch", str(tmp_path), "--strict", "--out", str(tmp_path / "findings.csv")]) == 18
    assert "row 2, at '1970-01-01T00:00:00Z'" in capsys.readouterr().err
    assert not (tmp_path / "findings.csv").exists()
