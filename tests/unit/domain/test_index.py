"""The index keeps whole pulses and sends whole counts."""

from __future__ import annotations

from fractions import Fraction

import pytest

from dialtrue.domain.errors import BadIndexShape, BadPulseWeight, StartIndexText, UnknownUnit
from dialtrue.domain.index import Index


def test_a_part_count_waits_for_the_next_pulse() -> None:
    tens = Index.of(digits=4, unit="gal", resolution=10)
    assert [tens.after(0, pulses, 4, "gal") for pulses in range(6)] == [0, 0, 0, 1, 1, 2]


def test_the_index_comes_round_and_runs_back() -> None:
    index = Index.of(digits=4, unit="gal")
    assert index.after(9_999, 1, 1, "gal") == 0
    assert index.after(0, -1, 1, "gal") == 9_999
    assert index.show(-1) == "9999"


def test_a_weight_in_another_unit_is_converted_exactly() -> None:
    index = Index.of(digits=6, unit="gal")
    # 77 cubic feet are exactly 576 gallons.
    assert index.after(0, 77, 1, "ft3") == 576
    assert index.after(0, 76, 1, "ft3") == 568


def test_a_tenth_of_a_gallon_does_not_drift_in_ten_million_pulses() -> None:
    index = Index.of(digits=9, unit="gal", resolution="0.1")
    assert index.after(0, 10**7, Fraction(1, 10), "gal") == 10**7


@pytest.mark.parametrize(("text", "count"), [("42137", 42137), ("000042137", 42137), (" 7 ", 7), ("0", 0)])
def test_a_keyed_start_is_compared_as_a_number(text: str, count: int) -> None:
    assert Index.of(digits=6, unit="gal").keyed(text) == count


@pytest.mark.parametrize("text", ["", "1234567", "42,137", "-5", "4e5", "٣"])
def test_a_start_that_the_index_cannot_hold_is_refused(text: str) -> None:
    with pytest.raises(StartIndexText):
        Index.of(digits=6, unit="gal").keyed(text)


def test_a_start_of_thousands_of_zeros_is_read_without_trouble() -> None:
    assert Index.of(digits=6, unit="gal").keyed("0" * 5000 + "12") == 12


def test_shapes_that_no_endpoint_has_are_refused() -> None:
    with pytest.raises(BadIndexShape):
        Index.of(digits=0, unit="gal")
    with pytest.raises(BadIndexShape):
        Index.of(digits=6, unit="gal", resolution="-1")
    with pytest.raises(UnknownUnit):
        Index.of(digits=6, unit="gallon")
    with pytest.raises(BadPulseWeight):
        Index.of(digits=6, unit="gal").after(0, 1, 0, "gal")
