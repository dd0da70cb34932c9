"""The benchmark of the watch: its peers do what they say, its seeds stay apart, its table stands."""

from __future__ import annotations

import datetime as dt
import sys
import tomllib
from pathlib import Path

import pytest

from benchmarks import bench_watch_quality as bench
from benchmarks.peers import isolation_forest, rules_of_thumb
from dialtrue.services.watch_quality import Planted, Quality, score_findings
from tests.support.programmes import HOUR, Port, dial_text, write_programme
from tests.support.watch_results import finding

START = dt.datetime(2025, 5, 5, tzinfo=dt.UTC)
HOURS = 24 * 50


def port(name: str, *, counted: list[int], gone: list[int], start: int | None = None) -> Port:
    """Return a port of one gallon a pulse whose dial is read twice."""
    at = [START + hour * HOUR for hour in range(HOURS)]
    base = 40_000
    first = START.date() - dt.timedelta(days=180)
    return Port(
        name=name,
        fitted_at=at[0],
        dial_at_fit=dial_text(base, digits=7),
        start_index=str(base if start is None else start),
        read_at=at[1:],
        index=[(base if start is None else start) + count for count in counted[1:]],
        pulse_weight="1",
        dial_digits=7,
        dial_reads=[(at[k], dial_text(base + gone[k], digits=7)) for k in (600, 1_150)],
        history=[(first + dt.timedelta(days=30 * k), first + dt.timedelta(days=30 * k + 30), "4500") for k in range(6)],
    )


def use() -> list[int]:
    """Return gallons gone by each hour: 150 a day, none at night."""
    total, out = 0, []
    for hour in range(HOURS):
        out.append(total)
        total += 0 if hour % 24 < 5 else 8 + (hour * 7 % 3 - 1)
    return out


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    gone = use()
    ports = [port(f"sound-{k}", counted=gone, gone=gone) for k in range(12)]
    ports += [
        port("dead", counted=[min(count, gone[300]) for count in gone], gone=gone),
        port("double", counted=[2 * count for count in gone], gone=gone),
        port("tenth", counted=[count // 10 for count in gone], gone=gone),
        port("unit", counted=[int(count * 7.4805195) for count in gone], gone=gone),
        port("start", counted=gone, gone=gone, start=4_000),
    ]
    return write_programme(tmp_path_factory.mktemp("peers") / "town", ports)


def test_the_clerk_names_what_the_rules_of_thumb_name_and_leaves_the_sound_alone(folder: Path) -> None:
    findings, crossings = rules_of_thumb.judge(folder)
    named = {one.meter_serial: (one.fault, one.action) for one in findings}
    assert {named[f"M-sound-{k}"] for k in range(12)} == {("sound", "none")}
    assert named["M-double"] == ("double_count", "visit")
    assert named["M-tenth"] == ("weight_decade", "visit")
    assert named["M-unit"] == ("unit_slip", "visit")
    assert named["M-start"] == ("start_slip", "remote_check")
    assert named["M-dead"][1] == "visit"
    assert crossings == []


def test_the_forest_finds_the_odd_ones_and_names_none(folder: Path) -> None:
    pytest.importorskip("sklearn")
    findings, _ = isolation_forest.judge(folder)
    by_oddity = sorted(findings, key=lambda one: -one.probability)
    assert {one.meter_serial for one in by_oddity[:5]} == {
        f"M-{name}" for name in ("dead", "double", "tenth", "unit", "start")
    }
    assert {one.fault for one in findings} <= {"sound", "not_listed"}


def test_training_and_test_seeds_do_not_meet() -> None:
    ranges = tomllib.loads((Path(bench.__file__).parent / "seeds.toml").read_text(encoding="utf-8"))
    train, test = ranges["train"], ranges["test"]
    assert 10_000 <= train["first"] < train["last"] < test["first"] < test["last"]
    assert all(train["first"] <= bench.drawn_seed(train=True) <= train["last"] for _ in range(50))
    assert all(test["first"] <= bench.drawn_seed(train=False) <= test["last"] for _ in range(50))


def test_the_table_has_a_row_for_each_kind_of_fleet_and_one_for_all() -> None:
    truth = [Planted(("W-0042", "81000042", 1), "weight_decade", -15_141.6, 17_000.0, "dial")]
    one = score_findings(truth, [finding()], days=30)
    results = {("dialtrue", bench.CASES[0]): one, ("dialtrue", bench.CASES[1]): Quality()}
    lines = bench.table(results).splitlines()
    assert len(lines) == 6
    assert lines[1].startswith("target, dense")
    assert all(name in lines[0] for name in bench.COLUMNS)
    assert "1.00 (0.21-1.00)" in lines[3]  # one of one, Wilson
    assert lines[4].split()[-1] == "0/0"
    assert len({len(line) for line in lines}) == 1


def test_one_small_fleet_runs_from_end_to_end(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = "bench --seed 7 --registers 60 --no-peers --confusions --only rich daily dense"
    monkeypatch.setattr(sys, "argv", asked.split())
    bench.main()
    printed = capsys.readouterr().out
    assert "seed 7" in printed
    assert "dialtrue: rich daily dense" in printed
    assert "named rightly, of those planted:" in printed
