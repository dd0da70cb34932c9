"""Words for figures: one scale, sensible digits, no false certainty."""

from __future__ import annotations

import pytest

from dialtrue.domain.words import (
    PROBABILITY_WORDS,
    counted,
    day_text,
    interval_text,
    probability_text,
    summary_sentence,
    volume_text,
)
from tests.support.watch_results import watch_result

GAL_L = 3.785411784


@pytest.mark.parametrize(("least", "word"), PROBABILITY_WORDS[:-1])
def test_each_word_begins_exactly_at_its_step(least: float, word: str) -> None:
    assert probability_text(least).startswith(f"{word},")
    assert not probability_text(least - 1e-9).startswith(f"{word},")


def test_no_probability_is_printed_as_one() -> None:
    assert probability_text(1.0) == "almost certain, over 0.99"
    assert probability_text(0.9949) == "almost certain, 0.99"


@pytest.mark.parametrize(
    ("litres", "unit", "printed"),
    [
        (12_345.6, "L", "12,346 L"),
        (12.345, "L", "12.3 L"),
        (1.2345, "L", "1.23 L"),
        (0.0123456, "L", "0.012 L"),
        (0.0, "gal", "0 gal"),
        (-100 * GAL_L, "gal", "−100 gal"),
        (0.00001, "m3", "0 m3"),
    ],
)
def test_volume_has_about_three_digits(litres: float, unit: str, printed: str) -> None:
    assert volume_text(litres, unit) == printed


def test_volume_prints_no_digit_finer_than_a_tenth_of_its_interval() -> None:
    assert volume_text(12.345, "L", half_width_l=0.5) == "12.3 L"
    assert volume_text(12.345, "L", half_width_l=30.0) == "12 L"


def test_signed_volume_shows_its_sign_except_at_zero() -> None:
    assert volume_text(5.0, "L", signed=True) == "+5.00 L"
    assert volume_text(0.0, "L", signed=True) == "0 L"


def test_interval_names_its_unit_once() -> None:
    assert interval_text(-2_000.0 * GAL_L, 100.0 * GAL_L, "gal") == "−2,000 to +100 gal"


def test_unknown_day_says_so() -> None:
    assert day_text(None) == "not known"


def test_one_thing_is_not_plural() -> None:
    assert counted(1, "port") == "1 port"
    assert counted(0, "port") == "0 ports"


def test_summary_names_visits_desk_checks_and_volume_at_stake() -> None:
    sentence = summary_sentence(watch_result().summary)
    assert sentence.startswith("6 ports, 8,640 reads, 1 Mar to 30 Apr 2025: 2 visits, 1 check,")
    assert "6,378 gal at stake" in sentence
