"""An entry that cannot follow the last reading is blocked; exactly one slip that explains it is proposed."""

from __future__ import annotations

import pytest

from dialtrue.domain.dial import Dial
from dialtrue.domain.entry_check import (
    SLIP_WORDS,
    EntryVerdict,
    check_dial_entry,
    offset_shapes,
    start_slip_shape,
)
from dialtrue.domain.errors import BadFlowBound, DialCharacter

FACE = Dial.of(moving_digits=6, fixed_zeros=1, unit="gal")


def entry(text: str, *, last: int = 418_900, most: int = 28_800, dial: Dial = FACE) -> EntryVerdict:
    return check_dial_entry(dial=dial, text=text, last_read=last, days=17, use_per_day=150, most_per_day=most)


def test_a_whole_reading_that_can_follow_is_accepted() -> None:
    verdict = entry("0421370")
    assert (verdict.outcome, verdict.volume, verdict.since_last) == ("accepted", 421_370, 2_470)


def test_a_true_rollover_is_accepted() -> None:
    verdict = entry("0001200", last=9_999_000)
    assert (verdict.outcome, verdict.since_last) == ("accepted", 2_200)


@pytest.mark.parametrize(
    ("text", "slip"),
    [
        ("42137", "painted_zero_dropped"),
        ("042137", "painted_zero_dropped"),
        ("421370", "zeros_in_front"),
        ("04213700", "painted_zero_added"),
        ("4213705", "painted_zero_added"),
        ("0412370", "transposition"),
    ],
)
def test_one_slip_that_explains_the_text_is_proposed(text: str, slip: str) -> None:
    verdict = entry(text)
    assert verdict.outcome == "proposed"
    assert verdict.volume is None
    assert [(proposal.text, proposal.slip) for proposal in verdict.proposals] == [("0421370", slip)]


def test_where_two_powers_fit_nothing_is_proposed_and_both_are_listed() -> None:
    # A wide window and a low last reading: ten times and a hundred times both fit.
    verdict = entry("4213", last=30_000, most=10**5)
    assert verdict.outcome == "ask"
    assert {proposal.volume for proposal in verdict.proposals} == {42_130, 421_300}


@pytest.mark.parametrize("text", ["9999", "", "0000000", "1" * 40])
def test_where_nothing_fits_the_dial_is_read_again(text: str) -> None:
    verdict = entry(text, most=200)
    assert verdict.outcome == "ask"
    assert verdict.proposals == ()
    assert "read the dial again" in verdict.reason


def test_tenths_typed_on_a_dial_that_shows_none_are_taken_off() -> None:
    plain = Dial.of(moving_digits=6, unit="m3")
    verdict = check_dial_entry(dial=plain, text="0004026", last_read=400, days=10, use_per_day=None, most_per_day=1)
    assert [(p.volume, p.slip) for p in verdict.proposals] == [(402, "decimals_included")]


def test_senseless_times_and_signs_are_refused() -> None:
    with pytest.raises(DialCharacter):
        entry("42,137")
    with pytest.raises(BadFlowBound):
        check_dial_entry(dial=FACE, text="1", last_read=0, days=0, use_per_day=None, most_per_day=1)
    with pytest.raises(BadFlowBound):
        check_dial_entry(dial=FACE, text="1", last_read=0, days=1, use_per_day=None, most_per_day=0)


@pytest.mark.parametrize(
    ("keyed", "shapes"),
    [
        ("0421370", []),
        ("421370", []),
        ("0", ["zero_start"]),
        ("42137", ["painted_zero_dropped"]),
        ("4213700", ["painted_zero_added"]),
        ("0412370", ["transposition"]),
        ("0124370", ["two_digits_exchanged"]),
        ("0421870", ["digit_slipped"]),
        ("42170", ["digit_dropped"]),
        ("4213705", ["decimals_included", "digit_added"]),
        ("4218370", ["digit_added"]),
        ("9", []),
        ("1" * 5000, []),
    ],
)
def test_the_shape_of_a_wrong_start_is_named(keyed: str, shapes: list[str]) -> None:
    assert start_slip_shape("0421370", keyed) == shapes
    assert set(shapes) <= set(SLIP_WORDS)


def test_every_adjacent_exchange_is_a_multiple_of_nine_and_seen_as_one() -> None:
    right = "073815"
    for place in range(5):
        keyed = right[:place] + right[place + 1] + right[place] + right[place + 2 :]
        offset = int(keyed) - int(right)
        assert offset % 9 == 0
        assert "transposition" in offset_shapes(offset)
        assert "transposition" in start_slip_shape(right, keyed)


@pytest.mark.parametrize(
    ("offset", "shapes"),
    [
        (0, []),
        (-36, ["transposition"]),
        (9000, ["transposition", "digit_slipped"]),
        (-400, ["digit_slipped"]),
        (1234, []),
    ],
)
def test_an_offset_alone_is_named_where_it_can_be(offset: int, shapes: list[str]) -> None:
    assert offset_shapes(offset) == shapes
