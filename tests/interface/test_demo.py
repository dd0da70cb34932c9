"""The demo's folder: whole or not at all, and nobody's own files are ever replaced."""

from __future__ import annotations

from pathlib import Path

import pytest

from dialtrue.interfaces.cli import run
from dialtrue.interfaces.cli.demo import MARK, _whole_or_nothing


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
