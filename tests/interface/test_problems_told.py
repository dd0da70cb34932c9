"""Bad rows and repairs: field by field in the JSON, in words on the terminal, as tables in the report."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from dialtrue.interfaces.cli import run
from tests.support.folders import SITES_HEADER, with_files
from tests.support.html_pages import Page


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A blank before a site, which a repair takes away, one bad row of reads, one serial that lost its zeros."""
    home = tmp_path / "programme"
    home.mkdir()
    return with_files(
        home,
        sites_csv=f"{SITES_HEADER}\n S1,00123,6,gal,10,gal\n",
        fittings_csv="site,meter_serial,endpoint_serial,fitted_at\nS1,123,E1,2026-01-01T00:00Z\n",
        reads_csv="endpoint_serial,at,index\nE1,2026-01-02T00:00Z,7\nE1,2026-01-03T00:00Z,-5\n",
    )


def test_json_gives_bad_rows_and_repairs_field_by_field(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["watch", str(folder), "--json"])
    document = json.loads(capsys.readouterr().out)
    assert document["bad_rows"]["counts"] == {"reads.csv": 1}
    (problem,) = document["bad_rows"]["first"]
    assert set(problem) == {"file", "row", "column", "value", "expected", "remedy", "code"}
    assert (problem["file"], problem["row"], problem["column"], problem["value"]) == ("reads.csv", 3, "index", "-5")
    repairs = {repair["key"]: repair for repair in document["repairs"]}
    spaces, zeros = repairs["spaces:sites:site"], repairs["zeros:fittings:123"]
    assert spaces["accepted"] is False
    assert (zeros["file"], zeros["row"], zeros["column"]) == ("fittings.csv", 2, "meter_serial")
    assert (zeros["original"], zeros["proposed"]) == ("123", "00123")
    assert not any("123" in sentence for sentence in document["said"])


def test_an_accepted_repair_is_marked_as_made(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["watch", str(folder), "--json", "--accept", "zeros"])
    repairs = {repair["key"]: repair["accepted"] for repair in json.loads(capsys.readouterr().out)["repairs"]}
    assert repairs == {"spaces:sites:site": False, "zeros:fittings:123": True}


def test_terminal_names_row_value_and_key(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["watch", str(folder)])
    text = capsys.readouterr().out
    assert "reads.csv: 1 bad row left out" in text
    assert "row 3, index '-5'" in text
    assert "--accept zeros:fittings:123" in text
    assert max(map(len, text.splitlines())) <= 100


def test_report_tells_both_as_tables(folder: Path, tmp_path: Path) -> None:
    target = tmp_path / "report.html"
    run(["watch", str(folder), "--report", str(target), "--accept", "zeros"])
    text = target.read_text(encoding="utf-8")
    page = Page(text)
    assert page.problems == []
    assert {"rows", "repairs"} <= set(page.identities)
    for piece in ("reads.csv, row 3", "zeros:fittings:123", "made", "spaces:sites:site", "offered"):
        assert piece in page.words
