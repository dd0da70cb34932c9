"""Data sheets: what is shipped, and what is said about a bad one."""

from __future__ import annotations

from pathlib import Path

import pytest

from dialtrue.domain.errors import SheetFault, UnknownSheet
from dialtrue.domain.pulse_chain.corners import Spread
from dialtrue.domain.pulse_chain.output import OUTPUT_KINDS
from dialtrue.files.sheets import load_catalogue, sheet_fields, shipped_catalogue

REFERENCE = Path(__file__).parents[3] / "docs" / "reference" / "data-sheets.md"
SOURCES = Path(__file__).parents[3] / "docs" / "reference" / "sources.md"

GOOD = """
schema = 1
[input.ours]
title = "From the sheet in hand"
kind = "pull_up"
supply_v = [2.9, 3.0, 3.1]
pull_up_ohm = 82000
closed_below = 0.8
open_above = 2.0
class_label = "IB"
"""


def load(tmp_path: Path, text: str) -> object:
    file = tmp_path / "ours.toml"
    file.write_text(text, encoding="utf-8")
    return load_catalogue([file])


def test_every_kind_of_output_is_shipped() -> None:
    kinds = {sheet.kind for sheet in shipped_catalogue().outputs.values()}
    assert kinds == set(OUTPUT_KINDS) - {"not_known"}


def test_figures_from_memory_are_marked() -> None:
    held = shipped_catalogue()
    assert {"min_ma", "max_ma", "max_v", "off_leak_ua"} <= held.output("s0-class-a").doubtful
    assert "max_line_ohm" not in held.output("two-wire-sensor").doubtful
    assert "capacitance_pf_per_m" in held.cable("awg22-shielded").doubtful


def test_own_sheet_is_read_and_goes_first(tmp_path: Path) -> None:
    held = load(tmp_path, GOOD.replace("input.ours", "input.contact-3v-47k"))
    assert held.input("contact-3v-47k").pull_up_ohm == Spread.exactly(82_000.0)  # type: ignore[attr-defined]
    assert held.input("contact-3v-47k").class_label == "IB"  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("change", "line", "says"),
    [
        (("82000", "-5"), 7, "input.ours.pull_up_ohm: -5.0 is not usable"),
        (("82000", "nan"), 7, "input.ours.pull_up_ohm: nan is not usable"),
        (("open_above = 2.0", "open_above = 0.5"), 8, "one level cannot be both"),
        (("pull_up_ohm", "pull_up_ohms"), 7, "nearest: pull_up_ohm"),
        (('"pull_up"', '"pulled_up"'), 5, "expected one of pull_up"),
        (("[2.9, 3.0, 3.1]", "[3.1, 3.0, 2.9]"), 6, "in order"),
        (("[2.9, 3.0, 3.1]", '"three"'), 6, "is not a number or [low, nominal, high]"),
        (("schema = 1", "schema = 9"), 2, "expected 1"),
        (("[input.ours]", "[inputs.ours]"), 3, "expected output, input, cable"),
        (("supply_v = [", "supply_v = [["), 7, "not TOML"),
    ],
)
def test_fault_is_named_with_line_and_key(tmp_path: Path, change: tuple[str, str], line: int, says: str) -> None:
    with pytest.raises(SheetFault) as caught:
        load(tmp_path, GOOD.replace(*change))
    told = caught.value.rendered()
    assert says in told
    assert f"line {line}" in told
    assert "ours.toml" in told


def test_every_fault_is_told_at_once(tmp_path: Path) -> None:
    with pytest.raises(SheetFault) as caught:
        load(tmp_path, GOOD.replace("82000", "-5").replace("[2.9, 3.0, 3.1]", "[3.1, 3.0, 2.9]"))
    assert caught.value.facts["count"] == 2


def test_unknown_gauge_names_the_nearest(tmp_path: Path) -> None:
    text = '[cable.ours]\ngauge = "0.6 mm2"\n'
    with pytest.raises(SheetFault, match=r"0\.5 mm2"):
        load(tmp_path, text)
    with pytest.raises(SheetFault, match="AWG 40"):
        load(tmp_path, '[cable.ours]\ngauge = "AWG 57"\n')


def test_missing_file_is_said(tmp_path: Path) -> None:
    with pytest.raises(SheetFault, match="cannot be read"):
        load_catalogue([tmp_path / "absent.toml"])


def test_unknown_key_names_the_nearest() -> None:
    with pytest.raises(UnknownSheet, match="reed-contact"):
        shipped_catalogue().output("reed-contct")


def test_every_key_of_the_schema_is_documented() -> None:
    page = REFERENCE.read_text(encoding="utf-8")
    missing = {name for kind in ("output", "input", "cable") for name in sheet_fields(kind) if f"`{name}`" not in page}
    assert missing == set()


def test_standards_named_in_shipped_sheets_have_a_source() -> None:
    held, page = shipped_catalogue(), SOURCES.read_text(encoding="utf-8")
    for sheet in (*held.outputs.values(), *held.inputs.values(), *held.cables.values()):
        for word in sheet.standard.replace(";", " ").split():
            if word.isupper() and "-" in word:
                assert f"| {word} |" in page, word
