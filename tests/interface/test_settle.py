"""``dialtrue settle`` as a clerk meets it: what is settled, what waits, what is refused, the letters."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pypdfium2
import pytest

from dialtrue.files.findings import write_findings
from dialtrue.interfaces.cli import run
from tests.support.html_pages import Page
from tests.support.settled import day, finding, settled, write_folder

RATES = """
[rate.home]
unit = "kgal"
currency = "crowns"
[[rate.home.version]]
since = 2020-01-01
blocks = [{price = "6.20"}]
"""


def decade(folder: Path, *, checks: tuple[str, ...] = (), **more) -> Path:
    """Write a register that counts one pulse in ten, with two bills."""
    folder = write_folder(
        folder,
        sites=["S,A-<1>,M1,nutating_disc,5/8in,single,7,0,gal,1,10,gal"],
        fittings=["S,M1,single,E1,1,2026-01-01T00:00:00Z,0001000,0001000,7,gal,1,1,gal"],
        reads=[f"E1,1,2026-0{month}-01T00:00:00Z,{1000 + 300 * (month - 1)}" for month in (1, 2, 3)],
        bills=["A-<1>,M1,single,2026-01-01,2026-02-01,300,gal,", "A-<1>,M1,single,2026-02-01,2026-03-01,300,gal,"],
        **({"checks": list(checks)} if checks else {}),
        **more,
    )
    write_findings(folder / "found.csv", [finding("M1", "E1", "weight_decade", parameter=0.1)])
    return folder


def settle(folder: Path, *words: str) -> int:
    return run(["settle", str(folder), "--findings", str(folder / "found.csv"), *words])


def test_nothing_is_settled_before_somebody_has_looked(tmp_path: Path, capsys):
    assert settle(decade(tmp_path)) == 0
    said = capsys.readouterr().out
    assert said.startswith("Nothing to put right.")
    assert "wait for somebody to look" in said


def test_a_confirmed_finding_is_settled_and_says_so(tmp_path: Path, capsys):
    folder = decade(tmp_path, checks=("M1,single,E1,1,2026-03-02T00:00:00Z,weight_decade",))
    (folder / "rates.toml").write_text(RATES)
    (folder / "programme.toml").write_text('timezone = "UTC"\n[settle]\nrate = "home"\n')
    assert settle(folder, "--out", str(folder / "adj.csv")) == 3
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("1 register put right over 2 periods: 1 billed too little")
    assert max(map(len, lines)) <= 100
    assert any("local law decide" in line for line in lines)
    with (folder / "adj.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [(row["billed"], row["corrected"], row["basis"], row["method"]) for row in rows] == [
        ("300", "3000", "confirmed", "exact")
    ] * 2
    assert [(row["amount_billed"], row["amount_corrected"], row["amount_difference"]) for row in rows] == [
        ("1.86", "18.60", "16.74")
    ] * 2


def test_what_was_found_on_site_goes_before_what_was_inferred(tmp_path: Path, capsys):
    folder = decade(tmp_path, checks=("M1,single,E1,1,2026-03-02T00:00:00Z,sound",))
    assert settle(folder, "--assume") == 0
    assert capsys.readouterr().out.startswith("Nothing to put right.")


def test_json_holds_every_row(tmp_path: Path, capsys):
    assert settle(decade(tmp_path), "--assume", "--json") == 3
    document = json.loads(capsys.readouterr().out)
    assert document["form"] == "dialtrue.settle/1"
    assert [row["corrected"] for row in document["adjustments"]] == ["3000", "3000"]


def test_the_letter_is_a_page_and_a_pdf_that_say_the_same(tmp_path: Path, capsys):
    folder = decade(tmp_path)
    settle(folder, "--assume", "--statements", str(folder / "letters"))
    page = (folder / "letters" / "A-1.html").read_text()
    read = Page(page)
    assert read.problems == []
    assert {tag for tag in read.tags if tag in ("script", "img", "link")} == set()
    assert "A-&lt;1&gt;" in page
    assert "5,400 gal were not billed." in page
    # A narrow picture for the phone, whose letters are not shrunk with it.
    assert ('class="wide" viewBox="0 0 680' in page, 'class="narrow" viewBox="0 0 320' in page) == (True, True)
    pdf = pypdfium2.PdfDocument(folder / "letters" / "A-1.pdf")
    assert len(pdf) == 1
    words = pdf[0].get_textpage().get_text_bounded()
    for said in ("5,400 gal were not billed.", "January 2026", "3,000", "A-<1>", "law decide"):
        assert said in words, said
    assert "vacant" not in (page + words).lower()


def test_nothing_is_written_in_a_dry_run(tmp_path: Path, capsys):
    folder = decade(tmp_path)
    settle(folder, "--assume", "--dry-run", "--out", str(folder / "a.csv"), "--statements", str(folder / "letters"))
    assert not (folder / "a.csv").exists()
    assert not (folder / "letters").exists()


@pytest.mark.parametrize(
    ("rates", "code", "says"),
    [
        ('[rate.home]\nunit = "kgal"\n', 50, "no version"),
        ('[rate.home]\nunit = "kg"\n', 19, "rate.home.unit"),
        ('[rate.home]\nunit = "kgal"\nblokcs = 1\n', 19, "nearest"),
        (RATES.replace('{price = "6.20"}', '{upto = "4", price = "6.20"}'), 50, "no price above 4 kgal"),
        (RATES.replace('"6.20"', "6.20"), 19, "in quotes"),
        ("not toml", 19, "TOML"),
    ],
)
def test_rates_with_a_hole_are_refused_with_the_place(tmp_path: Path, capsys, rates, code, says):
    folder = decade(tmp_path)
    (folder / "rates.toml").write_text(rates)
    assert settle(folder, "--assume") == code
    assert says in capsys.readouterr().err


def test_a_rate_that_no_table_has_is_said_and_no_money_stated(tmp_path: Path):
    folder = decade(tmp_path)
    (folder / "bills.csv").write_text((folder / "bills.csv").read_text().replace("300,gal,", "300,gal,shop"))
    found = settled(folder, [finding("M1", "E1", "weight_decade", parameter=0.1)])
    assert {row.amount_corrected for row in found.adjustments} == {None}
    assert "'shop' is not in rates.toml" in found.left_out[0].why


def test_a_period_that_straddles_an_exchange_is_not_guessed(tmp_path: Path):
    folder = decade(tmp_path)
    fittings = (folder / "fittings.csv").read_text()
    (folder / "fittings.csv").write_text(
        fittings + "S,M2,single,E2,1,2026-02-15T00:00:00Z,0000000,0000000,7,gal,1,10,gal\n"
    )
    found = settled(folder, [finding("M1", "E1", "weight_decade", parameter=0.1)])
    assert [str(row.period_start) for row in found.adjustments] == ["2026-01-01"]
    assert "straddles the exchange of 2026-02-15" in found.left_out[0].why


@pytest.mark.parametrize(
    ("code", "why"),
    [
        ("lost_counts", "two dial reads are needed"),
        ("duplicate_serial", "two dial reads are needed"),
        ("dead_input", "nothing bounds it"),
        ("crossed", "watch both indexes"),
    ],
)
def test_a_finding_without_bounds_is_refused_with_what_to_ask_for(tmp_path: Path, code, why):
    found = settled(decade(tmp_path), [finding("M1", "E1", code)])
    assert found.adjustments == ()
    assert why in found.left_out[0].why


def test_a_ratio_since_some_day_needs_the_bounds_of_that_day(tmp_path: Path):
    late = finding("M1", "E1", "weight_decade", parameter=0.1, since=day("2026-02-01"))
    found = settled(decade(tmp_path), [late])
    assert "since has no bounds" in found.left_out[0].why


def test_bills_that_overlap_are_refused(tmp_path: Path):
    folder = decade(tmp_path)
    with (folder / "bills.csv").open("a") as file:
        file.write("A-<1>,M1,single,2026-01-15,2026-02-10,100,gal,\n")
    found = settled(folder, [finding("M1", "E1", "weight_decade", parameter=0.1)])
    assert found.adjustments == ()
    assert "overlap" in found.left_out[0].why
