"""The grain of the steps: even steps from a day on, steps of ten weights, and how soon that is no chance."""

from __future__ import annotations

import numpy as np

from dialtrue.engine.evidence import granularity
from dialtrue.engine.onset_prior import over_onsets
from tests.support.cases import case_of, home, reads_of
from tests.support.fleets import fleet_of

DAYS = 40


def told(pulses: np.ndarray, code: str) -> np.ndarray:
    case, onsets = case_of(fleet_of(), reads_of(pulses), days=DAYS + 1)
    return granularity.weigh(case, onsets).at_onset[code][0].astype(float)


def test_even_steps_from_a_day_on_speak_for_a_second_count_since_then() -> None:
    once = home(DAYS, seed=3)
    twice = np.where(np.arange(len(once)) >= 24 * 25, 2 * once, once)
    value = told(twice, "double_count")
    # 40 days in 32 spans: the 25th day ends in span 20 of 1 to 32.
    assert abs(int(np.argmax(value)) - 20) <= 1
    assert value[0] < 0 < value.max() - 5


def test_odd_steps_leave_only_the_double_count_that_both_edges_make() -> None:
    value = told(home(DAYS, seed=3), "double_count")
    assert np.log(granularity.AT_ONCE) - 1e-3 <= value.min()
    assert over_onsets(value[None, :], "double_count")[0] < 0


def test_steps_of_ten_weights_speak_for_a_decade_and_not_for_a_second_count() -> None:
    ten = told(10 * home(DAYS, seed=4), "weight_decade")
    assert ten[0] > 10
    assert ten[0] > told(10 * home(DAYS, seed=4), "double_count")[0] + 10
