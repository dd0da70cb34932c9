"""Volumes on their way to a bill are never rounded."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dialtrue.domain.handover.exact import ESPI_UNIT, decimal_of, volume_unit, whole_steps
from dialtrue.domain.handover.port import hidden_key
from dialtrue.domain.quantity import UNITS, convert


@pytest.mark.parametrize(
    ("index", "dial", "written"),
    [("L", "m3", "m3"), ("gal", "kgal", "kgal"), ("ccf", "ft3", "ft3"), ("gal", "ft3", "gal"), ("m3", "gal", "m3"),
     ("gal", "m3", "m3")],
)  # fmt: skip
def test_the_dials_unit_is_taken_where_it_is_exact(index: str, dial: str, written: str) -> None:
    assert volume_unit(index, dial) == written


@pytest.mark.parametrize("unit", UNITS)
def test_every_unit_is_a_decimal_of_cubic_metres_and_has_an_espi_code(unit: str) -> None:
    exact = convert(1, unit, "m3")
    assert Fraction(decimal_of(exact)) == exact
    whole, power = whole_steps(convert(1, unit, ESPI_UNIT[unit][1]))
    assert whole * Fraction(10) ** power == convert(1, unit, ESPI_UNIT[unit][1])


@given(st.integers(1, 10**12), st.integers(-9, 9))
def test_whole_steps_give_the_step_back(whole: int, power: int) -> None:
    step = whole * Fraction(10) ** power
    mantissa, exponent = whole_steps(step)
    assert mantissa * Fraction(10) ** exponent == step
    assert exponent % 3 == 0


def test_what_no_decimal_is_exactly_is_refused() -> None:
    with pytest.raises(ArithmeticError):
        decimal_of(Fraction(1, 3))
    with pytest.raises(ArithmeticError):
        whole_steps(Fraction(576, 77))


def test_a_gallon_is_its_legal_decimal() -> None:
    assert decimal_of(convert(1, "gal", "m3")) == Decimal("0.003785411784")


def test_hidden_keys_tell_parts_apart_and_follow_the_salt() -> None:
    assert hidden_key("s", "ab", "c") != hidden_key("s", "a", "bc")
    assert hidden_key("s", "a") == hidden_key("s", "a") != hidden_key("t", "a")
    assert len(hidden_key("s", "a")) == 16
