"""What to do, whatever the posterior and the prices: only ratios matter, the well are left, a budget is kept."""

from __future__ import annotations

from dataclasses import asdict

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from dialtrue.domain.faults import FAULTS, INNOCENT
from dialtrue.domain.watch_settings import Costs
from dialtrue.engine.decision import ACTIONS, Stakes, decide, temper
from dialtrue.engine.next_check import NAMES, choose_look, mutual_information
from dialtrue.engine.observations import CHANCE

PORTS = 12
posteriors = hnp.arrays(np.float64, (PORTS, len(FAULTS)), elements=st.floats(1e-6, 1.0)).map(
    lambda rows: rows**6 / (rows**6).sum(axis=1, keepdims=True)
)
volumes = hnp.arrays(np.float64, PORTS, elements=st.floats(-1e6, 1e6))
seen = hnp.arrays(np.bool_, PORTS)
WELL = [FAULTS.index(code) for code in ("sound", *INNOCENT)]


def stakes(probability: np.ndarray, error_l: np.ndarray, looked_at: np.ndarray) -> Stakes:
    return Stakes(
        np.argmax(probability, axis=1), error_l, np.full(PORTS, 50.0), np.full(PORTS, 400.0), np.full(PORTS, 20_000.0),
        np.full(PORTS, 25.0), looked_at,
    )  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(posteriors, volumes, seen, st.floats(0.01, 1000.0))
def test_only_the_ratios_of_the_costs_matter(
    probability: np.ndarray, error_l: np.ndarray, looked_at: np.ndarray, factor: float
) -> None:
    days = ("wait_days", "check_days", "visit_days")
    costs = Costs()
    other = Costs(**{name: value if name in days else value * factor for name, value in asdict(costs).items()})
    one = decide(probability, stakes(probability, error_l, looked_at), costs=costs)
    two = decide(probability, stakes(probability, error_l, looked_at), costs=other)
    near = np.isclose(one.priority, min(costs.desk_check, costs.remote_check), rtol=1e-6)
    assert ((one.action == two.action) | near).all()
    np.testing.assert_allclose(one.priority, two.priority, rtol=1e-9)


@settings(max_examples=60, deadline=None)
@given(posteriors, volumes, seen)
def test_a_port_that_is_surely_well_is_never_visited(
    probability: np.ndarray, error_l: np.ndarray, looked_at: np.ndarray
) -> None:
    well = np.zeros_like(probability)
    well[:, WELL] = probability[:, WELL]
    well /= well.sum(axis=1, keepdims=True)
    decision = decide(well, stakes(well, error_l, looked_at))
    assert (decision.action != ACTIONS.index("visit")).all()
    assert np.allclose(decision.priority, 0.0)


@settings(max_examples=60, deadline=None)
@given(posteriors, volumes, seen, st.floats(0, 1000), st.floats(0, 1000))
def test_a_larger_budget_keeps_the_looks_of_a_smaller_one(
    probability: np.ndarray, error_l: np.ndarray, looked_at: np.ndarray, one: float, other: float
) -> None:
    small, large = sorted((one, other))
    chosen = [
        decide(probability, stakes(probability, error_l, looked_at), remote_checks_per_1000=budget)
        for budget in (small, large)
    ]
    assert not (chosen[0].routine & ~chosen[1].routine).any()
    assert chosen[1].routine.sum() <= large * PORTS / 1000
    assert not (chosen[1].routine & looked_at).any()


@settings(max_examples=60, deadline=None)
@given(posteriors, seen, seen)
def test_tempering_keeps_a_distribution_and_the_leading_fault(
    probability: np.ndarray, looked_at: np.ndarray, arithmetic: np.ndarray
) -> None:
    got = temper(probability, looked_at, arithmetic)
    np.testing.assert_allclose(got.sum(axis=1), 1.0, atol=1e-12)
    assert (got >= 0).all()
    assert (np.argmax(got, axis=1) == np.argmax(probability, axis=1)).all()
    free = looked_at | arithmetic
    np.testing.assert_array_equal(got[free], probability[free])


@settings(max_examples=40, deadline=None)
@given(posteriors, volumes, seen, seen)
def test_the_chosen_look_tells_at_least_half_of_what_the_best_one_tells(
    probability: np.ndarray, error_l: np.ndarray, looked_at: np.ndarray, going: np.ndarray
) -> None:
    case = stakes(probability, error_l, looked_at)
    look = choose_look(probability, case, going, costs=Costs())
    doubted = 0.9 * probability
    doubted[:, 0] += 0.1
    best = np.max([mutual_information(doubted, CHANCE[name]) for name in NAMES if name != "photo"], axis=0)
    assert (look.information >= 0.5 * best - 1e-9).all()
    entropy = -(doubted * np.log(np.maximum(doubted, 1e-300))).sum(axis=1)
    assert (look.information <= entropy + 1e-9).all()
