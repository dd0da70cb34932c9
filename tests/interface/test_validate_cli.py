"""``dialtrue validate`` as a reader of bills meets it: words, files, exit codes."""

from __future__ import annotations

import csv
import datetime as dt
import gzip
import json
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from dialtrue.interfaces.cli import run
from tests.support.programmes import HOUR, Port, write_programme

BEGIN = dt.datetime(2026, 3, 2, tzinfo=dt.UTC)


def port(name: str, *, missing: range = range(0), wrong: dict[int, int] | None = None, use: int = 4) -> Port:
    hours = [k for k in range(24 * 28) if k not in missing]
    index = [(wrong or {}).get(k, 1000 + use * k) for k in hours]
    return Port(name, BEGIN, "001000", "00001000", [BEGIN + k * HOUR for k in hours], index, "10", unit="gal")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    ports = [port("A"), port("B", missing=range(300, 310)), port("C", wrong={50: 900_000})]
    (tmp_path / "p").mkdir()
    return write_programme(tmp_path / "p", ports)


def validate(folder: Path, *words: str) -> int:
    return run(["validate", str(folder), *words])


def test_a_gap_is_filled_and_a_wrong_read_is_said(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert validate(folder) == 3
    lines = capsys.readouterr().out.splitlines()
    text = " ".join(" ".join(lines).split())
    assert "2,006 reads of 3 ports: 1 read and 0 ports failed a check; 1 gap filled with 10 estimates." in text
    assert "1 gap 10 estimates from like days" in text
    assert "1 impossible_step" in text
    assert max(map(len, lines)) <= 100


@pytest.mark.parametrize("name", ["out.csv", "out.csv.gz", "out.parquet"])
def test_every_read_is_there_as_sent(folder: Path, name: str, tmp_path: Path) -> None:
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    out = tmp_path / name
    assert validate(folder, "--out", str(out)) == 3
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    if name.endswith(".parquet"):
        rows = pq.read_table(out).to_pylist()
    else:
        data = out.read_bytes()
        text = (gzip.decompress(data) if name.endswith(".gz") else data).decode()
        rows = [{key: value or None for key, value in row.items()} for row in csv.DictReader(text.splitlines())]
    sent = [row for row in rows if row["index"] is not None]
    assert len(sent) == 2006
    assert [int(row["index"]) for row in sent if row["endpoint_serial"] == "E-B"][:3] == [1000, 1004, 1008]
    made = [row for row in rows if row["index"] is None]
    assert [int(row["estimate"]) for row in made] == [1000 + 4 * k for k in range(300, 310)]
    assert {row["endpoint_serial"] for row in made} == {"E-B"}
    assert {(int(row["quality"]), row["rule"]) for row in made} == {(8, "like_days")}
    wrong = [row for row in rows if row["rule"] == "impossible_step"]
    assert [(int(row["index"]), int(row["quality"]), row["estimate"]) for row in wrong] == [(900_000, 10, None)]
    others = {int(row["quality"]) for row in sent if row not in wrong}
    assert others == {17}


def test_reads_without_gaps_end_with_nothing_to_do(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "p").mkdir()
    assert validate(write_programme(tmp_path / "p", [port("A")])) == 0
    assert "0 gaps filled with 0 estimates" in " ".join(capsys.readouterr().out.split())


def test_json_says_all_of_it(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert validate(folder, "--json") == 3
    document = json.loads(capsys.readouterr().out)
    assert document["failed"] is True
    assert document["estimates"] == {"like_days": 10}
    assert document["said"] == {"impossible_step": 1}
    assert document["worst"][0]["endpoint_serial"] == "E-C"


def test_a_dry_run_writes_nothing(folder: Path, tmp_path: Path) -> None:
    assert validate(folder, "--out", str(tmp_path / "out.csv"), "--dry-run") == 3
    assert not (tmp_path / "out.csv").exists()


def test_the_reads_are_never_overwritten(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (reads,) = (path for path in folder.iterdir() if path.name.startswith("reads"))
    before = reads.read_bytes()
    assert validate(folder, "--out", str(reads)) == 2
    assert "[ORIGINAL-KEPT]" in capsys.readouterr().err
    assert reads.read_bytes() == before


def test_a_folder_without_reads_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "sites.csv").write_text(
        "site,meter_serial,dial_digits,dial_unit,pulse_weight,pulse_unit\nS,M,6,gal,1,gal\n"
    )
    assert validate(tmp_path) == 40
    assert "[NOTHING-TO-VALIDATE]" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("spikes = 2", "UNKNOWN-VALIDATE-SETTING"),
        ("spike_ratio = -1", "BAD-VALIDATE-SETTING"),
        ("spike_least = 1.5", "BAD-VALIDATE-SETTING"),
        ('interpolate_past_alarm = "no"', "BAD-VALIDATE-SETTING"),
        ("zero_days = true", "BAD-VALIDATE-SETTING"),
    ],
)
def test_a_setting_that_means_nothing_is_refused(
    folder: Path, line: str, code: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "programme.toml").write_text(f"[validate]\n{line}\n", encoding="utf-8")
    assert validate(folder) == 19
    assert f"[{code}]" in capsys.readouterr().err


def test_an_unknown_ending_is_refused_before_the_work(folder: Path) -> None:
    assert validate(folder, "--out", "out.txt") == 2


def test_rows_out_of_order_are_said_and_change_nothing(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert validate(folder, "--out", str(tmp_path / "one.csv")) == 3
    table = pq.read_table(folder / "reads.parquet")
    pq.write_table(table.take(list(range(len(table) - 1, -1, -1))), folder / "reads.parquet")
    capsys.readouterr()
    assert validate(folder, "--out", str(tmp_path / "two.csv")) == 3
    assert "Rows of 3 ports do not stand in order of time" in capsys.readouterr().out
    assert (tmp_path / "one.csv").read_bytes() == (tmp_path / "two.csv").read_bytes()


def test_estimates_given_back_as_reads_are_no_reads(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    validate(folder, "--out", str(tmp_path / "out.csv"))
    (folder / "reads.parquet").unlink()
    (folder / "reads.csv").write_bytes((tmp_path / "out.csv").read_bytes())
    capsys.readouterr()
    assert validate(folder, "--json") == 3
    document = json.loads(capsys.readouterr().out)
    assert document["reads"] == 2006
    assert document["bad_rows"] == {"reads.csv": 10}


def test_bad_rows_are_counted_and_refused_where_that_is_asked(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "reads.parquet").unlink()
    rows = [f"E-A,1,2026-03-02T{hour:02}:00:00Z,{1000 + hour}" for hour in range(20)]
    rows[3] = "E-A,1,yesterday,1003"
    rows[5] = "E-A,1,2026-03-02T05:00:00Z,-7"
    (folder / "reads.csv").write_text("\n".join(["endpoint_serial,port,at,index", *rows]) + "\n", encoding="utf-8")
    assert validate(folder) == 0
    assert "reads.csv: 2 bad rows" in capsys.readouterr().out
    assert validate(folder, "--strict") == 18
    assert "[ROWS-REFUSED]" in capsys.readouterr().err
