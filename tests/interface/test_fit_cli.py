"""``dialtrue fit`` as a technician meets it."""

from __future__ import annotations

import csv
import json
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest

from dialtrue.interfaces.cli import app, run
from dialtrue.interfaces.cli.fit import fit

if all(command.name != "fit" for command in app.registered_commands):
    app.command("fit")(fit)

FIELD = ["fit", "--output", "reed-one-in-five", "--cable", "awg22-four", "--weight", "1 gal", "--size", "2in"]
SLOW = [*FIELD, "--input", "contact-3v-1m", "--length", "100 ft"]
SITES = """site,meter_serial,meter_size,dial_digits,dial_unit,pulse_weight,pulse_unit,output,input,cable,cable_length_m
A,0001,2in,6,gal,1,gal,reed-one-in-five,contact-3v-1m,awg22-four,30
B,0002,2in,6,gal,10,gal,reed-one-in-five,contact-3v-100k,awg22-pair,30
C,0003,DN50,6,m3,0.1,m3,open-drain,,awg22-pair,12
D,0004,7in,6,m3,0.1,m3,opn-drain,contact-3v-1m,,12
"""


def test_verdict_comes_first_and_fits_the_page(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(SLOW) == 3
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("Does not fit: at 160 gal/min the contact is closed 75 ms, the input needs 105 ms")
    assert max(map(len, lines)) <= 100
    assert any(line.startswith("  > on-time") and "fails" in line for line in lines)


def test_chain_that_fits_ends_with_nought(capsys: pytest.CaptureFixture[str]) -> None:
    assert run([*FIELD, "--input", "contact-3v-100k", "--length", "30 m"]) == 0
    assert capsys.readouterr().out.startswith("Fits: counts every pulse up to 400 gal/min")


def test_us_and_metric_give_the_same_answer(capsys: pytest.CaptureFixture[str]) -> None:
    answers = []
    for words in (
        ["--weight", "1 gal", "--max-flow", "160 gal/min", "--length", "100 ft"],
        ["--weight", "3.785411784 L", "--max-flow", "36.33995312640 m3/h", "--length", "30.48 m"],
    ):
        run(
            ["fit", "--output", "reed-contact", "--input", "contact-3v-100k", "--cable", "awg22-pair", "--json", *words]
        )
        answers.append(json.loads(capsys.readouterr().out))
    for got, want in zip(answers[0]["rules"], answers[1]["rules"], strict=True):
        assert got["status"] == want["status"]
        if got["margin"] is not None:
            assert got["margin"] == pytest.approx(want["margin"], rel=1e-9)


def test_suggestions_are_ranked(capsys: pytest.CaptureFixture[str]) -> None:
    run([*SLOW, "--suggest"])
    text = capsys.readouterr().out
    first = text.index("1. Set the filter to")
    assert first < text.index("Use the 10 gal output") < text.index("Use the input")


def test_rule_is_explained_with_formula_figures_and_source(capsys: pytest.CaptureFixture[str]) -> None:
    run([*SLOW, "--why", "on-time"])
    text = capsys.readouterr().out
    for words in ("share x w/Q", "Value 75 ms, limit 105 ms", "input.debounce_ms", "Source:", "does not fit"):
        assert words in text
    assert run(["fit", "--why", "damp"]) == 0


def test_json_is_whole_and_finite(capsys: pytest.CaptureFixture[str]) -> None:
    run([*SLOW, "--suggest", "--json"])
    document = json.loads(capsys.readouterr().out, parse_constant=lambda word: pytest.fail(word))
    assert document["form"] == "dialtrue.fit/1"
    assert document["verdict"] == "does_not_fit"
    assert document["deciding_rule"] == "on-time"
    assert {"rule", "status", "value", "limit", "margin", "share", "unit", "corner"} <= set(document["rules"][0])
    assert document["suggestions"][0]["changes"][0]["kind"] == "debounce"
    assert document["curve"]


def test_pictures_carry_title_and_description(tmp_path: Path) -> None:
    run([*SLOW, "--picture", str(tmp_path)])
    for name in ("pulse.svg", "counts.svg"):
        root = ElementTree.parse(tmp_path / name).getroot()
        tags = [child.tag.rpartition("}")[2] for child in root]
        assert tags[:2] == ["title", "desc"]
        assert root.attrib["role"] == "img"
    text = (tmp_path / "pulse.svg").read_text(encoding="utf-8")
    assert "closed 75 ms, the filter asks 100 ms: too short" in text
    assert "damp 1 Mohm: 1.5 V" in text


def test_picture_that_cannot_be_drawn_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["fit", "--output", "reed-contact", "--picture", str(tmp_path)])
    assert "No pulse.svg" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_dry_run_writes_nothing(tmp_path: Path) -> None:
    run([*SLOW, "--picture", str(tmp_path / "pictures"), "--dry-run"])
    assert not (tmp_path / "pictures").exists()


def test_missing_sheets_are_named(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["fit", "--output", "reed-contact"]) == 3
    assert capsys.readouterr().out.startswith("Not known: the rule kinds needs the input sheet.")


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["--length", "-3 m"], 23, "outside 0 to 10000 m"),
        (["--length", "30 yards"], 28, "Units: m, ft"),
        (["--weight", "0 gal"], 25, "above 0"),
        (["--weight", "1e400 gal"], 28, "not a volume"),
        (["--max-flow", "fast"], 28, "not a flow"),
        (["--size", "7in"], 27, "5/8in"),
        (["--input", "contact-3v"], 20, "contact-3v-1m"),
        (["--why", "on-tme"], 26, "on-time"),
        (["--cold", "80"], 25, "hot_c"),
        (["--life", "nan"], 25, "life_years"),
    ],
)
def test_bad_input_is_one_sentence_with_its_code(
    words: list[str], code: int, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([*FIELD, *words]) == code
    told = capsys.readouterr()
    assert told.out == ""
    assert says in told.err
    assert "Traceback" not in told.err


def test_nothing_asked_is_wrong_usage(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["fit"]) == 2
    assert run([*FIELD, "--units", "furlongs"]) == 2
    assert "--sites" in capsys.readouterr().err


def test_population_is_counted_and_planned(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "sites.csv").write_text(SITES, encoding="utf-8")
    plan = tmp_path / "plan.csv"
    assert run(["fit", "--sites", str(tmp_path / "sites.csv"), "--out", str(plan)]) == 3
    told = capsys.readouterr()
    assert told.out.startswith("4 registers: 1 fits, 1 does not fit, 2 not known.")
    assert "'opn-drain'" in told.out
    assert "open-drain" in told.out
    assert max(map(len, told.out.splitlines())) <= 100
    rows = list(csv.DictReader(plan.read_text(encoding="utf-8").splitlines()))
    assert [row["verdict"] for row in rows] == ["does_not_fit", "fits", "unknown", "unknown"]
    assert rows[0]["meter_serial"] == "0001"
    assert rows[0]["deciding_rule"] == "on-time"
    assert float(rows[0]["worst_margin"]) == pytest.approx(-30.0, abs=0.01)


def test_population_takes_stand_ins_for_blanks(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "sites.csv").write_text(SITES, encoding="utf-8")
    run(["fit", "--sites", str(tmp_path), "--input", "contact-3v-100k", "--json"])
    document = json.loads(capsys.readouterr().out)
    assert document["verdicts"]["unknown"] == 1
    assert document["registers"] == 4
    assert run(["fit", "--sites", str(tmp_path), "--input", "absent"]) == 20


def test_sheets_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["fit", "--sheets"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert any(line.split()[:2] == ["output", "reed-contact"] for line in lines)
    assert max(map(len, lines)) <= 100


def test_suggest_says_so_where_nothing_is_needed_or_nothing_helps(capsys: pytest.CaptureFixture[str]) -> None:
    assert run([*FIELD, "--input", "contact-3v-100k", "--length", "30 m", "--suggest"]) == 0
    assert capsys.readouterr().out.endswith("\nIt fits as it is.\n")
    sensor = ["fit", "--output", "two-wire-sensor", "--input", "two-wire-8v2", "--cable", "awg22-pair"]
    wet = ["--length", "500 ft", "--weight", "10 gal", "--size", "3in", "--leakage", "220 kohm", "--suggest"]
    assert run([*sensor, *wet]) == 3
    assert capsys.readouterr().out.endswith("\nNo weight, filter, input or cable on hand makes it fit.\n")
