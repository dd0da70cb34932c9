"""The exact chain from volume to index."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from dialtrue.domain.quantity import LITRES_PER_UNIT
from dialtrue.engine.simulation.train import dial_digits_at, floor_scaled, index_unwrapped, passes, pulses_at


def test_large_counts_are_scaled_exactly_where_64_bits_would_overflow() -> None:
    ratio = LITRES_PER_UNIT["gal"] / LITRES_PER_UNIT["acre_ft"] * 10**6
    counts = np.array([10**12 + 7, 3, -5], dtype=np.int64)
    assert floor_scaled(counts, ratio, Fraction(1, 3)).tolist() == [
        (int(count) * ratio + Fraction(1, 3)) // 1 for count in counts
    ]


def test_negative_counts_round_down_as_the_definition_says() -> None:
    assert floor_scaled(np.array([-1, -7]), Fraction(1, 10)).tolist() == [-1, -1]


def test_no_count_times_a_ratio_beyond_64_bits_is_no_count() -> None:
    assert floor_scaled(np.array([0]), Fraction(2**63)).tolist() == [0]


def test_a_result_beyond_64_bits_is_refused_not_wrapped() -> None:
    with pytest.raises(OverflowError):
        floor_scaled(np.array([2**62]), Fraction(10**6))


def test_a_tenth_of_a_gallon_a_pulse_counts_exactly() -> None:
    weight = LITRES_PER_UNIT["gal"] / 10
    just_under, at = 3_785_411_783, 3_785_411_784  # 1000 gal is 3 785.411 784 L
    assert pulses_at(np.array([just_under, at]), phase_ul=0, weight_l=weight).tolist() == [9999, 10_000]


def test_water_that_rocks_over_the_contact_is_counted_both_ways() -> None:
    path_ul = np.array([0, 1_500_000, 500_000, 1_500_000])
    assert passes(path_ul, phase_ul=0, weight_l=Fraction(1)).tolist() == [0, 1, 2, 3]


def test_water_that_rocks_between_two_contacts_is_not_counted() -> None:
    path_ul = np.array([0, 900_000, 100_000, 900_000])
    assert passes(path_ul, phase_ul=0, weight_l=Fraction(1)).tolist() == [0, 0, 0, 0]


def test_a_dial_turned_below_zero_shows_nines() -> None:
    assert dial_digits_at(-1, resolution_l=Fraction(1), digits=6) == 999_999


def test_cubic_feet_counted_as_gallons_fall_to_the_published_share() -> None:
    # One pulse of 1 ft3 set as 1 gal, index in gallons: 77/576 of the truth, 0.1337.
    index = index_unwrapped(
        np.array([5760]), start=0, weight_l=LITRES_PER_UNIT["gal"], resolution_l=LITRES_PER_UNIT["ft3"]
    )
    assert index.tolist() == [770]
