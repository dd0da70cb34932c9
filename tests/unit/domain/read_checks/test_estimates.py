"""Spikes, sums, straight lines and shares by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dialtrue.domain.read_checks.estimates import between, shared, spike, sums_agree
from dialtrue.domain.read_checks.rules import FILL_QUALITY, FILL_RULES, READ_RULES, rule_text


@pytest.mark.parametrize(("highest", "fails"), [("9", True), ("8.4", False), ("8.41", True), ("3", False)])
def test_a_spike_fails_only_above_the_published_ratio(highest: str, fails: bool) -> None:
    assert spike(Fraction(highest), 3) is fails


def test_no_spike_is_told_where_the_third_highest_is_nothing() -> None:
    assert not spike(1000, 0)


@pytest.mark.parametrize(("register", "agree"), [(1000, True), (900, True), (899, False), (1101, True), (1301, False)])
def test_sums_may_differ_by_two_register_units(register: int, agree: bool) -> None:
    assert sums_agree(Fraction(1100), Fraction(register), unit=Fraction(100)) is agree


def test_three_reads_between_two_lie_on_a_straight_line() -> None:
    assert between(100, 112, 3) == [103, 106, 109]


@given(st.integers(0, 10**12), st.lists(st.integers(0, 10**6), min_size=1, max_size=30))
def test_shares_are_whole_exact_in_sum_and_within_one_of_their_due(total: int, weights: list[int]) -> None:
    shares = shared(total, weights)
    whole = sum(weights)
    assert sum(shares) == total
    assert min(shares) >= 0
    if whole:
        due = [Fraction(total * weight, whole) for weight in weights]
        assert all(abs(share - exact) < 1 for share, exact in zip(shares, due, strict=True))


def test_each_thing_said_of_a_read_has_a_bit_of_its_own() -> None:
    assert sorted(rule.bit for rule in READ_RULES) == [2**k for k in range(len(READ_RULES))]
    assert rule_text(0) == ""
    assert rule_text(1 + 32) == "stamp_twice;spike"


def test_each_way_of_filling_has_a_quality() -> None:
    assert dict(zip(FILL_RULES, FILL_QUALITY, strict=True)) == {
        "interpolated": 9,
        "like_days": 8,
        "own_history": 11,
        "even": 11,
    }
