"""Sheets of endpoints and parts: the shipped ones, an own one in their place, every fault with line and key."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from dialtrue.domain.contracts import MOUNTS
from dialtrue.domain.errors import SheetFault, UnknownSheet
from dialtrue.files.endpoint_sheets import Hardware, load_hardware
from dialtrue.files.sheets import load_catalogue, shipped_catalogue

OWN = """
[endpoint.ours]
title = "Ours"
ports = 2
input = "contact-3v-47k"
index_digits = [8]
index_units = ["gal"]
index_resolutions = [0.1, 1]
weights = ["10 gal", "0.10 gal"]
parts_per_port = { gel-splice = 2, our-gland = 1 }

[part.our-gland]
title = "Gland"
spare_share = 0.05
"""


def loaded(folder: Path, text: str) -> Hardware:
    path = folder / "ours.toml"
    path.write_text(text, encoding="utf-8")
    load_catalogue([path])  # the other reader lets these tables pass
    return load_hardware([path], inputs=shipped_catalogue().inputs)


def test_shipped_sheets_load_and_every_mount_has_one_and_two_ports() -> None:
    hardware = load_hardware(inputs=shipped_catalogue().inputs)
    assert hardware.own == []
    for mount in MOUNTS:
        ports = {sheet.ports for sheet in hardware.endpoints.values() if mount in sheet.mounts}
        assert {1, 2} <= ports
    for sheet in hardware.endpoints.values():
        assert set(sheet.job_minutes) == set(sheet.mounts)
        assert sheet.source
        assert sheet.parts_per_port["gel-splice"] == 2


def test_figures_are_exact_as_written(tmp_path: Path) -> None:
    hardware = loaded(tmp_path, OWN)
    sheet = hardware.endpoint("ours")
    assert hardware.own == ["ours"]
    assert sheet.index_resolutions == (Fraction(1, 10), Fraction(1))
    assert [(weight.number, weight.unit) for weight in sheet.weights] == [("10", "gal"), ("0.10", "gal")]
    assert hardware.part("our-gland").spare_share == Fraction(1, 20)


def test_a_sheet_of_the_same_key_takes_the_place_of_a_shipped_one(tmp_path: Path) -> None:
    hardware = loaded(tmp_path, '[part.gel-splice]\ntitle = "Our splice"\npack = 25\n')
    assert hardware.part("gel-splice").pack == 25


def test_an_unknown_key_names_the_nearest() -> None:
    with pytest.raises(UnknownSheet, match="pit-one-port"):
        load_hardware().endpoint("pit-one-prt")
    with pytest.raises(UnknownSheet, match="gel-splice"):
        load_hardware().part("gel-splce")


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("[endpoint.x]\nports = 1\n", 1, "endpoint.x.input: missing"),
        ('[endpoint.x]\ninput = "contact-3v-47k"\nports = 0\n', 3, "from 1 to 99"),
        ('[endpoint.x]\ninput = "contact-3v-47k"\nports = "two"\n', 3, "not a whole number"),
        ('[endpoint.x]\ninput = "contact-3v-47k"\nprts = 2\n', 3, "no such key; nearest: ports"),
        ('[endpoint.x]\ninput = "contact-3v-99k"\n', 2, "'contact-3v-99k' is no input sheet; nearest: contact-3v"),
        ('[endpoint.x]\ninput = "contact-3v-47k"\nweights = ["10 gallons"]\n', 3, "volumes with a unit"),
        ('[endpoint.x]\ninput = "contact-3v-47k"\nweights = ["-1 gal"]\n', 3, "volumes with a unit"),
        ('[endpoint.x]\ninput = "contact-3v-47k"\nmounts = ["roof"]\n', 3, "one of wall, pole, pit, indoor"),
        ('[endpoint.x]\ninput = "contact-3v-47k"\nmounts = []\n', 3, "a list of at least one"),
        ('[endpoint.x]\ninput = "contact-3v-47k"\nindex_digits = [0]\n', 3, "from 1 to 18"),
        ('[endpoint.x]\ninput = "contact-3v-47k"\nindex_units = ["litre"]\n', 3, "one of L, m3"),
        ('[endpoint.x]\ninput = "contact-3v-47k"\nindex_resolutions = [0]\n', 3, "above 0"),
        ('[endpoint.x]\ninput = "contact-3v-47k"\nlive_count = "yes"\n', 3, "true or false"),
        ('[endpoint.x]\ninput = "contact-3v-47k"\npower = "wind"\n', 3, "one of cell, mains"),
        ('[endpoint.x]\ninput = "contact-3v-47k"\ntools = ["hammer"]\n', 3, "'hammer' is no part sheet"),
        ('[endpoint.x]\ninput = "contact-3v-47k"\nparts_per_port = { gel-splce = 2 }\n', 3, "nearest: gel-splice"),
        ('[endpoint.x]\ninput = "contact-3v-47k"\nparts_per_port = { gel-splice = -2 }\n', 3, "part = quantity"),
        ('[endpoint.x]\ninput = "contact-3v-47k"\njob_minutes = { pit = 5000 }\n', 3, "1440 minutes"),
        ("[part.x]\nspare_share = -1\n", 2, "from 0 to 10"),
        ('[part.x]\nkind = "gadget"\n', 2, "one of part, tool"),
        ("[part.x]\npack = 0\n", 2, "from 1 to"),
        ("[part]\nx = 3\n", 2, "expected a table of figures"),
    ],
)
def test_a_fault_is_told_with_its_line_and_key(tmp_path: Path, text: str, line: int, words: str) -> None:
    with pytest.raises(SheetFault) as caught:
        loaded(tmp_path, text)
    assert f"line {line}," in str(caught.value)
    assert words in str(caught.value)


def test_every_fault_of_a_file_is_told_at_once(tmp_path: Path) -> None:
    with pytest.raises(SheetFault, match="2 fault") as caught:
        loaded(tmp_path, '[part.x]\npack = 0\nkind = "gadget"\n')
    assert "pack" in str(caught.value)


def test_a_file_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(SheetFault, match="cannot be read"):
        load_hardware([tmp_path / "none.toml"])
