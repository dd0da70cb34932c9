"""Acceptance by lot against tables and figures that others published, and against an independent library."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from scipy import stats

from dialtrue.domain.acceptance.chance import (
    acceptance_chance,
    at_least,
    at_most,
    exact_interval,
    score_interval,
    zero_plan_size,
)
from dialtrue.domain.acceptance.comparison import two_sided_chance
from dialtrue.domain.acceptance.single_plans import AQLS, LETTERS, SEVERITIES, plan_of_letter, single_plan

LOTS = (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10000)
NORMAL = {
    "0.65": "20,0 20,0 20,0 20,0 20,0 20,0 20,0 80,1 80,1 125,2 200,3",
    "1.0": "13,0 13,0 13,0 13,0 13,0 13,0 50,1 50,1 80,2 125,3 200,5",
    "1.5": "8,0 8,0 8,0 8,0 8,0 32,1 32,1 50,2 80,3 125,5 200,7",
    "2.5": "5,0 5,0 5,0 5,0 20,1 20,1 32,2 50,3 80,5 125,7 200,10",
    "4.0": "3,0 3,0 3,0 13,1 13,1 20,2 32,3 50,5 80,7 125,10 200,14",
}
"""ISO-2859-1, general level II, normal: size and acceptance number by lot size, arrows followed."""

MIL = {
    ("normal", "0.065"): "200,0 " * 12 + "800,1 800,1 1250,2 2000,3",
    ("normal", "1.0"): "13,0 " * 6 + "50,1 50,1 80,2 125,3 200,5 315,7 500,10 800,14 1250,21 1250,21",
    ("normal", "6.5"): "2,0 2,0 8,1 8,1 13,2 20,3 32,5 50,7 80,10 125,14 200,21 " + "200,21 " * 5,
    ("tightened", "1.0"): "20,0 " * 6 + "80,1 80,1 80,1 125,2 200,3 315,5 500,8 800,12 1250,18 1250,18",
    ("tightened", "2.5"): "8,0 " * 4 + "32,1 32,1 32,1 50,2 80,3 125,5 200,8 315,12 500,18 " + "500,18 " * 3,
    ("tightened", "6.5"): "3,0 3,0 13,1 13,1 13,1 20,2 32,3 50,5 80,8 125,12 200,18 " + "200,18 " * 5,
}
"""MIL-STD-105E, by code letter A to R."""


def cells(text: str) -> list[tuple[int, int]]:
    return [(int(size), int(accept)) for size, accept in (cell.split(",") for cell in text.split())]


@pytest.mark.parametrize("aql", NORMAL)
def test_level_two_plans_are_those_of_the_table(aql: str) -> None:
    found = [single_plan(lot, Decimal(aql)) for lot in LOTS]
    assert [(plan.size, plan.accept) for plan in found] == cells(NORMAL[aql])


@pytest.mark.parametrize(("severity", "aql"), MIL)
def test_every_letter_has_the_older_standards_plan(severity: str, aql: str) -> None:
    found = [plan_of_letter(letter, Decimal(aql), severity=severity) for letter in LETTERS]  # type: ignore[arg-type]
    assert [(plan.size, plan.accept) for plan in found] == cells(MIL[severity, aql])


@pytest.mark.parametrize("severity", SEVERITIES)
@pytest.mark.parametrize("aql", AQLS)
def test_a_lot_at_the_limit_passes_as_often_as_the_standard_means(severity: str, aql: Decimal) -> None:
    """Normal 0.87 to 0.995; tightened less; reduced no less than 0.85: the pattern of the standard."""
    for letter in LETTERS:
        plan = plan_of_letter(letter, aql, severity=severity)  # type: ignore[arg-type]
        chance = at_most(plan.accept, plan.size, float(aql) / 100)
        normal = plan_of_letter(letter, aql)
        usual = at_most(normal.accept, normal.size, float(aql) / 100)
        if severity == "normal":
            assert 0.87 < chance < 0.996
        elif severity == "tightened":
            assert 0.76 < chance < usual
        else:
            assert chance > 0.87
            assert plan.size < normal.size or plan.letter > normal.letter or normal.size == 2


@pytest.mark.parametrize(
    ("size", "accept", "percent", "passes"),
    [(13, 0, 1, 0.8775), (50, 1, 1, 0.9106), (80, 2, 1, 0.953), (125, 3, 1, 0.963), (200, 5, 1, 0.984)],
)
def test_points_of_the_operating_characteristic(size: int, accept: int, percent: float, passes: float) -> None:
    assert at_most(accept, size, percent / 100) == pytest.approx(passes, abs=6e-4)


@pytest.mark.parametrize(
    ("size", "accept", "percent"), [(50, 1, 7.558), (80, 2, 6.516), (200, 5, 4.588), (13, 0, 16.23)]
)
def test_quality_that_passes_one_time_in_ten(size: int, accept: int, percent: float) -> None:
    assert at_most(accept, size, percent / 100) == pytest.approx(0.10, abs=2e-4)


TRADE = [
    (500, 50, 1, (0.92, 0.74, 0.39, 0.26, 0.07, 0.03)),
    (500, 50, 0, (0.59, 0.35, 0.12, 0.07, 0.01, 0.00)),
    (1200, 80, 2, (0.96, 0.79, 0.37, 0.22, 0.04, 0.01)),
    (3000, 125, 3, (0.97, 0.76, 0.25, 0.12, 0.01, 0.00)),
    (500, 20, 0, (0.82, 0.66, 0.44, 0.35, 0.18, 0.12)),
]


@pytest.mark.parametrize(("lot", "size", "accept", "passes"), TRADE)
def test_chance_that_a_lot_passes(lot: int, size: int, accept: int, passes: tuple[float, ...]) -> None:
    for percent, expected in zip((1, 2, 4, 5, 8, 10), passes, strict=True):
        found = acceptance_chance(lot, lot * percent // 100, size=size, accept=accept)
        assert found == pytest.approx(expected, abs=0.006)  # the row of 20 is printed rounded up
        reference = stats.hypergeom.cdf(accept, lot, lot * percent // 100, size)
        assert found == pytest.approx(float(reference), rel=1e-9)


def test_sizes_that_prove_a_share_with_no_defect_found() -> None:
    shares = [Fraction(percent, 100) for percent in (5, 2, 1)]
    assert [zero_plan_size(500, share) for share in shares] == [56, 129, 225]
    assert [zero_plan_size(None, share) for share in shares] == [59, 149, 299]
    assert zero_plan_size(None, Fraction(1, 10), confidence=Fraction(9, 10)) == 22
    assert zero_plan_size(1_000_000, Fraction(1, 100)) == 299
    assert zero_plan_size(10, Fraction(1, 100)) == 10


@pytest.mark.parametrize(
    ("bad", "inspected", "low", "high"),
    [
        (0, 100, 0.0, 0.036995),
        (10, 100, 0.055229, 0.174367),
        (1, 11, 0.016232, 0.377365),
        (0, 1, 0.0, 0.793457),
        (0, 20, 0.0, 0.16113),
        (0, 50, 0.0, 0.07135),
        (1, 50, None, 0.10495),
        (2, 50, None, 0.13460),
    ],
)
def test_score_interval_has_the_worked_figures(bad: int, inspected: int, low: float | None, high: float) -> None:
    found = score_interval(bad, inspected, z=1.96)
    assert found[1] == pytest.approx(high, abs=1e-5)
    assert low is None or found[0] == pytest.approx(low, abs=6e-7)


@pytest.mark.parametrize("inspected", [1, 7, 50, 320, 2000])
def test_exact_interval_is_that_of_the_beta_distribution(inspected: int) -> None:
    for bad in {0, 1, inspected // 3, inspected - 1, inspected}:
        low, high = exact_interval(bad, inspected)
        assert low == pytest.approx(stats.beta.ppf(0.025, bad, inspected - bad + 1) if bad else 0.0, abs=1e-10)
        assert high == pytest.approx(
            stats.beta.ppf(0.975, bad + 1, inspected - bad) if bad < inspected else 1.0, abs=1e-10
        )


def test_exact_one_sided_bound_of_no_defect_in_a_hundred() -> None:
    assert exact_interval(0, 100, confidence=0.90)[1] == pytest.approx(0.029513, abs=5e-7)


def test_tails_agree_with_the_library() -> None:
    for size, share in ((5, 0.3), (60, 0.05), (1250, 0.011)):
        for found in range(0, size, max(1, size // 7)):
            assert at_most(found, size, share) == pytest.approx(float(stats.binom.cdf(found, size, share)), rel=1e-9)
            assert at_least(found, size, share) == pytest.approx(
                float(stats.binom.sf(found - 1, size, share)), rel=1e-8, abs=1e-300
            )


@pytest.mark.parametrize(
    "table", [(9, 60, 3, 180), (3, 60, 0, 60), (0, 60, 12, 180), (5, 50, 5, 50), (0, 10, 0, 20), (400, 1000, 500, 1100)]
)
def test_two_sided_chance_is_that_of_the_library(table: tuple[int, int, int, int]) -> None:
    bad, inspected, other, others = table
    reference = stats.fisher_exact([[bad, inspected - bad], [other, others - other]])
    assert two_sided_chance(*table) == pytest.approx(float(reference.pvalue), rel=1e-9)
    assert math.isclose(two_sided_chance(*table), two_sided_chance(other, others, bad, inspected), rel_tol=1e-12)
