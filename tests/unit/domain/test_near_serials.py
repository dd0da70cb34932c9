"""Serials that a mistyped one may stand for."""

from __future__ import annotations

import pytest

from dialtrue.domain.near_serials import near_serials, one_edit_apart


@pytest.mark.parametrize(
    ("one", "other", "near"),
    [
        ("W-1042", "W-1142", True),  # one key wrong
        ("W-1042", "W-104", True),  # one left out
        ("W-1042", "XW-1042", True),  # one too many, in front
        ("W-1042", "W-0142", True),  # two exchanged
        ("W-1042", "W-1024", True),  # two exchanged at the end
        ("W-1042", "W-2041", False),
        ("W-1042", "W-10", False),
        ("W-1042", "W-1420", False),
        ("", "W", True),
    ],
)
def test_one_edit_is_one_key_or_one_exchange_either_way_round(one: str, other: str, near: bool) -> None:
    assert one_edit_apart(one, other) is near
    assert one_edit_apart(other, one) is near


def test_lost_zeros_and_case_come_before_a_wrong_key() -> None:
    known = ["00123", "0124", "W-123", "999", "00123"]
    assert near_serials("123", known) == ("00123", "0124", "W-123")
    assert near_serials("w 123", known)[0] == "W-123"


def test_at_most_five_are_offered_and_none_for_a_stranger() -> None:
    assert len(near_serials("100", [str(number) for number in range(101, 200)])) == 5
    assert near_serials("100", ["W-77", "987654"]) == ()
