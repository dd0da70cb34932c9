"""The command plan: summary first, then the questions; exit codes; files written or not."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from dialtrue.interfaces.cli import run
from tests.support.surveys import register, survey


@pytest.fixture
def town(tmp_path: Path) -> Path:
    rows = [
        register(),
        register("S2", "B", output=""),
        register("S3", "C", register_role="high", meter_type="compound"),
        register("S3", "C", register_role="low", meter_type="compound"),
    ]
    return survey(tmp_path, *rows)


def test_the_summary_comes_first_then_the_questions(town: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = town / "plan.csv"
    assert run(["plan", str(town), "--out", str(out)]) == 3
    printed = capsys.readouterr()
    lines = printed.out.splitlines()
    assert lines[0] == "4 registers at 3 sites: 3 planned on 3 endpoints, 4 ports; 1 to ask about first."
    assert lines[2] == "To ask on site"
    assert "Which pulse output" in lines[3]
    assert max(map(len, lines)) <= 100
    assert printed.err.rstrip().endswith(f"Wrote {out}")
    with out.open(encoding="utf-8", newline="") as source:
        rows = list(csv.DictReader(source))
    assert [row["status"] for row in rows] == ["planned", "ask", "planned", "planned"]
    assert json.loads(rows[0]["parts"])[0] == {"kind": "endpoint", "part": "pit-one-port", "quantity": "1"}


def test_a_plan_without_an_endpoint_prints_no_empty_table(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["plan", str(survey(tmp_path, register(mount="")))]) == 3
    lines = capsys.readouterr().out.splitlines()
    assert lines[lines.index("Planned") + 1] == "  No endpoint: settle the questions first."


def test_a_survey_without_a_row_has_nothing_planned(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["plan", str(survey(tmp_path))]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("0 registers at 0 sites")
    assert "Planned" not in lines


def test_a_plan_without_a_question_ends_with_nought(town: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["plan", str(town), "--output", "reed-contact", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["form"] == "dialtrue.plan/1"
    assert document["counts"]["ask"] == 0
    assert [row["port"] for row in document["plan"]] == [1, 1, 1, 2]


def test_a_count_of_ports_that_forgets_the_second_register_is_refused(
    town: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["plan", str(town), "--ports", "3"]) == 29
    assert "site S3, meter C: compound: second register has no port." in capsys.readouterr().err
    assert run(["plan", str(town), "--ports", "4", "--output", "reed-contact"]) == 0


def test_somebody_elses_plan_is_checked(town: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = town / "plan.csv"
    run(["plan", str(town), "--out", str(out)])
    assert run(["plan", str(town), "--check", str(out)]) == 0
    lines = out.read_text(encoding="utf-8").splitlines()
    out.write_text("\n".join(lines[:-1]) + "\n", encoding="utf-8")
    capsys.readouterr()
    assert run(["plan", str(town), "--check", str(out)]) == 29
    assert "second register has no port" in capsys.readouterr().err
    assert run(["plan", str(town), "--check", str(town / "none.csv")]) in range(10, 20)


def test_a_dry_run_writes_nothing(town: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = town / "plan.parquet"
    run(["plan", str(town), "--out", str(out), "--dry-run"])
    assert f"Would write {out}" in capsys.readouterr().err
    assert not out.exists()


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["--billing", "1000 gallons"], 28),
        (["--endpoint", "nome"], 20),
        (["--output", "nome"], 20),
        (["--out", "plan.txt"], 2),
        (["--sheet", "none.toml"], 21),
        (["--ports", "-1"], 2),
    ],
)
def test_bad_input_is_one_sentence(town: Path, words: list[str], code: int, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["plan", str(town), *words]) == code
    assert "Traceback" not in capsys.readouterr().err


def test_the_billing_unit_is_kept(town: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["plan", str(town), "--billing", "1 m3"])
    assert "The billing unit is no whole number of counts" in " ".join(capsys.readouterr().out.split())


def test_a_folder_that_is_not_there_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["plan", str(tmp_path / "none")]) in range(10, 20)
    assert run(["plan", str(tmp_path)]) in range(10, 20)


def test_the_surveys_doubts_can_be_left_out(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    town = survey(tmp_path, register("S1", "00417733"), register("S2", "00417734", meter_size="5/8 in"))
    (town / "sites.csv").write_text((town / "sites.csv").read_text().replace("00417734", " 00417734"))
    run(["plan", str(town)])
    with_doubts = capsys.readouterr().out.splitlines()[0]
    run(["plan", str(town), "--no-survey"])
    assert with_doubts != capsys.readouterr().out.splitlines()[0]
    assert run(["plan", str(town), "--no-survey"]) == 0


def test_every_sheet_of_the_plan_is_listed_with_the_others(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["fit", "--sheets"]) == 0
    lines = capsys.readouterr().out.splitlines()
    kinds = [line.split()[0] for line in lines[1:]]
    assert {"output", "input", "cable", "endpoint", "part"} == set(kinds)
    assert any("pit-one-port" in line for line in lines)
    assert max(map(len, lines)) <= 100
