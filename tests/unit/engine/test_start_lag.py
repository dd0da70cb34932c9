"""A start read before the last draw: small, constant, and told in spite of a misread look."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.engine.start_lag import start_lag
from tests.support.cases import case_of, home, reads_of
from tests.support.fleets import fleet_of

DAYS = 60


def lag_of(*, more_l: float, first_more_l: float = 0.0) -> float:
    """Return the lag found where every dial shows ``more_l`` more than the index, the first look another amount."""
    pulses = home(DAYS, seed=3)
    index = np.concatenate(([0], np.cumsum(pulses)))
    looks = (10, 20, 30, 40)
    dials = [(0, 24.0 * day, float(index[24 * day]) + more_l) for day in looks]
    dials[0] = (0, 240.0, dials[0][2] + first_more_l)
    case, _ = case_of(fleet_of(), reads_of(pulses), days=DAYS + 1, dials=dials)
    return float(start_lag(case.fleet, case.pairs)[0])


def test_a_small_constant_lag_is_a_start_read_before_the_last_draw() -> None:
    assert lag_of(more_l=80.0) == pytest.approx(-80.0, abs=3.0)
    assert lag_of(more_l=0.0) == 0.0


def test_a_large_one_is_a_wrong_start() -> None:
    assert lag_of(more_l=900.0) == 0.0


def test_one_misread_first_look_does_not_hide_it() -> None:
    assert lag_of(more_l=80.0, first_more_l=100_000.0) == pytest.approx(-80.0, abs=3.0)


def test_a_first_look_that_no_other_bears_out_is_no_lag_where_next_to_nothing_was_counted() -> None:
    """A weight a hundred times too small leaves the first look short by all that was drawn, and the next by more."""
    pulses = home(DAYS, seed=3)
    counted = np.diff(np.concatenate(([0], np.cumsum(pulses))) // 100)
    dial = np.concatenate(([0], np.cumsum(pulses)))
    dials = [(0, 24.0 * day, float(dial[24 * day])) for day in (2, 20, 40)]
    case, _ = case_of(fleet_of(), reads_of(counted), days=DAYS + 1, dials=dials)
    assert float(start_lag(case.fleet, case.pairs)[0]) == 0.0
