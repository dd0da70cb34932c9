"""Check digits by published examples and by an independent package."""

from __future__ import annotations

import random

import pytest
from stdnum import ean, luhn
from stdnum.iso7064 import mod_11_2, mod_97_10

from dialtrue.domain.survey import check_digits


@pytest.mark.parametrize(
    ("scheme", "body", "check"),
    [
        ("luhn", "7992739871", "3"),
        ("luhn", "1789372997400", "5"),
        ("gs1", "400638133393", "1"),
        ("code39", "258-416", "J"),
        ("code39", "123XYZ", "M"),
        ("code39", "A1207-D", "Q"),  # a page that counts letters from 11 gives S
        ("code39", "123LPJ23", "X"),  # a manual that adds a stray 1 gives Y
        ("mod_97_10", "794", "44"),
        ("mod_11_2", "0794", "0"),
        ("mod_11_2", "079", "X"),
    ],
)
def test_published_examples_pass_and_another_check_character_fails(scheme: str, body: str, check: str) -> None:
    assert check_digits.passes(body + check, scheme)
    wrong = "1" if check[-1] != "1" else "2"
    assert not check_digits.passes(body + check[:-1] + wrong, scheme)


def test_every_scheme_agrees_with_the_package() -> None:
    draw = random.Random(7)
    for _ in range(500):
        body = "".join(draw.choices("0123456789", k=draw.randrange(3, 16)))
        assert str(check_digits.luhn(body)) == luhn.calc_check_digit(body)
        assert str(check_digits.gs1(body)) == ean.calc_check_digit(body)
        assert check_digits.mod_11_2(body) == mod_11_2.calc_check_digit(body)
        mixed = "".join(draw.choices("0123456789ABCXYZ", k=8))
        assert check_digits.mod_97_10(mixed) == mod_97_10.calc_check_digits(mixed)


@pytest.mark.parametrize("scheme", check_digits.SCHEMES)
@pytest.mark.parametrize("serial", ["", "1", "12", "é12", "1 2_3", "\u0664\u0665", "--"])
def test_what_is_no_such_serial_fails_and_never_raises(scheme: str, serial: str) -> None:
    assert not check_digits.passes(serial, scheme) or serial in ("--", "12")


def test_every_single_wrong_digit_is_found_by_each_scheme_of_digits() -> None:
    for scheme, serial in (("luhn", "79927398713"), ("gs1", "4006381333931"), ("mod_11_2", "07940")):
        for place in range(len(serial)):
            for digit in "0123456789":
                if digit != serial[place]:
                    assert not check_digits.passes(serial[:place] + digit + serial[place + 1 :], scheme)
