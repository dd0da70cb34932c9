"""Codes as drawings: bars where they can be read, a QR code where not, and never a lie about it."""

from __future__ import annotations

import pytest

from dialtrue.files.job_sheets.codes import NARROW_MODULE_MM, bar_code, qr_code


def test_bars_are_wide_where_there_is_room() -> None:
    picture = bar_code("00417733", most_mm=84.0)
    assert picture.kind == "bar"
    assert picture.width_mm == pytest.approx(99 * 0.38)  # start, four pairs, check: 66; stop 13; quiet zones 20


def test_bars_shrink_to_their_room_but_not_below_what_can_be_read() -> None:
    room = 99 * NARROW_MODULE_MM
    assert bar_code("00417733", most_mm=room + 0.01).kind == "bar"
    narrow = bar_code("00417733", most_mm=room - 0.01)
    assert narrow.kind == "qr"
    assert "too long for bars" in narrow.note


@pytest.mark.parametrize("text", ["№ 12", "بئر", "é"])
def test_texts_beyond_plain_ascii_get_a_qr_code_and_say_so(text: str) -> None:
    picture = bar_code(text, most_mm=84.0)
    assert (picture.kind, picture.text) == ("qr", text)
    assert "QR code instead" in picture.note


@pytest.mark.parametrize("text", ["x" * 400, "x" * 5000])
def test_what_no_code_can_carry_at_this_size_has_none_and_says_so(text: str) -> None:
    picture = qr_code(text, most_mm=24.0)
    assert (picture.kind, picture.svg) == ("", "")
    assert "read the print" in picture.note


def test_an_empty_serial_has_no_code() -> None:
    assert bar_code("", most_mm=84.0).kind == ""
