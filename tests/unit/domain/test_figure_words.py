"""Figures of evidence in words."""

from __future__ import annotations

import pytest

from dialtrue.domain.errors import UnknownUnit
from dialtrue.domain.figure_words import figure_words, number_text


@pytest.mark.parametrize(
    ("name", "value", "unit", "said"),
    [
        ("dial_moved_l", 3785.411784, "gal", "dial moved 1,000 gal"),
        ("use_before_l_day", 28.316846592, "ft3", "use before 1 ft3/day"),
        ("least_hour_l", 2, "L", "least hour 2 L"),
        ("of_days", 52, "L", "of 52 days"),
        ("clock_shift_h", -6.0, "gal", "clock shift \N{MINUS SIGN}6 h"),
        ("gain_nat", 2.0, "gal", "gain 2 nat"),
        ("steps", 1145, "gal", "steps 1,145"),
        ("counted_by_endpoint", "0042", "gal", "counted by endpoint 0042"),
        ("turns_at_l", None, "gal", "turns at not known"),
        ("use_before_l_day", float("nan"), "gal", "use before not known"),
    ],
)
def test_each_figure_carries_its_unit(name: str, value: str | float | None, unit: str, said: str) -> None:
    assert figure_words(name, value, unit) == said


def test_a_unit_that_nobody_knows_is_refused() -> None:
    with pytest.raises(UnknownUnit):
        figure_words("dial_moved_l", 1.0, "furlong")


@pytest.mark.parametrize(
    ("value", "digits", "said"),
    [
        (1_001_320.13, 6, "1,001,320"),
        (2_500_000, 3, "2,500,000"),
        (0.000123456, 3, "0.000123"),
        (9.996, 3, "10"),
        (-1234.56, 4, "\N{MINUS SIGN}1,235"),
        (5, 4, "5"),
        (1e-30, 4, "0"),
        (-1e-30, 4, "0"),
    ],
)
def test_a_number_is_never_a_power_of_ten(value: float, digits: int, said: str) -> None:
    assert number_text(value, digits=digits) == said
