"""The index of a dial: what it holds, what it keeps, and what is said where it cannot."""

from __future__ import annotations

from fractions import Fraction

import pytest

from dialtrue.domain.dial import Dial
from dialtrue.domain.planning.index_choice import IndexChoice, choose_index
from dialtrue.domain.planning.start_rule import start_rule
from dialtrue.domain.quantity import UNITS, exact_decimal, litres_per

STEPS = tuple(Fraction(10) ** power for power in range(-3, 4))


def chosen(
    dial: Dial, weight: str, *, digits: tuple[int, ...] = (6, 7, 8, 9), steps: tuple[Fraction, ...] = STEPS,
    billing: str = "1000", least: str = "0",
) -> IndexChoice:  # fmt: skip
    unit_l = litres_per(dial.unit)
    choice = choose_index(
        dial,
        exact_decimal(weight) * unit_l,
        digits=digits,
        units=UNITS,
        resolutions=steps,
        billing_l=exact_decimal(billing) * unit_l,
        least_capacity_l=exact_decimal(least) * unit_l,
    )
    assert choice is not None
    return choice


@pytest.mark.parametrize(
    ("moving", "painted", "resolution", "weight", "digits", "step"),
    [
        (6, 0, None, "10", 6, "1"),  # every moving digit has its place though a pulse is ten of them
        (6, 1, None, "10", 6, "10"),  # six wheels and a painted nought: the nought needs no digit
        (6, 1, None, "1", 7, "1"),  # a pulse finer than the least wheel keeps its own count
        (6, 2, None, "100", 6, "100"),
        (8, 0, "0.001", "0.1", 8, "0.001"),
        (6, 0, None, "2.5", 7, "0.1"),  # a pulse of 2.5 is a whole number of tenths
    ],
)
def test_the_digits_stand_under_those_of_the_dial(
    moving: int, painted: int, resolution: str | None, weight: str, digits: int, step: str
) -> None:
    choice = chosen(Dial.of(moving_digits=moving, fixed_zeros=painted, unit="gal", resolution=resolution), weight)
    assert (choice.index.digits, choice.index.resolution) == (digits, exact_decimal(step))
    assert choice.note == ""


def test_a_coarser_count_is_taken_before_an_index_that_turns_over_early() -> None:
    dial = Dial.of(moving_digits=8, unit="gal")
    choice = chosen(dial, "1", digits=(6,), steps=STEPS)
    assert choice.holds_dial
    assert choice.index.resolution >= 100


def test_an_index_that_cannot_hold_the_dial_says_where_it_turns_over() -> None:
    choice = chosen(Dial.of(moving_digits=9, unit="gal"), "1", digits=(4, 6), steps=(Fraction(1),))
    assert choice.index.digits == 6
    assert "turns over at 1,000,000 gal, before the dial does" in choice.note


def test_more_digits_where_the_dial_itself_turns_over_too_soon() -> None:
    dial = Dial.of(moving_digits=6, unit="gal")
    assert chosen(dial, "10", least="1000000").index.digits == 6
    assert chosen(dial, "10", least="1000001").index.digits == 7


def test_a_billing_unit_and_a_pulse_that_are_no_whole_counts_are_said() -> None:
    choice = chosen(Dial.of(moving_digits=6, unit="gal"), "7", steps=(Fraction(10),), billing="15")
    assert "the bill rounds" in choice.note
    assert "counts come unevenly" in choice.note


def test_an_endpoint_that_does_not_count_in_the_dials_unit_has_no_index() -> None:
    dial = Dial.of(moving_digits=6, unit="ft3")
    assert choose_index(dial, Fraction(10), digits=(8,), units=("gal",), resolutions=STEPS) is None


def test_the_rule_in_words_holds_for_every_reading_and_the_example_is_worked_through() -> None:
    rule = start_rule(
        Dial.of(moving_digits=6, fixed_zeros=1, unit="gal"),
        chosen(Dial.of(moving_digits=6, fixed_zeros=1, unit="gal"), "10").index,
    )
    assert rule.words == "Press the 6 moving digits of the dial, left to right; leave out the painted zero."
    assert (rule.example_dial, rule.example.digits) == ("0421370", "042137")
    coarse = chosen(Dial.of(moving_digits=6, unit="gal"), "10", steps=(Fraction(100),))
    assert start_rule(Dial.of(moving_digits=6, unit="gal"), coarse.index).words.endswith(
        "leave out the last 2 moving digits."
    )
