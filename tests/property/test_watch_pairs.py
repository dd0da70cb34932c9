"""The pairs' likelihoods do not know in which unit volumes are told, nor what day it is."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dialtrue.engine.evidence import pair_shape
from tests.support.looks import Looks, looks
from tests.support.weighed import DAY_US, Weighed, weighed

AT_DAYS = np.array([12.0, 30.0, 47.0, 60.0, 75.0, 90.0])
# What a new dial has run before, and the most that reverse flow or damp adds, are volumes of the real world.
OF_THE_WORLD = {"meter_exchanged", "backflow_counted", "wet_counts"}


@st.composite
def ports(draw: st.DrawFn) -> Looks:
    """Draw a port whose count goes wrong by some ratio, rate or step, or not at all, with an odd look or without."""
    steps = draw(st.lists(st.floats(500, 9_000), min_size=6, max_size=6))
    d = np.cumsum(np.round(steps))
    ratio = draw(st.sampled_from([1.0, 2.0, 0.1, 0.0, 0.83, 1.2, 7.48]))
    first = draw(st.integers(0, 6))
    begun = d[first - 1] if first else 0.0
    x = np.where(np.arange(6) >= first, begun + ratio * (d - begun), d) + draw(st.floats(0, 30)) * AT_DAYS
    x += np.round(draw(st.lists(st.floats(-1, 1), min_size=6, max_size=6)))
    odd = draw(st.integers(0, 5))
    return looks(d, np.round(x)).with_index(odd, draw(st.sampled_from([0.0, 0.0, 900.0, -27.0])))


def same(one: Weighed, other: Weighed, *, but: set[str]) -> None:
    for code in set(pair_shape.TIMED) - but:
        assert other.at_onset[code] == pytest.approx(one.at_onset[code], abs=2e-3), code
    assert other.static == pytest.approx(one.static, abs=2e-3)


@settings(max_examples=40, deadline=None)
@given(ports(), st.sampled_from([0.1, 0.26417205, 3.785411784, 28.316846592]))
def test_scaling_every_volume_leaves_the_differences_unchanged(port: Looks, scale: float) -> None:
    same(weighed(port, at_days=AT_DAYS), weighed(port, at_days=AT_DAYS, scale=scale), but=OF_THE_WORLD)


@settings(max_examples=40, deadline=None)
@given(ports(), st.integers(-3_000, 3_000))
def test_shifting_every_moment_leaves_them_unchanged(port: Looks, days: int) -> None:
    shifted = weighed(port, at_days=AT_DAYS, shift_us=days * DAY_US)
    same(weighed(port, at_days=AT_DAYS), shifted, but=set())
