"""What the town does on each day, and the span that each day begins in."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.engine.evidence.town_days import LEAST_FACTOR, MOST_FACTOR, day_spans, town_days
from dialtrue.engine.onsets import SPANS, Onsets
from dialtrue.engine.scan_kernel import DAY_US


def test_a_day_of_the_town_is_its_median_over_the_usual_day() -> None:
    rng = np.random.default_rng(5)
    level, fresh = rng.gamma(2.0, 0.5, (301, 40)), rng.random((301, 40)) < 0.7
    level[:, 7] *= 1.4
    fresh[:, 9] = False
    got = town_days(level, fresh, least_ports=20, every=1)
    enough = np.arange(40) != 9
    median = np.nanmedian(np.where(fresh, level, np.nan)[:, enough], axis=0)
    want = np.clip(median / np.median(median), LEAST_FACTOR, MOST_FACTOR)
    assert got[enough] == pytest.approx(want, rel=1e-14)
    assert got[9] == 1.0
    assert got[7] > 1.2


def test_too_few_ports_make_no_town() -> None:
    assert (town_days(np.full((5, 8), 2.0), np.ones((5, 8), bool), least_ports=6, every=1) == 1.0).all()


def test_days_fall_into_the_spans_that_onsets_lie_in() -> None:
    begin = np.array([[3 * DAY_US], [10 * DAY_US + 5]])
    edge = begin + (np.arange(SPANS + 1) * (2.25 * DAY_US)).astype(np.int64)
    none = np.zeros((2, 1))
    onsets = Onsets(edge, none, edge, none[:, 0], none[:, 0])
    first, days = np.array([0, DAY_US // 2]), 100
    at = first[:, None] + np.arange(days) * DAY_US
    inside = (at > edge[:, :1]) & (at < edge[:, -1:])
    got = day_spans(first, onsets, days)
    assert (got[inside] == onsets.span_of(at)[inside] - 1).all()
    assert (got[(at < edge[:, :1]) | (at >= edge[:, -1:])] == -1).all()
