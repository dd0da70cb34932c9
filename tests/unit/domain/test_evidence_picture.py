"""The picture of evidence: rows of equal length, and a table that says what the drawing shows."""

from __future__ import annotations

import datetime as dt

import pytest

from dialtrue.domain.evidence_picture import EvidencePicture, Series, moments, picture_rows


def test_series_of_unequal_length_is_refused() -> None:
    with pytest.raises(ValueError, match="2 places, 1 values"):
        Series(name="dial", unit="gal", x=(1.0, 2.0), y=(1.0,))
    with pytest.raises(ValueError, match="lows"):
        Series(name="dial", unit="gal", x=(1.0,), y=(1.0,), low=(0.5,))


def test_table_puts_series_of_different_places_side_by_side_in_order_of_time() -> None:
    early, late = moments([0, 3_600_000_000])
    picture = EvidencePicture(
        title="Dial and index", kind="line", caption="Parted.",
        series=(
            Series(name="index", unit="gal", x=(early, late), y=(1.0, 2.0)),
            Series(name="dial", unit="gal", x=(late, early), y=(3.0, None), kind="points"),
        ),
    )  # fmt: skip
    heading, rows = picture_rows(picture)
    assert heading == ("time (UTC)", "index [gal]", "dial [gal]")
    assert rows == [(early, 1.0, ""), (late, 2.0, 3.0)]


def test_words_keep_the_order_they_were_given() -> None:
    names = Series(name="says", unit="bits", x=("rain", "dial"), y=(-1.0, 2.0))
    assert [row[0] for row in picture_rows(EvidencePicture("Bits", "bars", (names,), "Dial decides."))[1]] == [
        "rain",
        "dial",
    ]


def test_moments_are_aware_and_exact() -> None:
    assert moments([1_700_000_000_123_456])[0] == dt.datetime(2023, 11, 14, 22, 13, 20, 123456, tzinfo=dt.UTC)
