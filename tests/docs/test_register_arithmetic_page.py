"""Every example on the page about register arithmetic runs and prints what stands there."""

from __future__ import annotations

import doctest
from fractions import Fraction
from pathlib import Path

from dialtrue.domain.difference import common_modulus, hours_to_roll_over
from dialtrue.domain.quantity import convert

PAGE = Path(__file__).parents[2] / "docs" / "explanation" / "register-arithmetic.md"


def test_the_examples_run() -> None:
    failed, tried = doctest.testfile(str(PAGE), module_relative=False, encoding="utf-8")
    assert tried > 15
    assert failed == 0


def test_the_figures_in_the_text_are_those_of_the_code() -> None:
    text = " ".join(PAGE.read_text(encoding="utf-8").split())
    days = Fraction(10**6, 20 * 60 * 24)
    assert f"comes round in {round(days)} days" in text
    shared = common_modulus(10**6, convert(10**5, "ft3", "gal"))
    assert f"agree only every {round(shared):,} gal" in text
    hours = hours_to_roll_over(10_000_000, 6_300)
    assert f"last {round(hours)} h" in text
