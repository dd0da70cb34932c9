"""The kit of a plan: sums by site, van and day, programme."""

from __future__ import annotations

import datetime as dt
import json
from decimal import Decimal
from fractions import Fraction

import openpyxl
import pyarrow as pa
import pyarrow.compute as pc
import pytest

from dialtrue.domain.contracts import TABLE
from dialtrue.domain.errors import PlanPartsUnreadable
from dialtrue.domain.kit import SpareRule
from dialtrue.files.kit_xlsx import write_kit_workbook
from dialtrue.services.kit import StockItem, kit_of

ITEMS = {
    ("part", "gel-splice"): StockItem("part", "gel-splice", "Splice", "each", SpareRule(share=Fraction(1, 10))),
    ("endpoint", "one"): StockItem("endpoint", "one", "Endpoint, one port", "each", SpareRule()),
    ("cable", "awg22-pair"): StockItem("cable", "awg22-pair", "Pair", "m", SpareRule(share=Fraction(15, 100))),
    ("tool", "pump"): StockItem("tool", "pump", "Hand pump", "each", SpareRule()),
}  # fmt: skip


def entry(kind: str, part: str, quantity: str) -> dict[str, str]:
    return {"kind": kind, "part": part, "quantity": quantity}


def plan_of(*sites: tuple[str, list[dict[str, str]]]) -> pa.Table:
    return pa.table({"site": [site for site, _ in sites], "parts": [json.dumps(parts) for _, parts in sites]})


PLAN = plan_of(
    ("A", [entry("endpoint", "one", "1"), entry("part", "gel-splice", "2"), entry("cable", "awg22-pair", "1.5")]),
    ("A", [entry("part", "gel-splice", "2"), entry("tool", "pump", "1")]),
    ("B", [entry("endpoint", "one", "1"), entry("part", "gel-splice", "2"), entry("tool", "pump", "1")]),
    ("C", []),
)


def rows(kit: pa.Table, scope: str, scope_id: str | None = None) -> dict[str, tuple[Decimal, Decimal, Decimal]]:
    chosen = kit.filter(pc.equal(kit["scope"], scope)).to_pylist()
    return {
        row["part"]: (row["quantity"], row["spare"], row["order"])
        for row in chosen
        if scope_id is None or row["scope_id"] == scope_id
    }


def test_registers_of_one_site_add_up_and_a_tool_is_taken_once():
    kit = kit_of(PLAN, ITEMS)
    assert rows(kit, "site", "A") == {
        "one": (1, 0, 1), "gel-splice": (4, 0, 4), "awg22-pair": (Decimal("1.5"), 0, Decimal("1.5")), "pump": (1, 0, 1),
    }  # fmt: skip
    assert rows(kit, "site", "C") == {}
    assert rows(kit, "programme")["gel-splice"] == (6, Decimal("0.6"), 7)
    assert rows(kit, "programme")["pump"] == (1, 0, 1)


def test_vans_and_days_follow_the_routes_and_each_van_has_its_tools():
    routes = pa.table(
        {"day": [dt.date(2026, 5, 4)] * 2, "crew": ["Heron", "Otter"], "site": ["A", "B"], "stop": [1, 1]}
    )
    kit = kit_of(PLAN, ITEMS, routes=routes)
    assert rows(kit, "van_day", "Heron 2026-05-04")["gel-splice"] == (4, 1, 5)
    assert rows(kit, "van_day", "Otter 2026-05-04")["pump"] == (1, 0, 1)
    assert rows(kit, "programme")["pump"] == (2, 0, 2)


def test_a_site_on_no_route_is_in_the_programme_only():
    routes = pa.table({"day": [dt.date(2026, 5, 4)], "crew": ["Heron"], "site": ["B"], "stop": [1]})
    kit = kit_of(PLAN, ITEMS, routes=routes)
    assert rows(kit, "van_day")["one"] == (1, 0, 1)
    assert rows(kit, "programme")["one"] == (2, 0, 2)


def test_the_sites_add_up_to_the_programme_for_what_is_left_on_site():
    kit = kit_of(PLAN, ITEMS)
    for part in ("one", "gel-splice", "awg22-pair"):
        of_sites = pc.sum(kit.filter(pc.and_(pc.equal(kit["scope"], "site"), pc.equal(kit["part"], part)))["quantity"])
        assert of_sites.as_py() == rows(kit, "programme")[part][0]


def test_a_part_without_a_sheet_goes_under_its_own_key():
    kit = kit_of(plan_of(("A", [entry("part", "odd-bracket", "3")])), ITEMS)
    assert kit["title"].to_pylist() == ["odd-bracket"] * 2


def test_the_kit_follows_its_contract():
    assert kit_of(PLAN, ITEMS).column_names == [column.name for column in TABLE["kit"].columns]


@pytest.mark.parametrize(
    "text",
    [
        "splices, 2",
        '[{"quantity": "2"}]',
        '[{"part": "x", "quantity": "two"}]',
        '[{"part": "x", "quantity": "-1"}]',
        '"x"',
    ],
)
def test_a_cell_that_is_no_list_of_parts_is_refused_with_its_row(text):
    with pytest.raises(PlanPartsUnreadable, match="row 2"):
        kit_of(pa.table({"site": ["A", "B"], "parts": ["[]", text]}), ITEMS)


def test_the_workbook_says_the_same_and_keeps_a_site_that_looks_like_a_formula(tmp_path):
    plan = plan_of(("=1+1", [entry("part", "gel-splice", "2")]), ("00417", [entry("part", "gel-splice", "2")]))
    path = tmp_path / "kit.xlsx"
    assert write_kit_workbook(path, kit_of(plan, ITEMS)) == []
    book = openpyxl.load_workbook(path)
    assert book.sheetnames == ["Order", "Sites"]
    order = list(book["Order"].values)
    assert order[0][:6] == ("Kind", "What", "Planned", "Spare", "Order", "Unit")
    assert order[1][:6] == ("part", "Splice", 4, 0.4, 5, "each")
    assert [row[0] for row in book["Sites"].iter_rows(min_row=2, values_only=True)] == ["=1+1", "00417"]
    assert all(cell.data_type == "s" for cell in book["Sites"]["A"])


def test_the_same_kit_gives_the_same_workbook(tmp_path):
    kit = kit_of(PLAN, ITEMS)
    for name in ("one.xlsx", "two.xlsx"):
        write_kit_workbook(tmp_path / name, kit)
    assert (tmp_path / "one.xlsx").read_bytes() == (tmp_path / "two.xlsx").read_bytes()


def test_a_worksheet_nobody_would_read_is_left_out_whole_and_said(tmp_path, monkeypatch):
    plan = plan_of(*((f"S{number}", [entry("part", "gel-splice", "2")]) for number in range(7)))
    monkeypatch.setattr("dialtrue.files.kit_xlsx.MOST_ROWS", 5)
    (said,) = write_kit_workbook(tmp_path / "order.xlsx", kit_of(plan, ITEMS))
    assert said.startswith("order.xlsx: without the worksheet 'Sites', whose 7 rows are over 5")
    assert openpyxl.load_workbook(tmp_path / "order.xlsx").sheetnames == ["Order"]
