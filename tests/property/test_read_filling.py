"""What holds of every gap that is filled, whatever the reads were."""

from __future__ import annotations

import itertools
import random

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from dialtrue.domain.read_checks.estimates import shared
from dialtrue.engine.gap_fill import _share as share_counts
from tests.support.read_runs import HOUR_US, MONDAY_US, Reads

CAPACITY = 100_000
SERIES = st.lists(st.tuples(st.integers(1, 9), st.integers(0, 400)), min_size=3, max_size=60)


def reads_of(series: list[tuple[int, int]], port: int = 0) -> Reads:
    """Return reads of which one in several did not come: each so many hours after the one before."""
    reads, hour, index = Reads(capacity={port: CAPACITY}, most_per_h={port: 500}), 0, 99_000
    for wait, use in series:
        hour, index = hour + (wait - 5 if wait > 6 else 1), index + use
        reads.add(port, MONDAY_US + hour * HOUR_US, index % CAPACITY)
    return reads


@settings(deadline=None, max_examples=60)
@given(SERIES)
def test_steps_across_a_gap_are_not_negative_and_meet_the_known_difference(series: list[tuple[int, int]]) -> None:
    filled = reads_of(series).filled()
    reads, made = filled.reads, filled.made
    for g in range(len(filled.gaps.run)):
        a, b = int(filled.gaps.row_before[g]), int(filled.gaps.row_after[g])
        if b < 0 or filled.gaps.rule[g] < 0:
            continue
        chain = [int(reads.index[a]), *made.index[made.gap == g].tolist(), int(reads.index[b])]
        steps = [(two - one) % CAPACITY for one, two in itertools.pairwise(chain)]
        assert sum(steps) == int(reads.step[b])
        assert all(0 <= step <= int(reads.step[b]) for step in steps)
        when = made.at_us[made.gap == g]
        assert (np.diff(when) > 0).all()
        assert ((when > reads.at_us[a]) & (when < reads.at_us[b])).all()
        for low, index, high in zip(made.low, made.index, made.high, strict=True):
            assert (int(index) - int(low)) % CAPACITY <= CAPACITY // 2
            assert (int(high) - int(index)) % CAPACITY <= CAPACITY // 2


@settings(deadline=None, max_examples=40)
@given(SERIES, SERIES, st.randoms(use_true_random=False))
def test_the_order_of_the_rows_does_not_matter(
    one: list[tuple[int, int]], two: list[tuple[int, int]], rng: random.Random
) -> None:
    reads = reads_of(one)
    other = reads_of(two, 1)
    reads.rows += other.rows
    reads.capacity.update(other.capacity)
    reads.most_per_h.update(other.most_per_h)
    sorted_ones = reads.filled()
    rng.shuffle(reads.rows)
    shuffled = reads.filled()
    for name in ("at_us", "index", "said", "before", "step"):
        assert np.array_equal(getattr(sorted_ones.reads, name), getattr(shuffled.reads, name))
    for name in ("gap", "at_us", "index", "low", "high"):
        assert np.array_equal(getattr(sorted_ones.made, name), getattr(shuffled.made, name))


@settings(deadline=None, max_examples=30)
@given(st.lists(st.integers(0, 400), min_size=3, max_size=60))
def test_a_series_without_gaps_comes_back_as_it_was(uses: list[int]) -> None:
    reads = reads_of([(1, use) for use in uses])
    filled = reads.filled()
    assert len(filled.made.at_us) == 0
    assert filled.reads.index.tolist() == [row[2] for row in reads.rows]
    assert not filled.reads.said.any()


@settings(deadline=None)
@given(st.integers(0, 10**9), st.lists(st.integers(0, 1000), min_size=1, max_size=20))
def test_counts_are_shared_as_the_exact_shares_say(total: int, weights: list[int]) -> None:
    steps = np.zeros(len(weights), np.int64)
    share_counts(total, np.array(weights, float), len(weights), steps)
    exact = shared(total, weights)
    assert int(steps.sum()) == total
    # Ties of the remainders fall to the earlier; floats may see a tie where there is none, one count apart.
    assert max(abs(a - b) for a, b in zip(steps.tolist(), exact, strict=True)) <= 1
