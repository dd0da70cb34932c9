"""Spares and packs."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from dialtrue.domain.kit import CABLE_SPARE_SHARE, SpareRule, stock_for

SPLICES = SpareRule(share=Fraction(1, 10))


def test_the_twelve_pits_order_twenty_nine_splices_and_fifty_six_metres_of_cable():
    """Story 3 of the trade notes: 26 splices + 10 % = 28.6, order 29; 48.5 m + 15 % = 55.775, order 56 m."""
    assert stock_for(Fraction(26), SPLICES, scope="programme").order == 29
    cable = stock_for(Fraction("48.5"), SpareRule(share=CABLE_SPARE_SHARE, whole=False), scope="programme")
    assert (cable.quantity + cable.spare, cable.order) == (Fraction("55.775"), 56)


def test_a_site_takes_what_is_planned_and_a_van_carries_whole_spares():
    assert stock_for(Fraction(2), SPLICES, scope="site").order == 2
    assert stock_for(Fraction(26), SPLICES, scope="van_day").spare == 3
    assert stock_for(Fraction("7.5"), SpareRule(share=Fraction(1, 5), whole=False), scope="van_day").order == 9


def test_two_lids_a_day_go_along_and_are_bought_once_for_each_van():
    lids = SpareRule(per_day=2)
    assert stock_for(Fraction(6), lids, scope="van_day").order == 8
    assert stock_for(Fraction(60), lids, scope="programme", vans=3).order == 66


def test_nothing_planned_needs_no_spare():
    assert stock_for(Fraction(0), SpareRule(minimum=5), scope="programme").order == 0


@given(
    st.fractions(min_value=0, max_value=1000), st.fractions(min_value=0, max_value=2),
    st.integers(0, 50), st.integers(0, 5), st.integers(1, 40), st.integers(1, 9),
)  # fmt: skip
def test_an_order_is_whole_packs_that_cover_plan_and_spares_with_no_pack_too_many(
    quantity, share, minimum, per_day, pack, vans
):
    rule = SpareRule(share=share, minimum=minimum, per_day=per_day, pack=pack)
    stock = stock_for(quantity, rule, scope="programme", vans=vans)
    assert (stock.order / pack).denominator == 1
    assert 0 <= stock.order - stock.quantity - stock.spare < pack


def test_a_rule_says_itself():
    rule = SpareRule(share=Fraction(1, 20), minimum=5, per_day=2, pack=10)
    assert rule.words("van_day") == "5 % spare, 2 spare a van and day"  # a van takes no minimum and no whole packs
    assert rule.words() == "5 % spare, at least 5 spare, 2 spare a van and day, packs of 10"
