"""The posterior whatever the blocks say, and the decision whatever the posterior is."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from dialtrue.domain.faults import FAULTS
from dialtrue.domain.watch_settings import Costs
from dialtrue.engine.decision import ACTIONS, Stakes, decide
from dialtrue.engine.evidence.frame import Block
from dialtrue.engine.posterior import combine

PORTS = 4
NATS = st.floats(-45.0, 12.0, allow_nan=False)
tables = hnp.arrays(np.float64, (PORTS, len(FAULTS)), elements=NATS)


def blocks_of(logliks: list[np.ndarray]) -> list[Block]:
    made = []
    for number, loglik in enumerate(logliks):
        block = Block.blank(f"block {number}", PORTS, lambda row, column: ("", {}))
        block.loglik = loglik
        made.append(block)
    return made


@settings(max_examples=60, deadline=None)
@given(st.lists(tables, min_size=1, max_size=5), st.booleans())
def test_rows_sum_to_one(logliks: list[np.ndarray], learn: bool) -> None:
    posterior = combine(blocks_of(logliks), learn=learn)
    assert np.allclose(posterior.probability.sum(axis=1), 1.0, atol=1e-12)
    assert (posterior.probability >= 0).all()
    assert np.isclose(posterior.shares.sum(), 1.0)


@settings(max_examples=60, deadline=None)
@given(st.lists(tables, min_size=2, max_size=4), st.randoms(use_true_random=False))
def test_the_order_of_the_blocks_does_not_matter(logliks: list[np.ndarray], random) -> None:
    shuffled = list(logliks)
    random.shuffle(shuffled)
    one, other = combine(blocks_of(logliks)), combine(blocks_of(shuffled))
    assert np.allclose(one.probability, other.probability, atol=1e-9)


@settings(max_examples=60, deadline=None)
@given(tables, hnp.arrays(np.float64, (PORTS, 1), elements=NATS))
def test_a_block_that_says_nothing_changes_nothing(loglik: np.ndarray, level: np.ndarray) -> None:
    alone = combine(blocks_of([loglik]))
    # Only differences along a row matter: a block level over all faults says nothing either.
    silent = [np.zeros((PORTS, len(FAULTS))), np.repeat(level, len(FAULTS), axis=1)]
    assert np.allclose(alone.probability, combine(blocks_of([loglik, *silent])).probability, atol=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.lists(tables, min_size=1, max_size=3), st.permutations(range(PORTS)))
def test_the_order_of_the_ports_does_not_matter(logliks: list[np.ndarray], order: list[int]) -> None:
    one = combine(blocks_of(logliks)).probability[order]
    other = combine(blocks_of([loglik[order] for loglik in logliks])).probability
    assert np.allclose(one, other, atol=1e-9)


@settings(max_examples=60, deadline=None)
@given(tables, st.floats(0.0, 20.0), st.floats(0.0, 20.0))
def test_a_dearer_wasted_visit_never_sends_more_vans(loglik: np.ndarray, one: float, more: float) -> None:
    probability = combine(blocks_of([loglik])).probability
    stakes = Stakes(
        np.argmax(probability, axis=1), np.full(PORTS, -9_000.0), np.full(PORTS, 40.0), np.full(PORTS, 400.0),
        np.full(PORTS, 16_000.0), np.full(PORTS, 20.0), np.ones(PORTS, bool),
    )  # fmt: skip
    cheap = decide(probability, stakes, costs=Costs(wasted_visit=one)).action == ACTIONS.index("visit")
    dear = decide(probability, stakes, costs=Costs(wasted_visit=one + more)).action == ACTIONS.index("visit")
    assert not (dear & ~cheap).any()
