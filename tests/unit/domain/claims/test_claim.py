"""Claims: the story's three rules and three answers, and what a limit must never do."""

from __future__ import annotations

import datetime as dt
import itertools
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dialtrue.domain.claims.claim import Difference, claim, months_before
from dialtrue.domain.claims.claim_rule import DEFER, EXAMPLES, ClaimRule
from dialtrue.domain.errors import BackwardPeriod, ClaimRuleFault
from dialtrue.domain.quantity import litres_per

GAL = litres_per("gal")
FOUND = dt.date(2026, 3, 1)


def laundry() -> list[Difference]:
    """Return fourteen months of 54,900 gal short each, at 6.20 a thousand."""
    edges = [months_before(FOUND, back) for back in range(14, -1, -1)]
    return [
        Difference(start, end, 61_000 * GAL, 54_900 * GAL, Fraction(54_900) * Fraction("6.20") / 1000)
        for start, end in itertools.pairwise(edges)
    ]


def settle(name: str, differences: list[Difference], **more):
    under, over = EXAMPLES[name]
    return claim(differences, under=under, over=over, found=FOUND, **({"since_known": True} | more))


@pytest.mark.parametrize(
    ("name", "gallons", "amount"),
    [
        ("everything", 768_600, "4765.32"),
        ("twelve-months", 658_800, "4084.56"),
        ("half-of-twelve-months", 329_400, "2042.28"),
    ],
)
def test_the_laundry_gets_three_answers_by_three_rules(name, gallons, amount):
    """Story 5 of the trade notes (source key STORY-LAUNDRY)."""
    found = settle(name, laundry())
    assert (found.direction, found.volume_l, found.amount) == ("under", gallons * GAL, Decimal(amount))
    assert name in found.sentence
    assert DEFER in found.sentence


def test_thirty_months_since_the_test_are_capped_at_twelve_and_ten_give_five():
    """Worked from IN-170-IAC-6-1-14: last test 30 months ago, 12 months; 10 months ago, 5 months."""
    edges = [months_before(FOUND, back) for back in range(36, -1, -1)]
    short = [Difference(a, b, 10 * GAL, GAL, Fraction(1)) for a, b in itertools.pairwise(edges)]
    capped = settle("half-since-test-12", short, since_known=False, last_right=months_before(FOUND, 30))
    assert sum(each.days > 0 for each in capped.periods) == 12
    halved = settle("half-since-test-12", short, since_known=False, last_right=months_before(FOUND, 10))
    assert sum(each.days > 0 for each in halved.periods) in (5, 6)  # half of 304 days cuts a month
    assert halved.volume_l == pytest.approx(float(5 * GAL), rel=0.02)


def test_over_and_under_have_rules_of_their_own():
    over = [Difference(each.start, each.end, each.corrected_l, -each.difference_l, -Fraction(10)) for each in laundry()]
    assert settle("refund-only", laundry()).volume_l == 0
    assert settle("refund-only", over).amount == -140
    assert settle("half-of-twelve-months", over).volume_l == -658_800 * GAL


def test_a_difference_within_the_tolerance_is_left():
    small = [Difference(dt.date(2026, 1, 1), dt.date(2026, 2, 1), 100 * GAL, 2 * GAL, Fraction(3))]
    found = settle("half-since-test-12", small)
    assert (found.volume_l, found.amount) == (0, 0)
    assert "2 % is within the tolerance of 2 %" in found.sentence


def test_a_sound_register_is_claimed_exactly_nothing():
    sound = [Difference(each.start, each.end, each.corrected_l, Fraction(0), Fraction(0)) for each in laundry()]
    found = settle("everything", sound)
    assert (found.direction, found.volume_l, found.amount, found.interest) == (None, 0, 0, 0)


def test_a_cap_on_volume_cuts_money_alike():
    """Fifty thousand gallons, as one city's staff proposed for a slow remote."""
    rule = ClaimRule(key="cap", most_volume_l=50_000 * GAL)
    found = claim(laundry(), under=rule, over=rule, found=FOUND, since_known=True)
    assert found.volume_l == 50_000 * GAL
    assert abs(found.amount - Decimal(310)) < Decimal("0.08")


def test_interest_is_simple_and_by_period():
    rule = ClaimRule(key="interest", interest_per_year=Fraction(3, 100))
    year = [Difference(dt.date(2024, 2, 1), dt.date(2025, 3, 1), 100 * GAL, 10 * GAL, Fraction(100))]
    assert claim(year, under=rule, over=rule, found=FOUND, since_known=True).interest == 3


def test_without_money_only_volume_is_claimed():
    bare = [Difference(each.start, each.end, each.corrected_l, each.difference_l) for each in laundry()]
    found = settle("twelve-months", bare)
    assert (found.volume_l, found.amount, found.interest) == (658_800 * GAL, None, None)


def test_too_little_money_is_not_refunded():
    tiny = [Difference(dt.date(2026, 1, 1), dt.date(2026, 2, 1), 100 * GAL, -10 * GAL, -Fraction(4))]
    found = settle("half-since-test-24", tiny)
    assert found.amount == 0
    assert "under the least amount of 5" in found.sentence


@pytest.mark.parametrize(
    "figures", [{"share": Fraction(2)}, {"tolerance": Fraction(-1)}, {"months_back": 0}, {"least_amount": Fraction(-1)}]
)
def test_a_rule_out_of_range_is_refused(figures):
    with pytest.raises(ClaimRuleFault, match=next(iter(figures))):
        ClaimRule(key="mine", **figures)


def test_a_period_without_days_is_refused():
    with pytest.raises(BackwardPeriod):
        settle("everything", [Difference(FOUND, FOUND, GAL, GAL)])


@given(st.integers(1, 60), st.fractions(0, 1))
def test_no_rule_claims_more_than_the_difference(months, share):
    rule = ClaimRule(key="any", months_back=months, share=share)
    found = claim(laundry(), under=rule, over=rule, found=FOUND, since_known=True)
    assert 0 <= found.volume_l <= 768_600 * GAL


def test_what_a_limit_leaves_that_goes_the_other_way_is_decided_by_hand():
    """Long ago too little, lately too much: a limit of a month would turn a claim into a refund."""
    then, now = dt.date(2025, 6, 1), dt.date(2026, 2, 1)
    differences = [
        Difference(then, dt.date(2025, 7, 1), 100 * GAL, 50 * GAL, Fraction(5)),
        Difference(now, FOUND, 100 * GAL, -20 * GAL, Fraction(-2)),
    ]
    rule = ClaimRule(key="short", months_back=1)
    found = claim(differences, under=rule, over=rule, found=FOUND, since_known=True)
    assert (found.volume_l, found.amount) == (0, 0)
    assert "by hand" in found.sentence


def test_the_share_that_counts_is_told_where_the_volumes_cancel():
    """Money moves where the volume only changes the block."""
    rule = ClaimRule(key="half", share=Fraction(1, 2))
    moved = [
        Difference(dt.date(2026, 1, 1), dt.date(2026, 2, 1), 100 * GAL, 5 * GAL, Fraction(5)),
        Difference(dt.date(2026, 2, 1), FOUND, 100 * GAL, Fraction(0), Fraction(3)),
    ]
    found = claim(moved, under=rule, over=rule, found=FOUND, since_known=True)
    assert [each.counted for each in found.periods] == [Fraction(1, 2)] * 2
    assert found.amount == Decimal("4.00")
