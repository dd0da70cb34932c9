"""Register arithmetic against published figures; each case also runs in the other unit system."""

from __future__ import annotations

import tomllib
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from dialtrue.domain.dial import Dial
from dialtrue.domain.difference import hours_to_roll_over, indicating_range, register_difference
from dialtrue.domain.quantity import convert

FILES = ("nist-sp-811-volumes", "oiml-r49-indicating-range", "rollover-figures")
SOURCES = Path(__file__).parents[2] / "docs" / "reference" / "sources.md"


def load(name: str) -> dict[str, Any]:
    return tomllib.loads((Path(__file__).parent / "cases" / f"{name}.toml").read_text(encoding="utf-8"))


def cases(name: str, table: str) -> list[Any]:
    found = load(name)[table]
    return [pytest.param(case, id=case.get("says", f"{table} {n}")) for n, case in enumerate(found)]


@pytest.mark.parametrize("name", FILES)
def test_each_case_file_cites_a_source_that_is_kept(name: str) -> None:
    assert f"| {load(name)['source']} |" in SOURCES.read_text(encoding="utf-8")


@pytest.mark.parametrize("case", cases("nist-sp-811-volumes", "convert"))
def test_a_volume_converts_as_published_and_back(case: dict[str, str]) -> None:
    got = convert(Fraction(case["volume"]), case["from"], case["to"])
    assert abs(got - Fraction(case["expect"])) <= Fraction(case["tolerance"])
    assert convert(got, case["to"], case["from"]) == Fraction(case["volume"])


@pytest.mark.parametrize("case", cases("oiml-r49-indicating-range", "hours"))
def test_hours_at_q3(case: dict[str, str]) -> None:
    capacity, q3 = Fraction(case["capacity_m3"]), Fraction(case["q3_m3_per_h"])
    assert hours_to_roll_over(capacity * 1000, q3 * 1000) == Fraction(case["expect_h"])
    in_gal = [convert(volume, "m3", "gal") for volume in (capacity, q3)]
    assert hours_to_roll_over(convert(in_gal[0], "gal", "L"), convert(in_gal[1], "gal", "L")) == Fraction(
        case["expect_h"]
    )


@pytest.mark.parametrize("case", cases("oiml-r49-indicating-range", "range"))
def test_the_indicating_range_table(case: dict[str, Any]) -> None:
    q3 = Fraction(case["q3_m3_per_h"])
    metric = Dial.of(moving_digits=case["digits"], unit="m3")
    assert indicating_range(metric.capacity_l, q3_m3_per_h=q3).holds is case["holds"]
    # The same dial with its face in gallons: as many wheels, each step a cubic metre's worth of gallons.
    us = Dial.of(moving_digits=case["digits"], unit="gal", resolution=convert(1, "m3", "gal"))
    assert indicating_range(us.capacity_l, q3_m3_per_h=q3).holds is case["holds"]


@pytest.mark.parametrize("case", cases("rollover-figures", "difference"))
def test_a_worked_difference(case: dict[str, str]) -> None:
    gal = {key: Fraction(case[key]) for key in ("before", "after", "capacity", "at_most", "expect")}
    for unit in ("gal", "L"):
        own = {key: convert(value, "gal", unit) for key, value in gal.items()}
        verdict = register_difference(
            own["before"],
            own["after"],
            capacity=own["capacity"],
            at_most=own["at_most"],
            digit=convert(1, "gal", unit),
            unit=unit,
        )
        assert verdict.kind == case["kind"]
        assert verdict.volume == own["expect"]


@pytest.mark.parametrize("case", cases("rollover-figures", "time"))
def test_a_worked_time_to_roll_over(case: dict[str, Any]) -> None:
    capacity_l = convert(case["counts"] * Fraction(case["count_gal"]), "gal", "L")
    flow_l_per_h = convert(Fraction(case["flow_gal_per_day"]), "gal", "L") / 24
    days = hours_to_roll_over(capacity_l, flow_l_per_h) / 24
    assert abs(days - Fraction(case["expect_days"])) <= Fraction(case["tolerance_days"])
