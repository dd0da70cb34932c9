"""Code 128 against published check symbols, and against an independent writer and reader."""

from __future__ import annotations

import tomllib
from itertools import groupby
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st

from dialtrue.domain.code128 import QUIET_MODULES, check_symbol, code128

CASES = tomllib.loads((Path(__file__).parent / "cases" / "iso-15417.toml").read_text(encoding="utf-8"))
SERIALS = st.text(st.characters(min_codepoint=32, max_codepoint=126), min_size=1, max_size=30)


@pytest.mark.parametrize("case", CASES["check"], ids=lambda case: case["says"])
def test_check_symbol_is_the_published_one(case: dict[str, str]) -> None:
    symbol = code128(case["text"], code_set=case["set"])
    assert symbol is not None
    assert symbol.check_symbol == case["expect"]


@pytest.mark.parametrize("case", CASES["values"], ids=lambda case: case["says"])
def test_check_symbol_of_mixed_sets_is_the_published_one(case: dict[str, object]) -> None:
    assert check_symbol(tuple(case["values"])) == case["expect"]  # type: ignore[arg-type]


def _pixels(bars: tuple[int, ...], *, module: int = 2, high: int = 30) -> np.ndarray:
    """Return the bars as a picture with quiet zones."""
    row = [255] * (QUIET_MODULES * module)
    for nth, width in enumerate(bars):
        row += [255 if nth % 2 else 0] * (width * module)
    return np.array([row + [255] * (QUIET_MODULES * module)] * high, dtype=np.uint8)


@settings(max_examples=150, deadline=None)
@given(SERIALS)
def test_every_plain_serial_is_read_back_by_an_independent_reader(text: str) -> None:
    symbol = code128(text)
    assert symbol is not None
    read = zxingcpp.read_barcode(_pixels(symbol.bars), formats=zxingcpp.BarcodeFormat.Code128)
    assert read is not None
    assert read.text == text


@settings(max_examples=150, deadline=None)
@given(SERIALS)
def test_bars_are_no_longer_than_an_independent_writer_makes_them(text: str) -> None:
    symbol = code128(text)
    assert symbol is not None
    written = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.Code128)
    row = np.array(written.to_image(scale=1, add_quiet_zones=False))[0]
    assert symbol.modules <= len(row)


@pytest.mark.parametrize("text", ["abcdef", "ABC-12 x", "A"])
def test_bars_of_one_set_are_those_of_an_independent_writer(text: str) -> None:
    symbol = code128(text, code_set="B")
    assert symbol is not None
    written = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.Code128)
    row = np.array(written.to_image(scale=1, add_quiet_zones=False))[0]
    assert symbol.bars == tuple(len(list(run)) for _, run in groupby(row > 127))
