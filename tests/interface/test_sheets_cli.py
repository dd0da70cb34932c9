"""The command sheets: files written whole, words for a person, exit codes, JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from dialtrue.interfaces.cli import run
from tests.support.html_pages import Page
from tests.support.job_sheets import pages_of
from tests.unit.services.test_job_sheets import HEAD, ROUTES, SITES

pytest.importorskip("typst")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "town").mkdir()
    (tmp_path / "town" / "sites.csv").write_text(SITES, encoding="utf-8")
    return tmp_path / "town"


def test_sheets_page_and_labels_are_written_and_questions_end_with_three(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out, html, labels = (tmp_path / name for name in ("sheets.pdf", "sheets.html", "labels.pdf"))
    code = run(["sheets", str(folder), "--out", str(out), "--html", str(html), "--labels", str(labels)])
    told = capsys.readouterr()
    assert code == 3
    assert told.out.splitlines()[0].startswith("4 sheets for 5 registers; 1 sheet with questions")
    assert "S4: Which pulse output" in told.out
    assert all(len(line) <= 100 for line in told.out.splitlines())
    assert "Setting pages" in told.err
    assert len(pages_of(out.read_bytes())) == 4
    assert Page(html.read_text(encoding="utf-8")).problems == []
    assert "port 1" in pages_of(labels.read_bytes())[0]


def test_nothing_to_ask_ends_with_zero(folder: Path, tmp_path: Path) -> None:
    assert run(["sheets", str(folder), "--site", "S1", "--out", str(tmp_path / "s.pdf")]) == 0


def test_a_day_of_a_crew_is_printed_alone(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "r.csv").write_text(ROUTES, encoding="utf-8")
    words = ["sheets", str(folder), "--routes", str(tmp_path / "r.csv"), "--day", "2026-12-01", "--crew", "North"]
    assert run(words) == 0
    assert capsys.readouterr().out.startswith("2 sheets for 2 registers")


def test_json_holds_every_word_of_the_sheets_and_no_drawing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["sheets", str(folder), "--json"]) == 3
    document = json.loads(capsys.readouterr().out)
    assert document["form"] == "dialtrue.sheets/1"
    assert document["ask"] == ["S4"]
    assert [sheet["site"] for sheet in document["sheets"]] == ["S1", "S2", "S3", "S4"]
    assert "<svg" not in json.dumps(document)
    assert len(document["labels"]) == 15


def test_a_dry_run_writes_nothing(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["sheets", str(folder), "--out", str(tmp_path / "s.pdf"), "--dry-run"]) == 3
    assert not (tmp_path / "s.pdf").exists()
    assert "Would write" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--paper", "a5"], 2, "letter or a4"),
        (["--day", "tomorrow"], 2, "2026-12-01"),
        (["--out", "s.doc"], 2, "End the name in .pdf"),
        (["--site", "S99"], 18, "SITE-NOT-PLANNED"),
        (["--crew", "North"], 18, "NO-SHEETS-LEFT"),
        (["--plan", "nowhere.csv"], 11, "nowhere.csv"),
    ],
)
def test_slips_are_named_before_the_work(
    folder: Path, words: list[str], code: int, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["sheets", str(folder), *words]) == code
    assert said in capsys.readouterr().err


def test_a_file_that_cannot_be_written_leaves_what_stood_there(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("kept", encoding="utf-8")
    assert run(["sheets", str(folder), "--site", "S1", "--out", str(tmp_path / "taken" / "s.pdf")]) != 0
    assert (tmp_path / "taken").read_text(encoding="utf-8") == "kept"


def test_hostile_sites_are_printed_and_not_obeyed(tmp_path: Path) -> None:
    cells = '"#panic(1) $x$","*A*","\\u{41} `c` <d> @e",pit,"=1+1 #"'
    hostile = f"{HEAD}{cells},nutating_disc,5/8in,single,6,1,gal,10,gal,reed-contact,awg22-pair,2,\n"
    (tmp_path / "sites.csv").write_text(hostile, encoding="utf-8")
    assert run(["sheets", str(tmp_path), "--out", str(tmp_path / "s.pdf"), "--labels", str(tmp_path / "l.pdf")]) == 0
    assert "#panic(1) $x$" in pages_of((tmp_path / "s.pdf").read_bytes())[0]
