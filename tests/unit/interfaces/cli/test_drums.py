"""The lined-up picture as text."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from dialtrue.domain.dial import Dial
from dialtrue.domain.index import Index
from dialtrue.domain.lined_up import line_up
from dialtrue.domain.quantity import UNITS
from dialtrue.interfaces.cli.drums import WIDTH, drum_lines


def test_the_painted_zero_story_as_it_is_printed() -> None:
    face = Dial.of(moving_digits=6, fixed_zeros=1, unit="gal")
    assert drum_lines(line_up(face, "0421370", Index.of(digits=8, unit="gal"), 42_137)) == [
        "dial       0  4  2  1  3  7 [0]  gal",
        "           |  ^  ^  ^  ^  ^",
        "index   0  0  0  4  2  1  3  7   gal  index −379,233 gal against the dial",
        "Dial 0421370, 421,370 gal; index 00042137, 42,137 gal: the index is 379,233 gal below the dial.",
    ]


def test_digits_that_part_though_level_are_marked_softly() -> None:
    lines = drum_lines(line_up(Dial.of(moving_digits=4, unit="gal"), "1000", Index.of(digits=4, unit="gal"), 999))
    assert lines[1].split() == ["~", "~", "~", "~"]
    assert "^" not in lines[1]


def test_the_decimal_point_stands_in_the_same_column_of_both_rows() -> None:
    dial = Dial.of(moving_digits=7, unit="m3", resolution="0.01")
    above, _, below, *_ = drum_lines(line_up(dial, "0040260", Index.of(digits=9, unit="L"), 402_600))
    assert above.index(".") == below.index(".")


@given(
    st.integers(1, 12), st.integers(0, 6), st.sampled_from(UNITS), st.integers(1, 20), st.sampled_from(UNITS),
    st.integers(0, 10**20), st.integers(-6, 6),
)  # fmt: skip
def test_every_line_fits_the_terminal(
    moving: int, zeros: int, unit: str, digits: int, index_unit: str, count: int, decade: int
) -> None:
    dial = Dial.of(moving_digits=moving, fixed_zeros=zeros, unit=unit)
    resolution = f"1e{decade}"
    picture = line_up(dial, dial.show(count), Index.of(digits=digits, unit=index_unit, resolution=resolution), count)
    assert max(len(line) for line in drum_lines(picture)) <= WIDTH
