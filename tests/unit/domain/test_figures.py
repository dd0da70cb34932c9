"""Exact figures are written grouped, with a true minus sign, and rounded only where they must be."""

from __future__ import annotations

from fractions import Fraction

import pytest

from dialtrue.domain.figures import decimal_places, figure, power_of_ten


@pytest.mark.parametrize(
    ("value", "places", "sign", "text"),
    [
        (Fraction(421370), 3, False, "421,370"),
        (Fraction(-379233), 3, True, "−379,233"),
        (Fraction(0), 3, True, "0"),
        (Fraction(1, 3), 3, False, "0.333"),
        (Fraction(1, 8), 2, False, "0.12"),  # half to even
        (Fraction(1, 2), 0, False, "0"),
        (Fraction(3, 2), 0, False, "2"),
        (Fraction(10**40 + 1), 0, False, f"{10**40 + 1:,}"),
        (Fraction(-1, 10**6), 3, False, "0.000"),
    ],
)
def test_figures(value: Fraction, places: int, sign: bool, text: str) -> None:
    assert figure(value, places=places, sign=sign) == text


@pytest.mark.parametrize(
    ("value", "k"),
    [
        (Fraction(1), 0),
        (Fraction(1000), 3),
        (Fraction(1, 100), -2),
        (Fraction(-10), None),
        (Fraction(20), None),
        (Fraction(10, 3), None),
        (Fraction(0), None),
    ],
)
def test_powers_of_ten_are_exact(value: Fraction, k: int | None) -> None:
    assert power_of_ten(value) == k


def test_places_of_a_fraction_that_never_ends() -> None:
    assert decimal_places(Fraction(5, 6)) is None
    assert decimal_places(Fraction(3, 40)) == 3
