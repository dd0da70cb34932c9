"""What to press is said in digits, in order, with the painted zeros kept or left out."""

from __future__ import annotations

import pytest

from dialtrue.domain.dial import Dial
from dialtrue.domain.index import Index
from dialtrue.domain.start_index import start_index_for

FACE = Dial.of(moving_digits=6, fixed_zeros=1, unit="gal")
READING = "0421370"


@pytest.mark.parametrize(
    ("digits", "unit", "resolution", "pressed", "says"),
    [
        (7, "gal", "1", "0421370", "the 6 moving digits of the dial, left to right; then 1 painted zero."),
        (8, "gal", "1", "00421370", "1 zero first, then the 6 moving digits"),
        (6, "gal", "10", "042137", "leave out the painted zero"),
        (4, "gal", "10", "2137", "the first 2 moving digits (04) will not go in"),
        (5, "gal", "100", "04213", "leave out the last moving digit (7)"),
        (9, "gal", "0.1", "004213700", "then 1 more zero that the dial does not have"),
        (5, "kgal", "1", "00421", "leave out the last 2 moving digits (37)"),
        (6, "ft3", "1", "056328", "421,370 gal is 56,328.976 ft3"),
        (3, "gal", "1", "370", "the last 2 moving digits of the dial, left to right; then 1 painted zero"),
    ],
)
def test_digits_to_press(digits: int, unit: str, resolution: str, pressed: str, says: str) -> None:
    start = start_index_for(FACE, READING, Index.of(digits=digits, unit=unit, resolution=resolution))
    assert start.digits == pressed
    assert says in start.sentence


def test_two_of_three_painted_zeros_are_left_out_by_number() -> None:
    dial = Dial.of(moving_digits=4, fixed_zeros=3, unit="gal")
    start = start_index_for(dial, "0042000", Index.of(digits=5, unit="gal", resolution=100))
    assert start.digits == "00420"
    assert start.sentence.endswith("then 1 painted zero; leave out 2 of the 3 painted zeros.")


def test_what_the_index_cannot_show_is_kept_exactly() -> None:
    start = start_index_for(FACE, READING, Index.of(digits=2, unit="gal", resolution=1000))
    assert (start.digits, start.dropped_top, start.left_over) == ("21", 400_000, 370)


def test_an_index_above_every_dial_digit_is_said_so() -> None:
    start = start_index_for(FACE, READING, Index.of(digits=3, unit="gal", resolution=10**8))
    assert start.sentence == "Press 000: none of the dial's digits reaches the index."
