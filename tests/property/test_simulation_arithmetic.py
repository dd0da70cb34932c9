"""Invariants of the simulated chain against plain fractions, whatever the weights and units."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from dialtrue.domain.quantity import LITRES_PER_UNIT
from dialtrue.engine.simulation.train import floor_scaled, index_unwrapped, passes, pulses_at

weights = st.builds(
    lambda text, unit: Fraction(text) * LITRES_PER_UNIT[unit],
    st.sampled_from(["0.1", "1", "2.5", "10", "100"]),
    st.sampled_from(["L", "gal", "gal_imp", "ft3", "m3"]),
)
paths = st.lists(st.integers(0, 5_000_000_000), min_size=1, max_size=12).map(lambda steps: np.cumsum(np.array(steps)))


@given(paths, weights, weights, st.integers(0, 10**7), st.integers(0, 999))
def test_index_less_start_is_the_floor_of_weight_times_pulses(path, weight, resolution, start, phase_share) -> None:
    phase_ul = int(weight * 1_000_000 * phase_share / 1000)
    index = index_unwrapped(
        pulses_at(path, phase_ul=phase_ul, weight_l=weight), start=start, weight_l=weight, resolution_l=resolution
    )
    for volume, shown in zip(path.tolist(), index.tolist(), strict=True):
        pulses = Fraction(volume + phase_ul, 1_000_000) // weight
        assert shown - start == pulses * weight // resolution


@given(paths, weights)
def test_forward_flow_is_passed_as_often_as_it_gives_pulses(path, weight) -> None:
    whole = np.concatenate(([0], path))
    assert passes(whole, phase_ul=0, weight_l=weight).tolist() == pulses_at(whole, phase_ul=0, weight_l=weight).tolist()


@given(st.lists(st.integers(-10_000_000, 10_000_000), min_size=1, max_size=12), weights)
def test_a_path_run_to_and_fro_is_passed_twice_as_often(steps, weight) -> None:
    out = np.concatenate(([0], np.cumsum(np.array(steps))))
    there = passes(out, phase_ul=0, weight_l=weight)[-1]
    both = passes(np.concatenate((out, out[::-1][1:])), phase_ul=0, weight_l=weight)[-1]
    assert both == 2 * there


@given(st.lists(st.integers(-(10**14), 10**14), min_size=1, max_size=6), st.fractions(max_denominator=10**9))
def test_scaling_is_the_floor_of_the_fraction_or_refused(counts, ratio) -> None:
    exact = [int(count * ratio // 1) for count in counts]
    if all(abs(value) < 2**63 for value in exact):
        assert floor_scaled(np.array(counts, np.int64), ratio).tolist() == exact
