"""The demo's folder: whole or not at all, and nobody's own files are ever replaced."""

from __future__ import annotations

from pathlib import Path

import pytest

from dialtrue.interfaces.cli import run
from dialtrue.interfaces.cli.demo import MARK, _whole_or_nothing
from tests.support.html_pages import Page


def test_a_folder_of_somebodys_own_files_is_left_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "reads.csv").write_text("precious", encoding="utf-8")
    assert run(["demo", "--out", str(tmp_path / "mine")]) == 2
    assert "OUTPUT-FOLDER-TAKEN" in capsys.readouterr().err
    assert (tmp_path / "mine" / "reads.csv").read_text(encoding="utf-8") == "precious"


def test_an_interrupted_demo_leaves_no_half_folder(tmp_path: Path) -> None:
    def interrupted() -> None:
        with _whole_or_nothing(tmp_path / "town") as scratch:
            (scratch / "reads.csv").write_text("half", encoding="utf-8")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert list(tmp_path.iterdir()) == []


def test_an_interrupted_second_demo_leaves_the_first_as_it_was(tmp_path: Path) -> None:
    with _whole_or_nothing(tmp_path / "town") as scratch:
        (scratch / "report.html").write_text("first", encoding="utf-8")
    with pytest.raises(KeyboardInterrupt), _whole_or_nothing(tmp_path / "town"):
        raise KeyboardInterrupt
    assert [path.name for path in tmp_path.iterdir()] == ["town"]
    assert (tmp_path / "town" / "report.html").read_text(encoding="utf-8") == "first"


def test_a_second_demo_replaces_the_first_whole(tmp_path: Path) -> None:
    with _whole_or_nothing(tmp_path / "town") as scratch:
        (scratch / "old.html").write_text("first", encoding="utf-8")
    with _whole_or_nothing(tmp_path / "town") as scratch:
        (scratch / "new.html").write_text("second", encoding="utf-8")
    assert {path.name for path in (tmp_path / "town").iterdir()} == {MARK, "new.html"}
    assert [path.name for path in tmp_path.iterdir()] == ["town"]


def test_the_demo_says_that_the_town_is_invented(tmp_path: Path) -> None:
    with _whole_or_nothing(tmp_path / "town"):
        pass
    assert "invented" in (tmp_path / "town" / MARK).read_text(encoding="utf-8")


def test_a_small_demo_runs_from_end_to_end(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    place = tmp_path / "town"
    assert run(["demo", "--registers", "60", "--days", "28", "--seed", "3", "--out", str(place), "--no-open"]) == 0
    assert {"report.html", "findings.csv", "crossings.csv", "town", "labels", MARK} == {p.name for p in place.iterdir()}
    assert {"sites.csv", "fittings.csv", "dial_reads.csv", "reads.parquet"} <= {
        p.name for p in (place / "town").iterdir()
    }
    assert not list((place / "town").glob("*label*"))
    text = capsys.readouterr().out
    assert "invented town" in text
    assert "planted fault" in text
    assert max(len(line) for line in text.splitlines() if str(place) not in line) <= 100
    page = Page((place / "report.html").read_text(encoding="utf-8"))
    assert page.problems == []
    assert len(page.identities) == len(set(page.identities))
    assert set(page.references) <= set(page.identities)


def test_the_same_seed_gives_the_same_findings(tmp_path: Path) -> None:
    for name in ("one", "two"):
        run(["demo", "--registers", "30", "--days", "21", "--seed", "5", "--out", str(tmp_path / name), "--no-open"])
    first, second = ((tmp_path / name / "findings.csv").read_bytes() for name in ("one", "two"))
    assert first == second
    assert (tmp_path / "one/report.html").read_bytes() == (tmp_path / "two/report.html").read_bytes()
