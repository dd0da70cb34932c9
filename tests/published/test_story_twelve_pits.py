"""The invented story of twelve pits on one lane, the part of the survey: its counts, its flags, its repairs."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import pytest

from dialtrue.domain.survey.flag import SurveyFlag
from dialtrue.files.programme import open_programme
from dialtrue.files.repairs_file import write_lines
from dialtrue.interfaces.cli import run
from dialtrue.services.survey import SurveyAnswer, survey_folder
from tests.support.twelve_pits import CABLES_M, COMPOUND_M, TRUE_SERIALS, twelve_pits

AT = dt.datetime(2026, 6, 1, tzinfo=dt.UTC)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return twelve_pits(tmp_path / "lane")


def by_rule(answer: SurveyAnswer) -> dict[str, SurveyFlag]:
    flags = {flag.rule: flag for flag in answer.flags}
    assert len(flags) == len(answer.flags)
    return flags


def test_the_sheet_is_that_of_the_story(folder: Path) -> None:
    assert sum(CABLES_M) == 40.0
    assert sum(COMPOUND_M) == 8.5
    assert len((folder / "sites.csv").read_text().splitlines()) == 1 + 13
    assert TRUE_SERIALS[3] == "00417733"


@pytest.mark.parametrize("listed", [True, False])
def test_eight_rows_are_clean_and_four_are_flagged_by_three_flags(folder: Path, listed: bool) -> None:
    if not listed:  # the zeros then follow from the usual length of the type
        (folder / "known.csv").unlink()
    answer = survey_folder(folder, at=AT)
    assert (answer.counts.clean, answer.counts.flagged, answer.counts.flags) == (8, 4, 3)
    flagged = sorted(site for flag in answer.flags for site in flag.sites)
    assert flagged == ["P04", "P07", "P08", "P09"]


def test_the_first_line_says_so(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["survey", str(folder)]) == 3
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("8 clean rows, 4 flagged (2 of them blocked), 3 flags")
    assert max(map(len, lines)) <= 100


def test_site_four_is_offered_the_listed_serial_and_a_photograph(folder: Path) -> None:
    flag = by_rule(survey_folder(folder, at=AT))["zeros"]
    (line,) = flag.lines
    assert (flag.grade, flag.sites) == ("propose", ("P04",))
    assert (line.was, line.becomes, line.decision) == ("417733", "00417733", "")
    assert "hotograph" in flag.ask


def test_sites_eight_and_nine_are_both_blocked(folder: Path) -> None:
    answer = survey_folder(folder, at=AT)
    flag = by_rule(answer)["duplicate"]
    assert (flag.grade, flag.sites) == ("block", ("P08", "P09"))
    assert answer.blocked() == set(flag.rows)
    assert [line.becomes for line in flag.lines] == ["", ""]


def test_the_third_of_april_is_settled_by_the_other_rows(folder: Path) -> None:
    flag = by_rule(survey_folder(folder, at=AT))["dates"]
    (line,) = flag.lines
    assert flag.sites == ("P07",)
    assert (line.was, line.becomes) == ("03/04/2026", "2026-04-03")
    assert "17/04/2026" in flag.says


def test_nothing_is_changed_before_it_is_accepted_and_all_commands_see_it_after(folder: Path) -> None:
    before = open_programme(folder, at=AT)
    assert before.tables["sites"].num_rows == 0, "dates in doubt are refused, not guessed"
    answer = survey_folder(folder, at=AT, accept=["zeros:sites:417733", "dates:sites:day-first"], by="Ines")
    write_lines(folder / "repairs.csv", answer.lines)
    rows = {row["site"]: row for row in open_programme(folder, at=AT).tables["sites"].to_pylist()}
    assert rows["P04"]["meter_serial"] == "00417733"
    assert rows["P07"]["surveyed_at"].date() == dt.date(2026, 4, 3)
    assert rows["P08"]["meter_serial"] == rows["P09"]["meter_serial"], "a question is not answered by accepting others"
    decided = [line for line in answer.lines if line.decision]
    assert [(line.by, line.at) for line in decided] == [("Ines", "2026-06-01T00:00:00Z")] * 2


def test_the_answer_from_the_photograph_frees_both_blocked_sites(folder: Path) -> None:
    survey = survey_folder(folder, at=AT, accept=["zeros", "dates"], by="Ines")
    write_lines(folder / "repairs.csv", survey.lines)
    text = (folder / "repairs.csv").read_text()
    row = next(line for line in text.splitlines() if line.startswith("duplicate:sites:00417812:P09"))
    cells = row.split(",")
    place = text.splitlines()[0].split(",").index("becomes")
    cells[place], cells[-3], cells[-2] = TRUE_SERIALS[8], "accept", "Ines"
    (folder / "repairs.csv").write_text(text.replace(row, ",".join(cells)))
    answer = survey_folder(folder, at=AT)
    assert (answer.counts.clean, answer.counts.flags) == (12, 0)
    assert sorted(set(answer.sites["meter_serial"].to_pylist())) == sorted(TRUE_SERIALS)


def test_order_of_rows_does_not_matter(tmp_path: Path, folder: Path) -> None:
    straight = survey_folder(folder, at=AT)
    turned = survey_folder(twelve_pits(tmp_path / "turned", order=list(range(12, -1, -1))), at=AT)
    assert {line.key for line in turned.lines} == {line.key for line in straight.lines}
    assert turned.counts == straight.counts


def test_json_names_the_rows(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["survey", str(folder), "--json"]) == 3
    document = json.loads(capsys.readouterr().out)
    assert document["summary"]["clean_rows"] == 8
    assert [row["row"] for row in document["rows"]] == [5, 8, 9, 10]  # the header is row 1
    assert [row["row"] for row in document["rows"] if row["blocked"]] == [9, 10]
