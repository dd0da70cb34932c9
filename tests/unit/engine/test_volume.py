"""The interval of the volume error: a mixture over likely faults."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from dialtrue.engine.volume import VolumeUnder, mixed


def under(middle: float, sd: float) -> VolumeUnder:
    return VolumeUnder(np.array([middle]), np.array([sd]))


def test_one_certain_fault_gives_the_normal_interval() -> None:
    error = mixed([under(100.0, 10.0)], np.array([[1.0]]))
    assert error.low_l[0] == pytest.approx(norm.ppf(0.05, 100, 10), abs=1e-3)
    assert error.high_l[0] == pytest.approx(norm.ppf(0.95, 100, 10), abs=1e-3)


def test_a_likely_runner_up_lies_within_the_interval() -> None:
    error = mixed([under(0.0, 5.0), under(-900.0, 5.0)], np.array([[0.7, 0.3]]))
    assert error.middle_l[0] == 0.0
    # The lower twentieth of the mixture lies inside the runner-up: a sixth of its own probability.
    assert error.low_l[0] == pytest.approx(norm.ppf(0.05 / 0.3, -900, 5), abs=0.01)


def test_an_unlikely_runner_up_does_not_widen_it() -> None:
    error = mixed([under(0.0, 5.0), under(-900.0, 5.0)], np.array([[0.99, 0.01]]))
    assert error.low_l[0] > -12


def test_a_runner_up_without_a_figure_is_passed_over() -> None:
    error = mixed([under(0.0, 5.0), under(float("nan"), float("nan"))], np.array([[0.6, 0.4]]))
    assert error.high_l[0] == pytest.approx(norm.ppf(0.95, 0, 5), abs=1e-3)


def test_a_named_fault_without_a_figure_has_no_interval() -> None:
    error = mixed([under(float("nan"), float("nan")), under(0.0, 5.0)], np.array([[0.6, 0.4]]))
    assert np.isnan([error.low_l[0], error.high_l[0]]).all()
