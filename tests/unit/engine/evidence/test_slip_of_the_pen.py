"""The shape of a slip: what one wrong figure, two exchanged ones or a dropped zero make of a number."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.engine.evidence.records import same_start_before
from dialtrue.engine.evidence.slip_of_the_pen import KEYED, READ, slip_density
from tests.support.fleets import HOUR_US

MEANT = 421_370.0


def density(written: float, shares: dict[str, float] = KEYED) -> float:
    figures, none = np.array([6.0]), np.zeros(1)
    return float(slip_density(np.array([written]), np.array([MEANT]), shares, tolerance=none, figures=figures)[0])


@pytest.mark.parametrize(
    ("written", "why"),
    [
        (421_870.0, "one wrong figure"),
        (412_370.0, "two exchanged"),
        (42_137.0, "painted zero dropped"),
        (4_213_700.0, "painted zero added"),
        (42_370.0, "one figure left out"),
    ],
)
def test_a_slip_is_far_likelier_than_any_other_number(written: float, why: str) -> None:
    assert density(written) > 50 * density(693_254.0), why


def test_no_share_of_a_slip_is_given_out_twice() -> None:
    # Every number of six figures that is not the right one: the shares add up to no more than one.
    numbers = np.arange(0.0, 1_000_000.0)
    total = slip_density(
        numbers,
        np.full(len(numbers), MEANT),
        KEYED,
        tolerance=np.zeros(len(numbers)),
        figures=np.full(len(numbers), 6.0),
    )
    assert 0.8 < total[numbers != MEANT].sum() <= 1.0


def test_exchanged_figures_speak_for_the_keyboard_and_one_wheel_for_the_dial() -> None:
    assert density(412_370.0, KEYED) > density(412_370.0, READ)
    assert density(421_870.0, READ) > density(421_870.0, KEYED)


def test_a_start_left_from_the_job_before_is_seen() -> None:
    start = np.array([41_820, 55_002, 41_820, 41_820])
    fit_us = np.array([0, 1, 3, 24 * 30]) * HOUR_US
    assert same_start_before(start, fit_us).tolist() == [False, False, True, False]
