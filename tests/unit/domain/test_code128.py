"""Code 128: what it refuses, and when it switches to pairs of digits."""

import pytest

from dialtrue.domain.code128 import code128


@pytest.mark.parametrize("text", ["", "é", "№ 12", "a\tb", "\x7f", "北"])
def test_texts_beyond_plain_ascii_have_no_bars(text: str) -> None:
    assert code128(text) is None


@pytest.mark.parametrize(("text", "code_set"), [("123", "C"), ("12a4", "C"), ("abc", "A")])
def test_a_set_that_lacks_a_character_has_no_bars(text: str, code_set: str) -> None:
    assert code128(text, code_set=code_set) is None


@pytest.mark.parametrize(
    ("text", "symbols"),
    [("12", 3), ("123", 5), ("1234", 4), ("12345", 6), ("ab1234", 7), ("ab123456cd", 11), ("ab1234cd", 10)],
)
def test_pairs_of_digits_are_used_where_they_save_symbols(text: str, symbols: int) -> None:
    symbol = code128(text)
    assert symbol is not None
    assert len(symbol.values) == symbols
    assert symbol.modules == sum(symbol.bars)
