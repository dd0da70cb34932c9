"""Worked stories of invented sites: the part of them that is register arithmetic, each figure asserted."""

from __future__ import annotations

from fractions import Fraction
from math import comb

from dialtrue.domain.dial import Dial
from dialtrue.domain.difference import common_modulus, hours_to_roll_over, register_difference, register_error
from dialtrue.domain.entry_check import check_dial_entry, start_slip_shape
from dialtrue.domain.index import Index
from dialtrue.domain.lined_up import line_up
from dialtrue.domain.multipliers import name_ratio
from dialtrue.domain.start_index import start_index_for

MOST_GAL_PER_DAY = 20 * 60 * 24  # a 5/8 in meter at its safe maximum of 20 gal/min

# --- The painted zero: six wheels and one painted 0; the technician leaves the zero out -------------------------------

PAINTED = Dial.of(moving_digits=6, fixed_zeros=1, unit="gal")
PAINTED_INDEX = Index.of(digits=7, unit="gal")


def test_the_painted_zero_is_asked_for_at_entry() -> None:
    assert PAINTED.read("0421370") == 421_370
    assert PAINTED.capacity == 10_000_000
    verdict = check_dial_entry(
        dial=PAINTED,
        text="42137",
        last_read=418_900,
        days=17,
        use_per_day=150,
        most_per_day=MOST_GAL_PER_DAY,
    )
    assert verdict.outcome == "proposed"
    (proposal,) = verdict.proposals
    assert proposal.volume == 421_370
    assert proposal.since_last == 2_470
    assert round(proposal.per_day, 1) == Fraction("145.3")
    assert proposal.question == "Was there a painted zero?"
    for figure in ("42,137 gal is below the last reading, 418,900 gal", "421,370 gal fits", "2,470", "145.3", "150"):
        assert figure in verdict.reason


def test_the_painted_zero_had_it_passed() -> None:
    dial_then = 421_370 + 14 * 150
    assert PAINTED.show(dial_then) == "0423470"
    index_then = PAINTED_INDEX.after(PAINTED_INDEX.keyed("42137"), 14 * 15, 10, "gal")
    assert index_then == 44_237
    assert index_then - 418_900 == -374_663
    # What a system bills that takes every fall for a rollover:
    assert (index_then - 418_900) % PAINTED.capacity == 9_625_337
    # What the flow bound says of the same two figures: no rollover.
    wrong = register_difference(
        418_900, index_then, capacity=PAINTED.capacity, at_most=31 * MOST_GAL_PER_DAY, digit=1, unit="gal"
    )
    assert wrong.kind not in ("forward", "rolled_over")
    true = register_difference(
        418_900, dial_then, capacity=PAINTED.capacity, at_most=31 * MOST_GAL_PER_DAY, digit=10, unit="gal"
    )
    assert (true.kind, true.volume) == ("forward", 4_570)
    assert round(Fraction(4_570, 31), 1) == Fraction("147.4")


def test_the_painted_zero_leaves_a_constant_error_and_a_shape() -> None:
    modulus = common_modulus(PAINTED.capacity, PAINTED_INDEX.capacity)
    assert register_error(42_137, 421_370, modulus=modulus) == -379_233
    assert register_error(44_237, 423_470, modulus=modulus) == -379_233
    assert start_slip_shape("0421370", "42137") == ["painted_zero_dropped"]
    assert line_up(PAINTED, "0423470", PAINTED_INDEX, 44_237).difference == -379_233
    assert start_index_for(PAINTED, "0423470", PAINTED_INDEX).digits == "0423470"


# --- Eleven dead days and a true rollover: six-digit dial, seven-digit index, w = 10 gal ------------------------------

SIX = Dial.of(moving_digits=5, fixed_zeros=1, unit="gal")
SEVEN = Index.of(digits=7, unit="gal")


def test_dead_days_before_the_exchange_are_a_constant_error_across_the_rollover() -> None:
    assert SIX.capacity == 1_000_000
    assert SIX.show(989_060 + 15_250) == "004310"
    index_now = SEVEN.after(SEVEN.keyed("986900"), 1_525, 10, "gal")
    assert index_now == 1_002_150
    assert index_now - SIX.read("004310") == 997_840
    modulus = common_modulus(SIX.capacity, SEVEN.capacity)
    assert modulus == 1_000_000
    at_fit = register_error(986_900, 989_060, modulus=modulus)
    now = register_error(index_now, SIX.read("004310"), modulus=modulus)
    assert at_fit == now == -2_160
    assert "index −2,160 gal" in line_up(SIX, "004310", SEVEN, index_now).difference_text


def test_the_bill_across_the_rollover_splits_into_dead_days_and_since() -> None:
    whole = register_difference(
        986_900, 4_310, capacity=SIX.capacity, at_most=(11 + 42) * MOST_GAL_PER_DAY // 4, digit=10, unit="gal"
    )
    assert (whole.kind, whole.volume) == ("rolled_over", 17_410)
    dead = register_difference(986_900, 989_060, capacity=SIX.capacity, at_most=11 * MOST_GAL_PER_DAY, digit=10)
    since = register_difference(
        989_060, 4_310, capacity=SIX.capacity, at_most=42 * MOST_GAL_PER_DAY // 4, digit=10, unit="gal"
    )
    assert (dead.volume, since.volume) == (2_160, 15_250)
    assert whole.volume == 2_160 + 15_250
    assert round(Fraction(2_160, 11), 1) == Fraction("196.4")


def test_at_the_safe_maximum_alone_six_weeks_leave_more_than_one_turn_open() -> None:
    # 53 days at 20 gal/min are 1,526,400 gal, more than the dial holds: the bound must come from the use, not the size.
    verdict = register_difference(
        986_900, 4_310, capacity=SIX.capacity, at_most=53 * MOST_GAL_PER_DAY, digit=10, unit="gal"
    )
    assert (verdict.kind, verdict.turns_possible) == ("ambiguous", 1)


# --- Stale reads -----------------------------------------------------------------------------------------------------


def test_a_repeated_index_that_catches_up_loses_nothing() -> None:
    index = Index.of(digits=6, unit="gal")
    dial = Dial.of(moving_digits=6, unit="gal")
    jump = register_difference(451_200, 453_310, capacity=index.capacity, at_most=10 * MOST_GAL_PER_DAY, digit=1)
    assert (jump.kind, jump.volume) == ("forward", 2_110)
    assert jump.volume / 10 == 211
    picture = line_up(dial, "453730", index, 453_730)
    assert (picture.difference, picture.difference_text) == (0, "level")


# --- Double counts and chatter ---------------------------------------------------------------------------------------


def test_both_edges_give_exactly_two() -> None:
    pulses = Fraction(31_250, 10)
    assert pulses == 3_125
    index = Index.of(digits=8, unit="gal")
    assert index.after(0, 2 * int(pulses), 10, "gal") == 62_500
    ratio = Fraction(62_500, 31_250)
    assert ratio == 2
    assert [named.code for named in name_ratio(ratio, tolerance=0)] == ["double_count"]
    assert Fraction(62_500) / ratio == 31_250  # refund half
    # Both edges: an hour may end between the two, so an odd number of counts occurs.
    assert index.after(0, 2 * 7 + 1, 10, "gal") // 10 % 2 == 1


def test_chatter_at_low_flow_is_only_suggestive() -> None:
    excess_slow, excess_fast = 27 - 20, 21 - 20
    total = excess_slow + excess_fast
    p = Fraction(sum(comb(total, k) for k in range(excess_slow, total + 1)), 2**total)
    assert p == Fraction(9, 256)
    assert round(p, 3) == Fraction("0.035")
    assert name_ratio(Fraction(27, 20), tolerance=Fraction(5, 1000)) == []


# --- Hum -------------------------------------------------------------------------------------------------------------


def test_hum_is_not_water() -> None:
    index = Index.of(digits=6, unit="gal")
    at_60_hz, at_50_hz = (index.after(0, hertz * 3600, 1, "gal") for hertz in (60, 50))
    assert (at_60_hz, at_50_hz) == (216_000, 180_000)
    most = 20 * 60
    assert most == 1_200
    assert Fraction(at_60_hz, most) == 180
    verdict = register_difference(0, at_60_hz, capacity=index.capacity, at_most=most, digit=1, unit="gal")
    assert verdict.kind == "impossible"
    assert "at most 1,200 gal can have passed" in verdict.reason
    # The same index comes round in under five hours.
    assert hours_to_roll_over(index.capacity, at_60_hz) == Fraction(10**6, 216_000)
