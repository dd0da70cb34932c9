"""Use after over use before: closed forms against numerical integration by scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from dialtrue.engine.evidence.use_density import MOVE_SHARE, MOVE_SPREAD, at_ratios, over_logs, over_shares


def usual(z: float, mean: float, s: float) -> float:
    """Density of a log ratio about its mean, people who move apart."""
    near, far = norm.pdf(z, mean, s), norm.pdf(z, mean, np.hypot(s, MOVE_SPREAD))
    return float((1 - MOVE_SHARE) * near + MOVE_SHARE * far)


@pytest.mark.parametrize("z", [-2.0, -0.4, 0.0, 0.7])
@pytest.mark.parametrize("s", [0.2, 0.6])
def test_densities_are_what_integration_gives(z: float, s: float) -> None:
    at = np.array([z]), np.array([s])
    even = quad(lambda m: usual(z, m, s), -1.5, 0.5, epsabs=1e-10)[0] / 2.0
    assert over_logs(*at, -1.5, 0.5)[0] == pytest.approx(even, rel=1e-6)
    # A ratio spread evenly from 0.1 to 1 has the log density exp(m) / 0.9.
    share = quad(lambda m: usual(z, m, s) * np.exp(m) / 0.9, np.log(0.1), 0.0, epsabs=1e-12)[0]
    assert over_shares(*at, 0.1, 1.0)[0] == pytest.approx(share, rel=1e-6)
    ratios = 0.3 * usual(z, np.log(0.1), s) + 0.7 * usual(z, 0.0, s)
    assert at_ratios(*at, np.log([0.1, 1.0]), np.array([0.3, 0.7]))[0] == pytest.approx(ratios, rel=1e-6)


def test_a_tenth_of_the_use_speaks_for_a_decade_more_than_for_lost_counts() -> None:
    z, s = np.log([0.1]), np.array([0.3])
    decade = at_ratios(z, s, np.log([0.1]), np.ones(1))
    assert decade[0] > 4 * over_shares(z, s, 0.1, 1.0)[0]
