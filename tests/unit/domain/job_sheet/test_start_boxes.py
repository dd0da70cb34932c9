"""The start index under the dial: which digits go down, which zeros are printed, which stay out."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dialtrue.domain.dial import Dial
from dialtrue.domain.index import Index
from dialtrue.domain.job_sheet.start_boxes import StartBoxes, start_boxes
from dialtrue.domain.start_index import start_index_for

ABOVE = {"moving": "_", "painted": "0", "": " "}
BELOW = {"copied": "_", "zero": "0", "converted": "?", "": " "}


def drawn(boxes: StartBoxes) -> tuple[str, str, str]:
    """Return dial, joins and index as three lines of marks."""
    joins = "".join("|" if column.joined else "x" if column.stays_out else " " for column in boxes.columns)
    return (
        "".join(ABOVE[column.above] for column in boxes.columns),
        joins,
        "".join(BELOW[column.below] for column in boxes.columns),
    )


@pytest.mark.parametrize(
    ("dial", "index", "picture", "rule"),
    [
        (
            Dial.of(moving_digits=6, fixed_zeros=1, unit="gal"),
            Index.of(digits=8, unit="gal"),
            (" ______0", " |||||||", "0______0"),
            "Key 1 zero, then the 6 moving digits, then the painted zero: 8 digits.",
        ),
        (
            Dial.of(moving_digits=6, fixed_zeros=2, unit="gal"),
            Index.of(digits=6, unit="gal", resolution=100),
            ("______00", "||||||xx", "______  "),
            "Key the 6 moving digits: 6 digits. The 2 painted zeros stay out.",
        ),
        (
            Dial.of(moving_digits=6, fixed_zeros=2, unit="gal"),
            Index.of(digits=6, unit="gal", resolution=10),
            ("______00", "x||||||x", " _____0 "),
            "Key the last 5 moving digits, then 1 of the 2 painted zeros: 6 digits.",
        ),
        (
            Dial.of(moving_digits=7, unit="m3", resolution="0.01"),
            Index.of(digits=9, unit="L"),
            (" _______ ", " ||||||| ", "0_______0"),
            "Key 1 zero, then the 7 moving digits, then 1 more zero: 9 digits.",
        ),
        (
            Dial.of(moving_digits=6, unit="ft3"),
            Index.of(digits=4, unit="ccf"),
            ("______", "||||xx", "____  "),
            "Key the first 4 moving digits: 4 digits.",
        ),
        (
            Dial.of(moving_digits=1, unit="ft3"),
            Index.of(digits=3, unit="ft3", resolution=1000),
            ("   _", "   x", "000 "),
            "None of the dial's digits reaches the index: key 3 zeros.",
        ),
    ],
)
def test_boxes_and_rule_say_which_digits_are_keyed(
    dial: Dial, index: Index, picture: tuple[str, str, str], rule: str
) -> None:
    boxes = start_boxes(dial, index)
    assert drawn(boxes) == picture
    assert boxes.rule == rule


def test_the_point_of_a_dial_stands_behind_its_whole_units() -> None:
    boxes = start_boxes(Dial.of(moving_digits=7, unit="m3", resolution="0.01"), Index.of(digits=9, unit="L"))
    assert boxes.point_after == 5  # one zero of the index stands left of the dial


def test_units_that_share_no_digit_get_the_arithmetic() -> None:
    dial = Dial.of(moving_digits=6, fixed_zeros=1, unit="gal")
    boxes = start_boxes(dial, Index.of(digits=8, unit="m3", resolution="0.01"))
    assert boxes.converted
    assert "times 3.785411784;" in boxes.rule
    assert boxes.example_index == f"{int(42137 * Fraction('3.785411784')):08d}"


def test_a_factor_that_does_not_end_is_given_as_two_whole_numbers() -> None:
    boxes = start_boxes(Dial.of(moving_digits=6, unit="gal"), Index.of(digits=8, unit="ft3"))
    assert "times 77, divided by 576;" in boxes.rule


@pytest.mark.parametrize("example", ["", "12", "04213x0", "0421375", "0421370 1"])
def test_what_is_no_reading_of_the_dial_is_replaced_as_example(example: str) -> None:
    face = Dial.of(moving_digits=6, fixed_zeros=1, unit="gal")
    assert start_boxes(face, Index.of(digits=8, unit="gal"), example=example).example_dial == "0421370"


@given(
    st.integers(1, 9),
    st.integers(0, 3),
    st.sampled_from(["gal", "L", "m3", "ft3", "ccf", "kgal"]),
    st.integers(1, 10),
    st.sampled_from(["gal", "L", "m3", "ft3", "ccf", "kgal"]),
    st.sampled_from(["0.001", "0.01", "0.1", "1", "10", "100"]),
    st.data(),
)
def test_the_picture_keys_what_the_start_index_says(
    moving: int, painted: int, unit: str, digits: int, index_unit: str, resolution: str, data: st.DataObject
) -> None:
    dial = Dial.of(moving_digits=moving, fixed_zeros=painted, unit=unit)
    index = Index.of(digits=digits, unit=index_unit, resolution=resolution)
    reading = data.draw(st.text("0123456789", min_size=moving, max_size=moving)) + "0" * painted
    boxes = start_boxes(dial, index, example=reading)
    keyed = "".join(column.index_digit for column in boxes.columns if column.below)
    assert keyed == boxes.example_index == start_index_for(dial, reading, index).digits
    assert "".join(column.dial_digit for column in boxes.columns if column.above) == reading
    for column in boxes.columns:
        if column.below == "copied":
            assert column.dial_digit == column.index_digit
        if column.below == "zero":
            assert column.index_digit == "0"
