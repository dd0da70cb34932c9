"""The invented story of crew C and lot 7: decisions, figures, and words that put no crew above another."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from dialtrue.interfaces.cli import run
from dialtrue.services.sample import sample_account
from tests.support.lots import JUDGED_AT, drawn, inspected, lot_folder

CRITICAL_ONLY = 'lot_by = "lot"\ncritical = "aql 1.0"\nmajor = "none"\nminor = "none"'
CREWS = {"A": (3, 80), "B": (0, 80), "C": (9, 100), "D": (0, 80)}
"""Bad sites of each crew among 60 inspected, and the size of each of its three lots."""


@pytest.fixture
def lot_7(tmp_path: Path) -> Path:
    folder = lot_folder(tmp_path / "lot-7", {"lot 7": ("A", 500)}, settings=CRITICAL_ONLY)
    inspected(folder, drawn(folder, "lot 7"), "lot 7", bad=3)
    return folder


@pytest.fixture
def crews(tmp_path: Path) -> Path:
    lots = {f"{crew} {number}": (crew, size) for crew, (_, size) in CREWS.items() for number in (1, 2, 3)}
    folder = lot_folder(tmp_path / "crews", lots)
    account = drawn(folder, *lots)
    for lot in lots:
        inspected(folder, account, lot, bad=CREWS[lot[0]][0] // 3)
    return folder


def test_lot_7_is_rejected_with_its_interval(lot_7: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["sample", str(lot_7), "judge"]) == 3
    said = " ".join(capsys.readouterr().out.split())
    assert "1 lot, 500 sites: 1 rejected." in said
    assert "critical: 3 bad of 50, accept at 1 in 50. Reject: 6.0 % bad, 1.3 % to 16.5 % with 95 % confidence." in said
    assert "A lot with 4 % critical would pass 39 times in 100." in said
    assert "Then draw a new sample of the lot." in said


def test_the_crews_counts_say_what_they_can(crews: Path) -> None:
    account = sample_account(crews, at=JUDGED_AT, pairs=[("A", "B")])
    verdicts = {each.count.crew: each for each in account.crews}
    assert {crew: (each.count.bad, each.count.inspected) for crew, each in verdicts.items()} == {
        crew: (bad, 60) for crew, (bad, _) in CREWS.items()
    }
    assert verdicts["C"].chance == pytest.approx(0.00027, abs=5e-6)
    assert (verdicts["C"].others_bad, verdicts["C"].others_inspected) == (3, 180)
    assert verdicts["C"].outcome == "act"
    assert verdicts["C"].expected == (36.0, 17, 64)
    assert [round(100 * end, 1) for end in verdicts["C"].exact] == [7.1, 26.6]
    assert account.pairs == ("A and B: 3 in 60 against 0 in 60: p 0.24, says nothing.",)


def test_no_crew_is_put_above_another(crews: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["sample", str(crews), "judge", "--compare", "A,B"])
    said = capsys.readouterr().out
    order = [line.split()[0] for line in said.splitlines() if line.startswith("  ") and "inspected" not in line
             and line.rstrip().endswith(("says nothing", " act"))]  # fmt: skip
    assert order == ["A", "B", "C", "D"]
    assert not any(word in said.lower() for word in ("better", "worse", "best", "worst", "rank"))
    assert "Small numbers accuse nobody" in said


def test_the_figures_stand_in_the_document(crews: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["sample", str(crews), "judge", "--json"])
    document = json.loads(capsys.readouterr().out)
    assert document["form"] == "dialtrue.sample/1"
    crew_c = next(each for each in document["crews"]["verdicts"] if each["count"]["crew"] == "C")
    assert crew_c["expected"] == [36.0, 17, 64]
    assert document["summary"]["reject"] == 6
