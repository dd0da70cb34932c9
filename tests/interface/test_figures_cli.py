"""``dialtrue figures`` as a lead meets it: words, page, table, document, refusals."""

from __future__ import annotations

import csv
import json
import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest

from dialtrue.files.figures_page import figures_page
from dialtrue.interfaces.cli import run
from dialtrue.services.programme_figures import programme_figures
from tests.support.html_pages import Page
from tests.support.programme_towns import DAY, NOW, Place, findings_file, town


@pytest.fixture
def places() -> list[Place]:
    return [Place(n, crew="AB"[n % 2], area="<b>North", heard=30.0 if n == 7 else 0.5) for n in range(60)]


@pytest.fixture
def folder(tmp_path: Path, places: list[Place]) -> Path:
    def change(p: Place) -> dict[str, object]:
        if p.number == 3:
            return {"fault": "dead_input", "action": "visit", "since": NOW - 9 * DAY, "volume_error_l": -1e6}
        return {"fault": "vacant", "action": "remote_check"} if p.number == 4 else {}

    findings_file(tmp_path / "f.csv", places, change)
    return town(tmp_path / "p", places)


def figures(folder: Path, *words: str) -> int:
    return run(["figures", str(folder), "--findings", str(folder.parent / "f.csv"), *words])


def test_the_answers_stand_first_and_lines_fit(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert figures(folder) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "60 of 60 fitted, 59 of 60 reading; 1 doubtful, 0 put right."
    assert lines[3].startswith("  How much? About 264,000 gal at stake at 1 port in doubt")
    assert max(map(len, lines)) <= 100
    said = "\n".join(lines)
    assert "Not recorded: first time right, rework" in said
    assert re.search(r"\n  A +30 ", said)
    assert "too few" in said


def test_the_page_stands_alone_escapes_names_and_names_nobody_vacant(folder: Path) -> None:
    told = programme_figures(folder, at=NOW, findings=folder.parent / "f.csv")
    text = figures_page(told, title="<i>Town", at=NOW)
    assert "<b>North" not in text
    assert "<i>Town" not in text
    assert "vacant" not in text.lower()
    assert "no use registered" in text
    page = Page(text)
    assert page.problems == []
    assert sorted(set(page.references) - set(page.identities)) == []
    assert {"script", "link", "img", "iframe"}.isdisjoint(page.tags)
    assert not any("//" in value for _, name, value in page.attributes if name in ("href", "src"))
    for drawing in re.findall(r"<svg.*?</svg>", text, flags=re.S):
        ElementTree.fromstring(drawing)


def test_the_first_sheet_answers_money_first_and_names_no_port(folder: Path) -> None:
    text = figures_page(programme_figures(folder, at=NOW, findings=folder.parent / "f.csv"), title="t", at=NOW)
    front, behind = text.split('<div class="behind">')
    front = front[front.index("<main") :]
    places = [
        front.index(words) for words in ("How much?", "Whose fault?", "Is it over?", "How far it is", "Indicators")
    ]
    assert places == sorted(places)
    assert "W00007" not in front
    assert "W00007" in behind
    assert "crew" not in front.replace("no crew is put", "")


def test_every_chart_has_its_table_behind_it(folder: Path) -> None:
    text = figures_page(programme_figures(folder, at=NOW, findings=folder.parent / "f.csv"), title="t", at=NOW)
    charts = re.findall(r'<figure class="chart">.*?</figure>', text, flags=re.S)
    assert len(charts) == 3
    assert all("<details>" in chart and "<table>" in chart for chart in charts)


def test_the_table_holds_counts_shares_and_silent_ports(folder: Path) -> None:
    out = folder.parent / "figures.csv"
    assert figures(folder, "--out", str(out)) == 0
    with out.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    (reading,) = (r for r in rows if r["figure"] == "read_success")
    assert (reading["count"], reading["of"]) == ("59", "60")
    assert float(reading["low"]) < 59 / 60 < float(reading["high"])
    (silent,) = (r for r in rows if r["figure"] == "silent" and r["grouped_by"] == "port")
    assert (silent["meter_serial"], silent["step"]) == ("W00007", "visit")
    crew = [r for r in rows if r["grouped_by"] == "crew" and r["figure"] == "reading"]
    assert [r["group"] for r in crew] == ["A", "B"]
    assert all(r["share"] == "" and r["words"].endswith("too few") for r in crew)


def test_json_is_one_document_and_a_dry_run_writes_nothing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page, table = folder.parent / "x.html", folder.parent / "x.parquet"
    assert figures(folder, "--json", "--dry-run", "--report", str(page), "--out", str(table)) == 0
    told = capsys.readouterr()
    document = json.loads(told.out)
    assert document["form"] == "dialtrue.figures/1"
    assert document["reading"]["count"] == 59
    assert document["planned"] == 60
    assert "Would write" in told.err
    assert not page.exists()
    assert not table.exists()
    assert figures(folder, "--report", str(page), "--out", str(table)) == 0
    assert page.stat().st_size > 5000
    assert table.stat().st_size > 500


def test_what_came_back_stands_exactly_in_every_form(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    adjustments, out = folder.parent / "a.csv", folder.parent / "figures.csv"
    adjustments.write_text(
        "meter_serial,period_start,period_end,billed,corrected,difference,unit,method,low,high,rule,finding,basis,"
        "claimed,claimed_amount,currency\n"
        "W1,2026-01-01,2026-02-01,1,2,1,gal,exact,2,2,r,dead_input,confirmed,0.1,0.30,crowns\n"
        "W1,2026-02-01,2026-03-01,1,2,1,gal,exact,2,2,r,dead_input,confirmed,0.2,0.10,crowns\n"
        "W2,2026-02-01,2026-03-01,1,2,1,gal,exact,2,2,r,dead_input,assumed,-7,,\n",
        encoding="utf-8",
    )
    assert figures(folder, "--json", "--adjustments", str(adjustments), "--out", str(out)) == 0
    document = json.loads(capsys.readouterr().out)
    recovered = document["recovered"]
    assert (recovered["confirmed"]["claimed"], recovered["assumed"]["refunded"]) == ("0.3", "7")
    assert recovered["confirmed"]["money"] == {"crowns": ["0.40", "0"]}
    assert "0.40 crowns claimed" in document["answers"]["how_much"]
    with out.open(encoding="utf-8", newline="") as file:
        rows = {row["figure"]: row for row in csv.DictReader(file) if row["grouped_by"] == "all"}
    assert (rows["recovered_claimed"]["value"], rows["recovered_claimed_money"]["value"]) == ("0.3", "0.40")
    assert rows["if_confirmed_refunded"]["value"] == "7"


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (["--report", "x.pdf"], ".html"),
        (["--out", "x.xlsx"], ".csv"),
        (["--findings", "none.csv"], "no such file"),
        (["--adjustments", "none.csv"], "no such file"),
        (["--as-of", "soon"], "--as-of"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_told(
    folder: Path, words: list[str], part: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["figures", str(folder), *words]) not in (0, 1)
    assert part in capsys.readouterr().err


def test_a_folder_without_fittings_or_reads_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "sites.csv").write_text("site,meter_serial,dial_digits,dial_unit,pulse_weight,pulse_unit\n")
    assert run(["figures", str(tmp_path)]) not in (0, 1)
    assert "fittings" in capsys.readouterr().err
