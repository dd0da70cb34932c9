"""The command replay from end to end on a small invented town, and its report."""

from __future__ import annotations

import json
from html.parser import HTMLParser
from pathlib import Path

import pyarrow.csv as pacsv
import pytest

from dialtrue.domain.replay_result import ReplayResult, ReplayStep
from dialtrue.engine.simulation.town import TownPlan
from dialtrue.files.report.replay_page import replay_page
from dialtrue.interfaces.cli import run
from dialtrue.services.detection_delay import score_replay
from dialtrue.services.simulate import simulate_town
from tests.support.replays import asked
from tests.unit.services.test_detection_delay import day, fault


@pytest.fixture(scope="module")
def town(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("replay")
    simulate_town(folder / "town", folder / "labels", TownPlan(registers=40, days=30, seed=5))
    return folder


def test_a_season_is_replayed_and_scored(town: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out, report = tmp_path / "replay.csv", tmp_path / "replay.html"
    code = run(["replay", str(town / "town"), "--every", "10d", "--out", str(out), "--report", str(report),
                "--truth", str(town / "labels")])  # fmt: skip
    assert code == 0
    said = capsys.readouterr()
    assert max(map(len, said.out.splitlines())) <= 100
    assert "Wasted visits per 1,000 healthy ports" in said.out
    table = pacsv.read_csv(out)
    assert table.column_names[:3] == ["as_of", "meter_serial", "endpoint_serial"]
    assert set(table["action"].to_pylist()) <= {"visit", "remote_check"}
    assert len(set(table["as_of"].to_pylist())) <= 4
    assert "<svg" in report.read_text(encoding="utf-8")
    assert not (tmp_path / "replay.csv.steps").exists()


def test_json_holds_steps_and_curves(town: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["replay", str(town / "town"), "--every", "20d", "--out", str(tmp_path / "r.parquet"), "--truth",
                str(town / "labels"), "--json"]) == 0  # fmt: skip
    document = json.loads(capsys.readouterr().out)
    assert len(document["steps"]) == 2
    assert document["score"]["families"][0]["name"] == "all faults"


def test_dry_run_writes_nothing(town: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["replay", str(town / "town"), "--out", str(tmp_path / "r.csv"), "--dry-run"]) == 0
    assert "runs, from" in capsys.readouterr().out
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["--every", "weekly"], "BAD-STEP"), (["--from", "tomorrow"], "BAD-MOMENT"), (["--to", "2199-01-01"],
        "MOMENT-AHEAD"), (["--from", "2025-06-01", "--to", "2025-05-20"], "STEPS-BACKWARDS"), (["--truth", "no-such"],
        "BAD-TRUTH"),
    ],
)  # fmt: skip
def test_a_wrong_wish_is_told_in_one_sentence(
    town: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], code: str
) -> None:
    assert run(["replay", str(town / "town"), "--out", str(tmp_path / "r.csv"), *words]) > 1
    said = capsys.readouterr().err.strip().splitlines()[-1]
    assert code in said


@pytest.mark.parametrize(
    ("words", "code"), [(["--as-of", "noon"], "BAD-MOMENT"), (["--as-of", "2199-01-01"], "MOMENT-AHEAD"),
                        (["--as-of", "2001-01-01"], "NOTHING-KNOWN-YET")]
)  # fmt: skip
def test_watch_refuses_a_moment_that_cannot_be(
    town: Path, capsys: pytest.CaptureFixture[str], words: list[str], code: str
) -> None:
    assert run(["watch", str(town / "town"), *words]) > 1
    assert code in capsys.readouterr().err


def test_watch_as_of_a_day_judges_fewer_reads(town: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["watch", str(town / "town"), "--as-of", "2025-05-20", "--json"]) in (0, 3)
    early = json.loads(capsys.readouterr().out)
    run(["watch", str(town / "town"), "--json"])
    late = json.loads(capsys.readouterr().out)
    assert early["summary"]["reads"] < late["summary"]["reads"]


class Parts(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.empty = {"meta", "path"}

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in self.empty:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.empty:
            assert self.open.pop() == tag


def test_the_report_escapes_and_closes_what_it_opens() -> None:
    steps = (ReplayStep(day(0), 1, 2, ()), ReplayStep(day(7), 1, 2, (asked("A"),)))
    result = ReplayResult(steps, score_replay(steps, [fault("A", since=3)]))
    page = replay_page(result, title="<b>town", at=day(9))
    assert "<b>town" not in page
    parts = Parts()
    parts.feed(page)
    assert parts.open == []
