"""Faces and index settings of the town's meters."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from dialtrue.engine.simulation.meters import (
    METRIC_SIZE,
    SAFE_MAX_L_S,
    Face,
    compound_face,
    faces_for,
    plain,
    shifted,
    sound_setting,
)

SIZES = [(size, system) for size in METRIC_SIZE for system in ("us", "metric")]


@pytest.mark.parametrize(("size", "system"), SIZES)
def test_every_face_holds_1600_hours_at_q3(size: str, system: str) -> None:
    # OIML-R49: Q3 = Q4 / 1.25, and the dial must not pass zero within 1600 h at Q3.
    flow = SAFE_MAX_L_S[METRIC_SIZE[size] if system == "metric" else size]
    for face in faces_for(size, system):
        assert float(face.resolution_l) * 10**face.digits >= 1600 * 3600 * flow / 1.25, face


@pytest.mark.parametrize("system", ["us", "metric"])
def test_the_high_side_of_a_compound_holds_1600_hours_at_q3(system: str) -> None:
    face = compound_face("high", system)
    flow = SAFE_MAX_L_S["4in" if system == "us" else "DN100"]
    assert float(face.resolution_l) * 10**face.digits >= 1600 * 3600 * flow / 1.25


@pytest.mark.parametrize(("size", "system"), SIZES)
def test_a_sound_setting_keeps_the_pulse_weight_exactly(size: str, system: str) -> None:
    rng = np.random.default_rng(1)
    for face in faces_for(size, system):
        for _ in range(30):
            assert sound_setting(rng, face).weight_l == face.weight_l


def test_a_face_shows_leading_zeros_and_painted_zeros() -> None:
    assert Face(6, 1, "gal", "10", "10", "gal").text(4213) == "0042130"


@pytest.mark.parametrize(
    ("text", "power", "wanted"), [("0.1", 1, "1"), ("10", -3, "0.01"), ("2.5", 2, "250"), ("1", 0, "1")]
)
def test_a_decimal_is_shifted_without_rounding(text: str, power: int, wanted: str) -> None:
    assert shifted(text, power) == wanted


def test_a_negative_decimal_keeps_its_sign() -> None:
    assert plain(Fraction(-5, 4)) == "-1.25"
