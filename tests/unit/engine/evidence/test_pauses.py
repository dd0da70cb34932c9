"""How long a sound place pauses, and what a step after a pause says; held against scipy's distributions."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import gamma, nbinom

from dialtrue.engine.evidence import pauses
from dialtrue.engine.evidence.catch_up import log_all_at_once, log_first_draw, pulses_of
from tests.support.cases import case_of, home, reads_of
from tests.support.fleets import fleet_of


def pace(per_day: float = 20.0, shape: float = 4.0) -> pauses.Pace:
    one = np.ones(1)
    return pauses.Pace(per_day * one, per_day * one, shape * one, one / 24, 90 * one)


@pytest.mark.parametrize(("count", "mean", "shape"), [(0, 2.0, 1.0), (7, 5.5, 3.0), (211, 211.0, 25.0), (3, 0.2, 0.4)])
def test_the_predictive_of_a_count_is_scipys_negative_binomial(count: int, mean: float, shape: float) -> None:
    told = pauses.negative_binomial(np.array(float(count)), np.array(mean), np.array(shape))
    assert float(told) == pytest.approx(nbinom.logpmf(count, shape, shape / (shape + mean)), abs=1e-9)


def test_the_chance_of_no_pulse_is_the_gamma_that_scipy_gives() -> None:
    days, told = 3.0, pace(per_day=0.8, shape=4.0)
    k = pauses.LOOSE * 4.0
    expected = gamma.cdf(1.0, k * (days - pauses.NIGHT_DAYS), scale=0.8 / k)
    assert float(pauses.no_pulse(np.array([days]), told)[0]) == pytest.approx(expected, rel=1e-9)


def test_longer_pauses_are_rarer_and_the_density_is_their_slope() -> None:
    days = np.linspace(1.0, 40.0, 800)[None, :]
    rate = pauses.longer(days, pace())
    assert (np.diff(rate[0]) < 0).all()
    inside = pauses.density(days, pace())[0]
    assert np.trapezoid(inside, days[0]) == pytest.approx(rate[0, 0] - rate[0, -1], rel=0.15)


def test_a_coarse_pulse_pauses_for_days_by_itself_and_a_fine_one_does_not() -> None:
    coarse, fine = pace(per_day=0.5), pace(per_day=200.0)
    week = np.array([7.0])
    assert pauses.no_pulse(np.array([2.0]), coarse)[0] > 0.3
    assert pauses.no_pulse(week, fine)[0] < 1e-12
    assert pauses.longer(week, fine)[0] == pytest.approx(pauses.absent_longer(week)[0], rel=1e-6)


def test_the_pace_of_a_home_is_its_mean_while_in_use() -> None:
    pulses = home(60, seed=4, pulses_a_day=50.0)
    pulses[24 * 20 : 24 * 32] = 0
    case, _ = case_of(fleet_of(), reads_of(pulses), days=61)
    found = pauses.pace_of(case)
    assert found.per_day[0] == pytest.approx(50.0, rel=0.2)
    assert found.mean_per_day[0] == pytest.approx(40.0, rel=0.2)
    assert 1.0 < found.shape[0] < 8.0


def test_a_step_of_all_that_passed_is_told_from_a_first_draw() -> None:
    pulses = home(60, seed=5, pulses_a_day=50.0)
    late = pulses.copy()
    late[24 * 20 : 24 * 24] = 0
    late[24 * 24] += pulses[24 * 20 : 24 * 24].sum()
    case, _ = case_of(fleet_of(), reads_of(late), days=61)
    own = pauses.pace_of(case)
    steps = pulses_of(case.scan.freeze[:, :1, 2].astype(float), case)
    hour = np.array([[1 / 24]])
    gain = log_all_at_once(steps, np.array([[4.0]]), hour, own) - log_first_draw(steps, hour, case, own)
    assert gain[0, 0] > 4.0
    small = np.array([[3.0]])
    gain = log_all_at_once(small, np.array([[4.0]]), hour, own) - log_first_draw(small, hour, case, own)
    assert gain[0, 0] < -3.0
