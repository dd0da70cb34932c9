"""What dialtrue survey prints, writes and refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from dialtrue.files.repairs_file import read_lines
from dialtrue.interfaces.cli import run
from tests.support.spoiled_sheets import listed, sound_rows, spoiled, write_rows


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A sheet with one lost zero, one copied serial, one unit to ask about."""
    home = tmp_path / "programme"
    home.mkdir()
    rows = sound_rows()
    spoiled(
        home, {3: {"meter_serial": "504119"}, 7: {"meter_serial": rows[6]["meter_serial"]}, 9: {"dial_unit": "ft3"}}
    )
    listed(home)
    return home


def test_counts_come_first_then_blocks_questions_and_offers(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["survey", str(folder)]) == 3
    text = capsys.readouterr().out
    lines = text.splitlines()
    assert lines[0] == "10 clean rows, 4 flagged (2 of them blocked), 3 flags: 14 meters with 14 registers."
    assert text.index("Blocked until") < text.index("To ask or photograph") < text.index("Repairs on offer")
    assert max(map(len, lines)) <= 100
    assert not (folder / "repairs.csv").exists()


def test_a_sound_sheet_ends_with_zero(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["survey", str(spoiled(tmp_path, {}))]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "14 clean rows, 0 flagged, 0 flags: 14 meters with 14 registers.", "",
        "Said while reading the files", "  There is no list to hold the serials against: put known.csv or use_history "
        "into the folder, or", "  name a list with --known.",
    ]  # fmt: skip


def test_review_decide_and_survey_again(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    repairs = folder / "repairs.csv"
    assert run(["survey", str(folder), "--out", str(repairs)]) == 3
    assert "4 to decide, 0 decided" in capsys.readouterr().err
    run(["survey", str(folder), "--accept", "zeros:sites:504119", "--refuse", "unit_odd", "--by", "Ines Kit"])
    said = capsys.readouterr()
    assert "2 to decide, 2 decided" in said.err
    assert "1 accepted repair made, 1 doubt refused" in said.out
    decided = {line.key: line for line in read_lines(repairs)[0] if line.decision}
    assert {line.by for line in decided.values()} == {"Ines Kit"}
    assert all(line.at.endswith("Z") for line in decided.values())
    run(["survey", str(folder)])
    assert capsys.readouterr().out.splitlines()[0].startswith("12 clean rows, 2 flagged (all blocked), 1 flag")


def test_json_holds_flags_rows_and_decisions(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["survey", str(folder), "--accept", "zeros", "--by", "Ines", "--json"])
    document = json.loads(capsys.readouterr().out)
    assert set(document) == {"form", "file", "summary", "rows", "flags", "decided", "said"}
    assert document["form"] == "dialtrue.survey/1"
    assert document["summary"] == {
        "clean_rows": 11, "flagged_rows": 3, "blocked_rows": 2, "flags": 2, "meters": 14, "registers": 14,
        "repaired": 1, "refused": 0,
    }  # fmt: skip
    assert [line["becomes"] for line in document["decided"]] == ["00504119"]
    assert {flag["grade"] for flag in document["flags"]} == {"block", "ask"}


def test_dry_run_writes_nothing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    clean = folder / "clean.csv"
    run(["survey", str(folder), "--accept", "zeros", "--by", "I", "--dry-run", "--clean", str(clean)])
    assert "Would write" in capsys.readouterr().err
    assert sorted(path.name for path in folder.iterdir()) == ["known.csv", "sites.csv"]


def test_the_cleaned_sheet_has_the_accepted_repairs(folder: Path) -> None:
    clean = folder / "clean.csv"
    run(["survey", str(folder), "--accept", "zeros", "--by", "Ines", "--clean", str(clean)])
    assert "00504119" in clean.read_text()
    assert "00504119" not in (folder / "sites.csv").read_text()


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--accept", "zeros"], 2, "--by"),
        (["--accept", "zeros:sites:9", "--by", "I"], 2, "UNKNOWN-DECISION"),
        (["--refuse", "nothing", "--by", "I"], 2, "zeros:sites:504119"),
        (["--accept", "duplicate:sites:00508238:S006", "--by", "I"], 2, "ANSWER-MISSING"),
        (["--out", "repairs.xlsx"], 2, "UNKNOWN-SUFFIX"),
        (["--clean", "sites.pdf"], 2, "UNKNOWN-SUFFIX"),
        (["--known", "nowhere.csv"], 10, "nowhere.csv"),
    ],
)
def test_what_cannot_be_done_is_said_with_its_code(
    folder: Path, capsys: pytest.CaptureFixture[str], words: list[str], code: int, said: str
) -> None:
    got = run(["survey", str(folder), *words])
    text = capsys.readouterr().err
    assert said in text
    assert "Traceback" not in text
    assert got == code or (code == 10 and 10 <= got < 20)


def test_a_folder_without_sites_and_a_list_without_serials_are_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "weather.csv").write_text("at,rain_mm\n")
    assert run(["survey", str(tmp_path)]) == 11 or "holds no sites table" in capsys.readouterr().err
    write_rows(tmp_path / "sites.csv", sound_rows())
    (tmp_path / "known.csv").write_text("number,street\n1,2\n")
    assert 10 <= run(["survey", str(tmp_path)]) < 20
    assert "meter_serial" in capsys.readouterr().err


def test_a_column_under_another_name_is_settled_by_its_key(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rows = [
        {"Meter Serial" if name == "meter_serial" else name: cell for name, cell in row.items()} for row in sound_rows()
    ]
    write_rows(tmp_path / "sites.csv", rows)
    assert 10 <= run(["survey", str(tmp_path)]) < 20
    assert "accept header:sites:meter_serial" in capsys.readouterr().err
    assert run(["survey", str(tmp_path), "--accept", "header", "--by", "Ines"]) == 0
    capsys.readouterr()
    assert run(["survey", str(tmp_path)]) == 0


def test_other_commands_take_what_was_decided(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["survey", str(folder), "--accept", "zeros", "--by", "Ines"])
    plan = folder / "plan.csv"
    run(["plan", str(folder), "--out", str(plan)])
    capsys.readouterr()
    text = plan.read_text()
    assert "00504119" in text
    assert ",504119," not in text
