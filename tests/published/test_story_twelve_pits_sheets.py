"""The twelve pits, surveyed and put right: twelve pages, thirteen registers, thirteen draws."""

from __future__ import annotations

import dataclasses
import datetime as dt
from pathlib import Path

import pytest

from dialtrue.files.repairs_file import write_lines
from dialtrue.services.job_sheets import SheetsAnswer, sheets_folder
from dialtrue.services.survey import survey_folder
from tests.support.twelve_pits import TRUE_SERIALS, twelve_pits

AT = dt.datetime(2026, 6, 1, tzinfo=dt.UTC)


@pytest.fixture
def answer(tmp_path: Path) -> SheetsAnswer:
    """Return the sheets once the survey's offers are accepted and the photograph has told site 9's serial."""
    lane = twelve_pits(tmp_path / "lane")
    survey = survey_folder(lane, at=AT, accept=["zeros", "dates"], by="Ines")
    lines = [
        dataclasses.replace(line, becomes=TRUE_SERIALS[8], decision="accept", by="Ines")
        if line.rule == "duplicate" and line.site == "P09"
        else line
        for line in survey.lines
    ]
    write_lines(lane / "repairs.csv", lines)
    return sheets_folder(lane, at=AT)


def test_each_pit_has_one_page_and_its_serial_as_on_the_plate(answer: SheetsAnswer) -> None:
    assert [sheet.site for sheet in answer.sheets] == [f"P{number:02d}" for number in range(1, 13)]
    assert [sheet.serial_codes for sheet in answer.sheets] == [(serial,) for serial in TRUE_SERIALS]


def test_thirteen_draws_prove_them_two_at_the_compound_meter(answer: SheetsAnswer) -> None:
    draws = [
        sum("draw" in moment for moment in sheet.readings) if len(sheet.registers) == 2 else 1
        for sheet in answer.sheets
        if all(part.proof for part in sheet.registers)
    ]
    assert sum(draws) == 13
    assert draws[-1] == 2


def test_thirteen_ports_have_thirty_nine_labels(answer: SheetsAnswer) -> None:
    assert len(answer.labels) == 39
