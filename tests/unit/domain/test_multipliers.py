"""Ratios have names; the chain from pulse to bill is written out and names what is off."""

from __future__ import annotations

from fractions import Fraction

import pytest

from dialtrue.domain.dial import Dial
from dialtrue.domain.errors import BadPulseWeight
from dialtrue.domain.faults import CATALOGUE
from dialtrue.domain.index import Index
from dialtrue.domain.multipliers import NAMED_RATIOS, Chain, multiplier_chain, name_ratio


@pytest.mark.parametrize(
    ("ratio", "code", "words"),
    [
        (0.01, "weight_decade", "a hundredth"),
        (10.0, "weight_decade", "ten times"),
        (2.0, "double_count", "counted twice"),
        (0.5, "not_listed", "every second pulse"),
        (0.1337, "unit_slip", "cubic feet counted as US gallons"),
        (7.4805, "unit_slip", "US gallons counted as cubic feet"),
        (3.7854, "unit_slip", "litres counted as US gallons"),
        (0.2642, "unit_slip", "US gallons counted as litres"),
        (1.2009, "unit_slip", "US gallons counted as imperial gallons"),
        (0.8327, "unit_slip", "imperial gallons counted as US gallons"),
        (4.5461, "unit_slip", "litres counted as imperial gallons"),
        (0.2200, "unit_slip", "imperial gallons counted as litres"),
        (28.317, "unit_slip", "litres counted as cubic feet"),
        (0.03531, "unit_slip", "cubic feet counted as litres"),
        (35.315, "unit_slip", "cubic feet counted as cubic metres"),
        (264.17, "unit_slip", "US gallons counted as cubic metres"),
        (0.748, "unit_slip", "US gallons counted as cubic feet, and a decade too little"),
        (1.337, "unit_slip", "cubic feet counted as US gallons, and a decade too much"),
    ],
)
def test_each_ratio_of_the_trade_table_has_its_name(ratio: float, code: str, words: str) -> None:
    named = name_ratio(ratio, tolerance=0.0005)
    assert len(named) == 1
    assert named[0].code == code
    assert words in named[0].words


@pytest.mark.parametrize("ratio", [1.0, 0.9, 1.05, 1.7, float("nan"), float("inf"), -1.0, 0.0])
def test_a_ratio_that_no_setting_gives_has_no_name(ratio: float) -> None:
    assert name_ratio(ratio, tolerance=0.005) == []


def test_single_slips_come_before_pairs_of_slips() -> None:
    named = name_ratio(0.2, tolerance=0.12)
    assert [item.factors for item in named] == sorted(item.factors for item in named)
    assert named[0].words == "imperial gallons counted as litres"


def test_every_code_is_a_fault_code_and_no_ratio_is_one() -> None:
    assert {item.code for item in NAMED_RATIOS} <= set(CATALOGUE)
    assert all(item.ratio != 1 for item in NAMED_RATIOS)


def chain(*, weight_set: str = "10", weight_unit: str = "gal", index: Index | None = None) -> Chain:
    return multiplier_chain(
        pulse_weight=10,
        pulse_unit="gal",
        weight_set=Fraction(weight_set),
        weight_unit=weight_unit,
        index=index or Index.of(digits=8, unit="gal"),
        dial=Dial.of(moving_digits=6, fixed_zeros=1, unit="gal"),
        billing_unit="kgal",
    )


def test_a_sound_chain_says_true_and_writes_each_factor() -> None:
    sound = chain()
    assert sound.ratio == 1
    assert sound.named == ()
    assert sound.lines == (
        "setting: 1 pulse adds 10 gal, as set",
        "count: 1 gal moves the index by 1",
        "index: 1 count is 1 gal",
        "bill: 1 gal is 0.001 kgal billed",
        "Each pulse is 10 gal of water and is counted as 10 gal: true.",
    )


def test_a_weight_set_a_tenth_is_named_as_a_decade() -> None:
    assert [item.code for item in chain(weight_set="1").named] == ["weight_decade"]


def test_a_weight_in_another_unit_of_the_same_volume_is_true() -> None:
    assert chain(weight_set="0.01", weight_unit="kgal").ratio == 1


def test_a_slip_without_a_name_is_said_with_its_ratio() -> None:
    off = chain(weight_set="7")
    assert off.named == ()
    assert "ratio 0.7, no power of ten and no unit ratio" in off.sentence


def test_a_short_or_coarse_index_is_noted() -> None:
    notes = " ".join(chain(index=Index.of(digits=4, unit="gal", resolution=100)).notes)
    assert "comes round 10 times" in notes
    assert "takes 10 pulses to move the index" in notes
    assert "cubic feet" in " ".join(chain(index=Index.of(digits=7, unit="ft3")).notes)


def test_a_weight_of_zero_is_refused() -> None:
    with pytest.raises(BadPulseWeight):
        chain(weight_set="0")
