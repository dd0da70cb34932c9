"""Plans of lots: grades judged apart, over their own part of the sample."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from dialtrue.domain.acceptance.chance import acceptance_chance, bad_at_chance, share_proved, zero_plan_size
from dialtrue.domain.acceptance.plan import Demand, characteristic, demand_named, lot_plan, plan_words
from dialtrue.domain.acceptance.single_plans import code_letter, single_plan
from dialtrue.domain.errors import BadDemand, BadShare, LotTooSmall, MoreDefectsThanInspected, UnknownAql, UnknownLevel

USUAL = {grade: demand_named(text) for grade, text in (("critical", "aql 1.0"), ("major", "aql 2.5"))}


def sizes(plan_size: int, demands: dict[str, Demand]) -> list[tuple[str, int, int]]:
    return [(plan.grade, plan.size, plan.accept) for plan in lot_plan(plan_size, demands).grades]


def test_grades_of_one_letter_share_the_sample() -> None:
    assert sizes(500, USUAL) == [("critical", 50, 1), ("major", 50, 3)]


def test_critical_defects_are_counted_over_the_whole_sample() -> None:
    """A lot of 60: the table asks for 13 at 1.0 and 20 at 2.5; its cell for the larger letter leads back to 13."""
    assert sizes(60, USUAL) == [("critical", 20, 0), ("major", 20, 1)]
    stretched = {"critical": demand_named("aql 0.65"), "minor": demand_named("aql 1.0")}
    assert sizes(200, stretched) == [("critical", 50, 0), ("minor", 50, 1)]


def test_a_larger_sample_for_critical_defects_does_not_tighten_the_others() -> None:
    demands = {"critical": demand_named("zero 1"), "major": demand_named("aql 2.5")}
    assert sizes(500, demands) == [("critical", 225, 0), ("major", 50, 3)]


def test_a_sample_beyond_the_lot_is_the_lot() -> None:
    plan = lot_plan(10, {"critical": demand_named("aql 1.0")})
    assert (plan.size, plan.inspects_all, plan.grades[0].accept) == (10, True, 0)
    assert plan_words(plan).startswith("all 10 (level II, normal)")


@pytest.mark.parametrize("size", [0, 1])
def test_a_lot_of_one_or_none_is_inspected_whole(size: int) -> None:
    assert lot_plan(size, USUAL).size == size


def test_a_grade_without_a_demand_is_not_judged() -> None:
    assert lot_plan(500, {"critical": demand_named("none")}).grades == ()


def test_zero_demand_does_not_follow_the_severity() -> None:
    demands = {"critical": demand_named("zero 5")}
    assert lot_plan(500, demands, severity="reduced").size == lot_plan(500, demands).size == 56


@pytest.mark.parametrize("text", ["1 %", "aql", "aql one", "zero 0", "zero 100", "zero nan", "", "aql 1 2", "limit 5"])
def test_other_forms_of_demand_are_refused(text: str) -> None:
    with pytest.raises(BadDemand):
        demand_named(text)


def test_a_limit_between_the_tables_is_not_known() -> None:
    with pytest.raises(UnknownAql, match=r"Choose one of 0\.065"):
        demand_named("aql 3")


def test_levels_and_lot_ends() -> None:
    assert [code_letter(size, "III") for size in (8, 9, 500, 501, 500_001)] == ["B", "C", "J", "K", "R"]
    assert [code_letter(1200, level) for level in ("S-1", "S-2", "S-3", "S-4", "I")] == ["C", "C", "E", "F", "G"]
    with pytest.raises(UnknownLevel):
        code_letter(500, "IV")
    with pytest.raises(LotTooSmall):
        code_letter(1)


def test_tightened_accepts_less_and_reduced_looks_at_less() -> None:
    normal, tight, light = (
        single_plan(500, Decimal("2.5"), severity=each) for each in ("normal", "tightened", "reduced")
    )
    assert (tight.size, tight.accept) == (50, 2)
    assert light.size < normal.size
    assert normal.accept == 3


def test_share_proved_is_the_share_asked_for() -> None:
    size = zero_plan_size(1000, Fraction(2, 100))
    assert share_proved(1000, size) == pytest.approx(0.02)
    assert share_proved(1000, size - 1) > 0.02


def test_bad_at_chance_is_the_least() -> None:
    bad = bad_at_chance(500, size=50, accept=1, chance=0.10)
    chances = [acceptance_chance(500, each, size=50, accept=1) for each in (bad - 1, bad)]
    assert chances[0] > 0.10 >= chances[1]


def test_curve_starts_at_certainty_and_ends_near_none() -> None:
    plan = lot_plan(500, USUAL)
    curve = characteristic(plan.grades[0], 500)
    assert curve[0] == (0.0, 1.0)
    assert curve[-1][1] <= 0.01
    assert characteristic(plan.grades[0], 500, most=0.02)[-1][0] == pytest.approx(0.02)


def test_counts_and_shares_out_of_range_are_refused() -> None:
    with pytest.raises(MoreDefectsThanInspected):
        acceptance_chance(10, 11, size=5, accept=0)
    with pytest.raises(BadShare):
        zero_plan_size(500, Fraction(0))
    with pytest.raises(BadShare):
        zero_plan_size(0, Fraction(1, 20))
