"""What to do about a posterior: certain things are simple, innocents are left in peace, waste is dear."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.domain.faults import COLUMN, FAULTS, INNOCENT
from dialtrue.engine.decision import ACTIONS, Costs, decide


def certain(code: str, share: float = 1.0, rest: str = "sound") -> np.ndarray:
    """Return one row with ``share`` on a code and what is left on another."""
    row = np.zeros((1, len(FAULTS)))
    row[0, COLUMN[rest]] = 1 - share
    row[0, COLUMN[code]] += share
    return row


def action(probability: np.ndarray, *, error_l: float = -5_000.0, use_l_day: float = 500.0, costs: Costs | None = None):
    decision = decide(probability, np.array([error_l]), np.array([use_l_day]), costs=costs)
    return ACTIONS[int(decision.action[0])]


def test_a_sound_port_is_left_alone() -> None:
    assert action(certain("sound"), error_l=0.0) == "none"


def test_a_dead_input_of_long_standing_is_visited() -> None:
    assert action(certain("dead_input"), error_l=-60_000.0) == "visit"


@pytest.mark.parametrize("code", sorted(INNOCENT))
@pytest.mark.parametrize("error_l", [0.0, -1e6, float("nan")])
def test_innocents_are_never_visited(code: str, error_l: float) -> None:
    assert action(certain(code), error_l=error_l) == "none"
    assert action(certain(code, 0.9, "dead_input"), error_l=error_l) != "visit"


@pytest.mark.parametrize("code", ["stale_index", "clock_shift"])
def test_late_or_shifted_data_never_sends_a_van(code: str) -> None:
    assert action(certain(code), error_l=-1e6) != "visit"


def test_doubt_asks_for_a_photograph_before_a_van() -> None:
    assert action(certain("dead_input", 0.4)) == "remote_check"


def test_a_wasted_visit_that_is_dearer_means_fewer_visits() -> None:
    shares = np.linspace(0, 1, 101)
    rows = np.concatenate([certain("dead_input", share) for share in shares])
    error, use = np.full(101, -60_000.0), np.full(101, 500.0)
    visits = [
        int((decide(rows, error, use, costs=Costs(wasted_visit=dear)).action == ACTIONS.index("visit")).sum())
        for dear in (0.5, 2.5, 10.0, 40.0)
    ]
    assert visits == sorted(visits, reverse=True)
    assert visits[0] > visits[-1] > 0


def test_the_larger_error_comes_first() -> None:
    rows = np.repeat(certain("dead_input"), 2, axis=0)
    priority = decide(rows, np.array([-20_000.0, -60_000.0]), np.array([500.0, 500.0])).priority
    assert priority[1] > priority[0]


def test_an_unknown_error_or_use_is_no_reason_to_fail() -> None:
    decision = decide(certain("dead_input"), np.array([np.nan]), np.array([np.nan]))
    assert np.isfinite(decision.priority).all()
