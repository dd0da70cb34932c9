"""Dial and index stand in columns of the same place value."""

from __future__ import annotations

from fractions import Fraction

from dialtrue.domain.dial import Dial
from dialtrue.domain.index import Index
from dialtrue.domain.lined_up import MOST_COLUMNS, Cell, line_up

FACE = Dial.of(moving_digits=6, fixed_zeros=1, unit="gal")


def digits(cells: tuple[Cell | None, ...]) -> str:
    return "".join(" " if cell is None else cell.digit for cell in cells)


def test_a_finer_index_reaches_under_the_painted_zero_which_is_no_disagreement() -> None:
    picture = line_up(FACE, "0421370", Index.of(digits=7, unit="gal"), 421_374)
    assert picture.columns == (6, 5, 4, 3, 2, 1, 0)
    assert digits(picture.dial_cells) == "0421370"
    assert digits(picture.index_cells) == "0421374"
    assert picture.agree == (True,) * 6 + (None,)
    assert picture.dial_cells[-1] == Cell("0", "painted")
    assert picture.level
    assert picture.difference_text == "level, +4 gal within one digit"


def test_a_coarser_index_leaves_the_low_columns_empty() -> None:
    picture = line_up(FACE, "0421370", Index.of(digits=4, unit="kgal"), 421)
    assert digits(picture.index_cells) == "0421   "
    assert picture.level


def test_metric_places_line_up_across_the_decimal_point() -> None:
    picture = line_up(
        Dial.of(moving_digits=7, unit="m3", resolution="0.01"), "0040260", Index.of(digits=9, unit="L"), 402_600
    )
    assert picture.columns[0] == 5
    assert picture.columns[-1] == -3
    assert picture.point_after == 5
    assert set(picture.agree) == {True, None}
    assert picture.difference == 0


def test_an_index_in_another_unit_is_converted_with_a_note() -> None:
    picture = line_up(FACE, "0421370", Index.of(digits=6, unit="ft3"), 56_328)
    assert digits(picture.index_cells) == "0421362"
    assert {cell.kind for cell in picture.index_cells if cell} == {"converted"}
    assert "56,328 ft3 is 421,362.701 gal" in picture.notes[0]
    assert picture.level


def test_a_raw_pulse_index_lines_up_by_conversion() -> None:
    index = Index.of(digits=8, unit="gal", resolution="0.041619")
    picture = line_up(Dial.of(moving_digits=6, unit="gal"), "000451", index, 10_849)
    assert picture.difference == Fraction("451.524531") - 451
    assert picture.level
    assert digits(picture.index_cells) == "0000451"  # 10^8 counts reach 4,161,900 gal


def test_a_difference_stands_with_sign_and_unit_and_in_words() -> None:
    picture = line_up(Dial.of(moving_digits=6, unit="gal"), "004310", Index.of(digits=7, unit="gal"), 1_002_150)
    assert picture.difference == -2_160
    assert not picture.level
    assert picture.difference_text == "index −2,160 gal against the dial"
    assert picture.sentence.endswith("the index is 2,160 gal below the dial.")


def test_level_ends_exactly_at_one_digit_of_each_and_one_pulse() -> None:
    dial, index = Dial.of(moving_digits=5, unit="gal"), Index.of(digits=5, unit="gal")
    assert line_up(dial, "00100", index, 101).level
    assert not line_up(dial, "00100", index, 102).level
    assert line_up(dial, "00100", index, 111, pulse_weight=10, weight_unit="gal").level
    assert not line_up(dial, "00100", index, 112, pulse_weight=10, weight_unit="gal").level


def test_places_beyond_the_page_are_left_off_with_a_note() -> None:
    picture = line_up(Dial.of(moving_digits=12, unit="acre_ft"), "0" * 12, Index.of(digits=20, unit="L"), 5)
    assert len(picture.columns) <= MOST_COLUMNS
    wide = line_up(
        Dial.of(moving_digits=12, unit="m3"), "0" * 12, Index.of(digits=20, unit="L", resolution="0.0000000001"), 5
    )
    assert len(wide.columns) == MOST_COLUMNS
    assert "left off" in wide.notes[0]
