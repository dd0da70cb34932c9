"""Bridged walks and quantiles of mixtures, against slow and plain ways to the same."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, stats

from dialtrue.engine.mixture_kernel import mixture_quantiles
from dialtrue.engine.walk_kernel import bridge_gaps


def bridged(walk: np.ndarray) -> np.ndarray:
    filled = np.empty(walk.shape)
    bridge_gaps(walk, filled, 0, len(walk))
    return filled


def test_gaps_are_bridged_straight_and_nothing_is_made_up_outside() -> None:
    rng = np.random.default_rng(3)
    walk = np.cumsum(rng.random((40, 30)), axis=1)
    walk[rng.random(walk.shape) < 0.5] = np.nan
    walk[0], walk[1, :29] = np.nan, np.nan
    got = bridged(walk)
    for row, filled in zip(walk, got, strict=True):
        known = np.flatnonzero(~np.isnan(row))
        want = np.full(30, np.nan)
        if len(known):
            inside = np.arange(known[0], known[-1] + 1)
            want[inside] = np.interp(inside, known, row[known])
        np.testing.assert_allclose(filled, want, rtol=1e-12)


def test_a_walk_without_days_stays_so() -> None:
    assert bridged(np.zeros((3, 0))).shape == (3, 0)


@pytest.mark.parametrize("seed", range(5))
def test_the_quantile_of_a_mixture_is_where_its_distribution_function_says(seed: int) -> None:
    rng = np.random.default_rng(seed)
    share = rng.dirichlet(np.ones(3), size=6)
    share[0] = (1.0, 0.0, 0.0)
    middle, sd = rng.normal(0, 1000, (6, 3)), rng.uniform(1, 300, (6, 3))
    found = np.empty((6, 2))
    mixture_quantiles(share, middle, sd, np.array([0.05, 0.95]), found, 0, len(found))
    for f in range(6):
        for place, target in enumerate((0.05, 0.95)):

            def gap(x: float, f: int = f, target: float = target) -> float:
                return float((share[f] * stats.norm.cdf(x, middle[f], sd[f])).sum() - target)

            want = optimize.brentq(gap, -6000.0, 6000.0, xtol=1e-9)
            # Between two far modes the distribution function is flat: compare its value, not its argument.
            assert gap(found[f, place]) == pytest.approx(gap(want), abs=1e-7)
