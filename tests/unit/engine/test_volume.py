"""The interval of the volume error: where two causes are open it covers both."""

from __future__ import annotations

import numpy as np

from dialtrue.engine.volume import VolumeError, either

NAMED = VolumeError(np.array([0.0, 0.0, 0.0]), np.array([-5.0, -5.0, -5.0]), np.array([5.0, 5.0, 5.0]))
OTHER = VolumeError(np.array([-900.0, -900.0, np.nan]), np.array([-950.0] * 3), np.array([-850.0] * 3))


def test_an_open_case_covers_the_runner_up_and_a_settled_one_does_not() -> None:
    error = either(NAMED, OTHER, np.array([True, False, True]))
    assert error.low_l.tolist() == [-900.0, -5.0, -5.0]
    assert error.high_l.tolist() == [5.0, 5.0, 5.0]
    assert error.middle_l.tolist() == [0.0, 0.0, 0.0]
