"""Differences are named: forward, rolled over, backward, ambiguous, impossible; bounds pinned on both sides."""

from __future__ import annotations

from fractions import Fraction

import pytest

from dialtrue.domain.difference import (
    common_modulus,
    hours_to_roll_over,
    indicating_range,
    register_difference,
    register_error,
)
from dialtrue.domain.errors import BadFlowBound


@pytest.mark.parametrize(
    ("before", "after", "at_most", "kind", "volume"),
    [
        (100, 160, 59, "forward", 60),  # 59 and one digit: just within
        (100, 160, 58, "impossible", None),
        (990, 10, 19, "rolled_over", 20),
        (990, 10, 18, "impossible", None),
        (100, 95, 50, "backward", -5),
        (100, 95, 4, "backward", -5),
        (100, 95, 3, "impossible", None),
        (100, 100, 0, "forward", 0),
        (100, 160, 1058, "forward", 60),  # one more turn needs 1060
        (100, 160, 1059, "ambiguous", None),
        (100, 100, 999, "ambiguous", None),
        (100, 100, 998, "forward", 0),
    ],
)
def test_kinds_change_exactly_at_the_bound(
    before: int, after: int, at_most: int, kind: str, volume: int | None
) -> None:
    verdict = register_difference(before, after, capacity=1000, at_most=at_most, digit=1, unit="gal")
    assert (verdict.kind, verdict.volume) == (kind, volume)


def test_an_ambiguous_difference_says_how_many_turns_are_possible() -> None:
    verdict = register_difference(5, 80, capacity=100, at_most=275, digit=0, unit="gal")
    assert verdict.turns_possible == 2
    assert verdict.least == 75
    assert "up to 2 whole turns of 100 gal" in verdict.reason


def test_a_forward_difference_owns_up_to_a_run_back_that_shows_the_same() -> None:
    verdict = register_difference(10, 60, capacity=100, at_most=60, digit=1, unit="gal")
    assert verdict.kind == "forward"
    assert verdict.backward == -50
    assert "run back of 50 gal" in verdict.reason


def test_a_backward_step_of_one_is_not_taken_for_a_rollover() -> None:
    verdict = register_difference(42_137, 42_136, capacity=10**6, at_most=28_800, digit=1, unit="gal")
    assert verdict.kind == "backward"
    assert "forward it would be 999,999 gal" in verdict.reason


def test_senseless_bounds_are_refused() -> None:
    for capacity, at_most, digit in ((0, 1, 1), (10, -1, 1), (10, 1, -1)):
        with pytest.raises(BadFlowBound):
            register_difference(0, 1, capacity=capacity, at_most=at_most, digit=digit)
    with pytest.raises(BadFlowBound):
        register_error(0, 0, modulus=0)
    with pytest.raises(BadFlowBound):
        hours_to_roll_over(1000, 0)
    with pytest.raises(BadFlowBound):
        common_modulus(0, 5)


def test_registers_in_gallons_and_cubic_feet_share_only_a_small_modulus() -> None:
    # 10^5 ft3 = 57 600 000/77 gal against 10^6 gal: they share 200 000/77 gal.
    assert common_modulus(Fraction(57_600_000, 77), 10**6) == Fraction(200_000, 77)


def test_a_dial_under_1600_hours_with_the_tables_range_holds() -> None:
    verdict = indicating_range(10_000_000, q3_m3_per_h=Fraction("6.3"))
    assert verdict.holds
    assert verdict.hours < 1600
    assert "the table gives" in verdict.reason


def test_a_dial_one_digit_short_does_not_hold() -> None:
    verdict = indicating_range(1_000_000, q3_m3_per_h=Fraction("2.5"))
    assert not verdict.holds
    assert verdict.hours == 400


def test_beyond_the_table_only_the_hours_count() -> None:
    assert indicating_range(16_000_000 * 1000, q3_m3_per_h=10_000).holds
    verdict = indicating_range(15_999_999 * 1000, q3_m3_per_h=10_000)
    assert not verdict.holds
    assert verdict.required_l is None
