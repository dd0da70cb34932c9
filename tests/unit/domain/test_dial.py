"""The dial reads what is on its face and refuses the rest, naming the slip."""

from __future__ import annotations

from fractions import Fraction

import pytest

from dialtrue.domain.dial import Dial
from dialtrue.domain.errors import BadDialShape, DialCharacter, DialPositions, PaintedZero, UnknownUnit

FACE = Dial.of(moving_digits=6, fixed_zeros=1, unit="gal")


def test_the_painted_zero_makes_the_least_wheel_worth_ten() -> None:
    assert FACE.resolution == 10
    assert FACE.capacity == 10_000_000
    assert FACE.capacity_l == Fraction("37854117.84")


def test_a_dial_of_tenths_takes_its_value_from_the_survey() -> None:
    tenths = Dial.of(moving_digits=7, unit="m3", resolution="0.1")
    assert tenths.read("0004026") == Fraction("402.6")
    assert tenths.show(Fraction("402.69")) == "0004026"


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("042137", "painted zero seems to be left out."),
        ("421370", "or as many zeros in front"),
        ("42137", "and zeros in front too"),
        ("04213700", "painted zero too many"),
        ("00421375", "Zeros in front too many"),
        ("4213705", None),
        ("42137055", "sweep hand"),
        ("", "Nothing was written"),
    ],
)
def test_a_wrong_number_of_positions_names_the_likely_slip(text: str, hint: str | None) -> None:
    if hint is None:
        with pytest.raises(PaintedZero):
            FACE.read(text)
        return
    with pytest.raises(DialPositions) as caught:
        FACE.read(text)
    assert hint in str(caught.value)
    assert "the dial has 7 (6 moving digits, 1 painted zero)" in str(caught.value)


@pytest.mark.parametrize(
    ("text", "character", "position"), [("42,1370", ",", 3), ("04213７0", "７", 6), ("0421.70", ".", 5)]
)
def test_the_character_that_is_no_digit_is_named(text: str, character: str, position: int) -> None:
    with pytest.raises(DialCharacter) as caught:
        FACE.read(text)
    assert caught.value.facts["character"] == character
    assert caught.value.facts["position"] == position


def test_another_digit_in_a_painted_place_is_refused() -> None:
    with pytest.raises(PaintedZero) as caught:
        FACE.read("0421375")
    assert caught.value.facts["position"] == 7


def test_running_back_through_zero_shows_nines() -> None:
    assert FACE.show(-1) == "9999990"


def test_shapes_that_no_register_has_are_refused() -> None:
    with pytest.raises(BadDialShape):
        Dial.of(moving_digits=0, unit="gal")
    with pytest.raises(BadDialShape):
        Dial.of(moving_digits=4, fixed_zeros=-1, unit="gal")
    with pytest.raises(BadDialShape):
        Dial.of(moving_digits=4, unit="gal", resolution="0")
    with pytest.raises(UnknownUnit):
        Dial.of(moving_digits=4, unit="CF")
