"""The page on costs states what the code does: shipped costs, names, the budget, the table of checks."""

from __future__ import annotations

import csv
import io
import tomllib
from dataclasses import asdict
from pathlib import Path

import pytest

from dialtrue.domain.contracts import TABLE
from dialtrue.domain.faults import FAULTS
from dialtrue.domain.watch_settings import Costs, WatchSettings
from dialtrue.engine import base_rates
from dialtrue.engine.next_check import volume_to_separate_l
from dialtrue.files.settings import watch_settings
from tests.docs.test_pages import blocks

DOCS = Path(__file__).resolve().parents[2] / "docs"
PAGE = DOCS / "how-to" / "set-costs-and-rates.md"
EXPLAINED = (DOCS / "explanation" / "how-faults-are-inferred.md").read_text(encoding="utf-8")


def test_the_costs_on_the_page_are_the_shipped_ones() -> None:
    shown = next(item for item in map(tomllib.loads, blocks(PAGE, "toml")) if "costs" in item["watch"])
    assert shown["watch"]["costs"] == asdict(Costs())


@pytest.mark.parametrize("block", blocks(PAGE, "toml"))
def test_every_setting_on_the_page_is_taken(tmp_path: Path, block: str) -> None:
    (tmp_path / "programme.toml").write_text(block, encoding="utf-8")
    watch_settings(tmp_path)


def test_the_budget_on_the_page_is_the_shipped_one_and_its_sums_are_right() -> None:
    budget = WatchSettings().remote_checks_per_1000
    assert f"remote_checks_per_1000 = {budget:.0f}" in PAGE.read_text(encoding="utf-8")
    assert round(1000 / budget / 12) == 4
    assert round(1000 / 85) == 12


def test_the_checks_on_the_page_have_the_contracts_columns_and_codes() -> None:
    (block,) = blocks(PAGE, "csv")
    rows = list(csv.DictReader(io.StringIO(block)))
    assert set(rows[0]) <= {column.name for column in TABLE["checks"].columns}
    assert {row["found"] for row in rows} <= set(FAULTS)


def test_the_figures_of_the_explanation_are_the_codes_own() -> None:
    assert f"({base_rates.FAMILY_SHAPE:.0f} + finds) / ({base_rates.FAMILY_SHAPE:.0f} + due)" in EXPLAINED
    assert f"with {base_rates.CODE_SHAPE:.0f} in place of {base_rates.FAMILY_SHAPE:.0f}" in EXPLAINED
    assert f"has {base_rates.FAMILY_SHAPE / (base_rates.FAMILY_SHAPE + 1):.2f}, not 0" in EXPLAINED
    assert f"shares times {base_rates.SHARE_PORTS:.0f}" in EXPLAINED
    assert 2 < volume_to_separate_l(1.0, 0.1, weight_l=10, step_l=1) / 10 <= 3
