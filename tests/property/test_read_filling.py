"""What holds of every gap that is filled, whatever the reads were."""

from __future__ import annotations

import dataclasses
import datetime as dt
import itertools
import random
from fractions import Fraction

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from dialtrue.domain.read_checks.estimates import shared
from dialtrue.engine.gap_fill import _share as share_counts
from tests.support.read_runs import DAY_US, HOUR_US, MONDAY_US, RULES, Reads, hourly

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


def expected_use(reads: Reads, gap: tuple[int, int], middle_us: int) -> Fraction | None:
    """Work out the mean hourly use of like days at an hour by looking at every pair of neighbours in the window."""
    week = gap[0] // (7 * DAY_US) * 7 * DAY_US
    rows = sorted(reads.rows, key=lambda row: row[1])
    kinds = (0, 1, 1, 1, 2, 3, 4)

    def kind_and_hour(us: int) -> tuple[int, int]:
        moment = dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(microseconds=us)
        return kinds[moment.weekday()], moment.hour

    found = [
        two[2] - one[2]
        for one, two in itertools.pairwise(rows)
        if two[1] - one[1] == HOUR_US
        and week - RULES.reference_us <= two[1] <= week + 7 * DAY_US + RULES.reference_us
        and kind_and_hour(two[1] - HOUR_US // 2) == kind_and_hour(middle_us)
    ]
    return Fraction(sum(found), len(found)) if len(found) >= 2 else None


@settings(deadline=None, max_examples=12)
@given(st.integers(0, 2**32 - 1), st.integers(24 * 14, 24 * 24), st.integers(2, 40))
def test_like_days_are_what_a_plain_look_at_every_pair_of_reads_gives(seed: int, begin: int, missing: int) -> None:
    rng = random.Random(seed)
    day = [rng.randrange(0, 60) for _ in range(24)]
    reads = hourly(0, [rng.randrange(0, 2 * use + 1) for _ in range(35) for use in day])
    whole = list(reads.rows)
    reads.rows = whole[: begin + 1] + whole[begin + 1 + missing :]
    filled = reads.filled()
    assert filled.gaps.rule.tolist() == [1]
    ends = (whole[begin][1], whole[begin + 1 + missing][1])
    weights = [expected_use(reads, ends, ends[0] + k * HOUR_US + HOUR_US // 2) for k in range(missing + 1)]
    steps = shared(whole[begin + 1 + missing][2] - whole[begin][2], [weight or Fraction(0) for weight in weights])
    due = list(itertools.accumulate(steps[:-1], initial=whole[begin][2]))[1:]
    # A tie of two remainders may fall otherwise in floats, by one count.
    assert all(abs(one - two) <= 1 for one, two in zip(filled.made.index.tolist(), due, strict=True))


WILD = st.tuples(
    st.integers(0, 1),
    st.one_of(st.integers(0, 60).map(lambda hour: hour * HOUR_US), st.integers(0, 4 * 10**15)),
    st.one_of(st.integers(0, 2000), st.integers(0, 10**18)),
    st.sampled_from([0, 0, 0, 0, 1, 2]),
    st.integers(0, 40).map(lambda hour: hour * HOUR_US),
)


@settings(deadline=None, max_examples=80)
@given(
    st.lists(WILD, min_size=1, max_size=40), st.sampled_from([0, 1000, 10**17]), st.sampled_from([0.0, 50.0, np.inf])
)
def test_whatever_a_file_holds_estimates_stay_between_their_ends_and_within_the_index(
    rows: list[tuple[int, int, int, int, int]], capacity: int, most: float
) -> None:
    reads = Reads(capacity={0: capacity, 1: capacity}, most_per_h={0: most, 1: most})
    reads.rows = [(port, at, index, flag, at + late) for port, at, index, flag, late in rows]
    filled = reads.filled(rules=dataclasses.replace(RULES, longest_us=40 * DAY_US))
    made, checked = filled.made, filled.reads
    assert (
        np.diff(checked.at_us)[np.diff(np.repeat(np.arange(len(checked.first) - 1), np.diff(checked.first))) == 0] >= 0
    ).all()
    assert (checked.step >= 0).all()
    assert (made.index >= 0).all()
    if capacity:
        assert (made.index < capacity).all()
    before, after = filled.gaps.row_before[made.gap], filled.gaps.row_after[made.gap]
    assert (made.at_us > checked.at_us[before]).all()
    assert (made.at_us[after >= 0] < checked.at_us[after[after >= 0]]).all()
    if not capacity:
        assert (made.low <= made.index).all()
        assert (made.index <= made.high).all()
