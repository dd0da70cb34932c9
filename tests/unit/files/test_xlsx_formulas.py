"""Formulas without a value are said, those with one are read."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
import xlsxwriter

from dialtrue.files.xlsx_formulas import unvalued_formulas
from dialtrue.files.xlsx_in import read_xlsx

KNOWN = ("site", "cable_length_m")


def test_a_formula_that_was_never_worked_out_is_said_with_its_place(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for row in (["site", "cable_length_m"], ["S1", "=1.5+0.5"], ["S2", 2.5]):
        book.active.append(row)
    book.create_sheet("notes").append(["=1+1"])
    book.save(tmp_path / "sites.xlsx")
    table = read_xlsx(tmp_path / "sites.xlsx", "sites.xlsx", KNOWN)
    assert table.columns["cable_length_m"].to_pylist() == [None, "2.5"]
    assert len(table.said) == 1
    assert table.said[0].startswith("sites.xlsx: 1 formula without a value (B2), read as blank")


@pytest.mark.parametrize("value", [2, 0, "pit"])
def test_a_formula_with_its_value_is_read_and_nothing_is_said(tmp_path: Path, value: float | str) -> None:
    with xlsxwriter.Workbook(tmp_path / "sites.xlsx") as book:
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, ["site", "cable_length_m"])
        sheet.write(1, 0, "S1")
        sheet.write_formula(1, 1, "=A1&B7", None, value)
    table = read_xlsx(tmp_path / "sites.xlsx", "sites.xlsx", KNOWN)
    assert table.columns["cable_length_m"].to_pylist() == [str(value)]
    assert unvalued_formulas(tmp_path / "sites.xlsx") == []
    assert table.said == []
