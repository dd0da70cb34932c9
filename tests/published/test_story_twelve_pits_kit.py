"""The invented story of twelve pits on one lane, the part of the kit and the proof: its counts, by hand."""

from __future__ import annotations

import csv
import dataclasses
import datetime as dt
from pathlib import Path

import openpyxl
import pytest

from dialtrue.files.repairs_file import write_lines
from dialtrue.interfaces.cli import run
from dialtrue.services.survey import survey_folder
from tests.support.twelve_pits import TRUE_SERIALS, twelve_pits

CABLE = ["--cable", "awg22-pair"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return the folder once the survey's offers are accepted and the photograph has told site 9's serial."""
    lane = twelve_pits(tmp_path / "lane")
    survey = survey_folder(lane, at=dt.datetime(2026, 6, 1, tzinfo=dt.UTC), accept=["zeros", "dates"], by="Ines")
    lines = [
        dataclasses.replace(line, becomes=TRUE_SERIALS[8], decision="accept", by="Ines")
        if line.rule == "duplicate" and line.site == "P09"
        else line
        for line in survey.lines
    ]
    write_lines(lane / "repairs.csv", lines)
    return lane


def programme_rows(path: Path) -> dict[str, dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return {row["part"]: row for row in csv.DictReader(file) if row["scope"] == "programme"}


def test_twelve_endpoints_twenty_nine_splices_and_fifty_six_metres_of_cable(folder: Path, capsys) -> None:
    kit = folder / "kit.csv"
    run(["plan", str(folder), *CABLE, "--kit", str(kit)])
    rows = programme_rows(kit)
    endpoints = {part: int(row["quantity"]) for part, row in rows.items() if row["kind"] == "endpoint"}
    assert sorted(endpoints.values()) == [1, 11]
    assert (rows["gel-splice"]["quantity"], rows["gel-splice"]["order"]) == ("26", "29")
    cable = rows["awg22-pair"]
    assert (cable["quantity"], cable["spare"], cable["order"], cable["unit"]) == ("48.5", "7.275", "56", "m")


def test_thirteen_draws_prove_twelve_sites(folder: Path, capsys) -> None:
    plan = folder / "plan.csv"
    run(["plan", str(folder), *CABLE, "--out", str(plan)])
    with plan.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == sum(bool(row["proof_note"]) for row in rows) == 13
    assert len({row["site"] for row in rows}) == 12


def test_the_order_list_is_a_workbook_of_the_programme(folder: Path, capsys) -> None:
    order = folder / "order.xlsx"
    run(["plan", str(folder), *CABLE, "--order", str(order)])
    book = openpyxl.load_workbook(order)
    rows = {row[-1]: row for row in book["Order"].iter_rows(min_row=2, values_only=True)}
    assert rows["gel-splice"][2:6] == (26, 2.6, 29, "each")
    assert book["Order"].print_title_rows == "$1:$1"


def test_the_kit_follows_the_routes(folder: Path, capsys) -> None:
    routes, kit = folder / "routes.csv", folder / "kit.csv"
    stops = [f"2026-06-0{1 + number // 8},Heron,{1 + number % 8},P{number + 1:02d}" for number in range(12)]
    times = "2026-06-01T08:00:00Z,2026-06-01T08:00:00Z,2026-06-01T08:30:00Z,5,30,1"
    header = "day,crew,stop,site,arrive,start,leave,travel_minutes,job_minutes,registers"
    routes.write_text("\n".join([header, *(f"{stop},{times}" for stop in stops)]) + "\n", encoding="utf-8")
    run(["plan", str(folder), *CABLE, "--kit", str(kit), "--routes", str(routes)])
    with kit.open(encoding="utf-8", newline="") as file:
        vans = [row for row in csv.DictReader(file) if row["scope"] == "van_day" and row["part"] == "gel-splice"]
    assert [(row["scope_id"], row["quantity"], row["order"]) for row in vans] == [
        ("Heron 2026-06-01", "16", "18"),
        ("Heron 2026-06-02", "10", "11"),
    ]


@pytest.mark.parametrize("name", ["kit.txt", "kit"])
def test_an_ending_that_no_kit_has_is_refused_before_the_work(folder: Path, capsys, name: str) -> None:
    assert run(["plan", str(folder), "--kit", str(folder / name)]) != 0
    assert ".xlsx" in capsys.readouterr().err


def test_nothing_is_written_in_a_dry_run(folder: Path, capsys) -> None:
    run(["plan", str(folder), *CABLE, "--kit", str(folder / "kit.csv"), "--dry-run"])
    assert not (folder / "kit.csv").exists()
    assert "Would write" in capsys.readouterr().err
