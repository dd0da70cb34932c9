"""The hours of a surplus: each way of counting too much leaves its own day, and a misread look leaves none."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.engine.evidence import hour_kernel as kernel

DAYS = 100
TOWN = np.array([8, 4, 3, 2, 2, 3, 8, 30, 48, 30, 26, 22, 17, 13, 11, 12, 19, 26, 32, 35, 34, 29, 22, 16], float)
TOWN /= TOWN.sum()
SPREAD = np.full(24, 0.5)
QUIET = np.isin(np.arange(24), (1, 2, 3, 4, 5))
NAMES = {
    "steady": kernel.STEADY, "backflow": kernel.BACKFLOW, "extra": kernel.EXTRA, "wet": kernel.WET,
    "double": kernel.DOUBLE,
}  # fmt: skip
USE, RATE = 20.0, 12.0
"""Pulses of water and pulses too many in a day."""


def hours(law: str, *, seed: int) -> np.ndarray:
    """Return (days, 24) counts of a home that draws a pulse or two at a time, with a surplus of one kind."""
    random = np.random.default_rng(seed)
    water = random.poisson(USE / 1.3 * TOWN, (DAYS, 24))
    water = water + random.binomial(water, 0.3)
    still = (water == 0).astype(float)
    if law == "transmitted":
        every = np.zeros(DAYS * 24, int)
        every[::2] = 1
        return water + every.reshape(DAYS, 24)
    if law == "random":
        return water + random.poisson(RATE / 24, (DAYS, 24))
    if law == "machine":
        runs = np.isin(np.arange(24), (13, 14, 15, 16))
        return water + runs * random.poisson(RATE / 4, (DAYS, 24))
    if law == "rocking":
        near = still * (random.random((DAYS, 24)) < 0.35) * np.where(QUIET, 4.0, 1.0)
        return water + random.poisson(near * RATE / near.sum() * DAYS)
    if law == "damp":
        wet = np.repeat(random.random((DAYS, 4)) < 0.15, 6, axis=1) * (random.random((DAYS, 24)) < 0.4)
        return water + random.poisson(wet * RATE / max(wet.sum(), 1) * DAYS)
    if law == "draws":
        return water + random.poisson((water > 0) * RATE / (water > 0).sum() * DAYS)
    if law == "share":
        return water + random.binomial(water, RATE / USE)
    assert law == "none"
    return water


def told(counts: np.ndarray, *, rate: float = RATE) -> np.ndarray:
    out = np.zeros((1, 5))
    mean, share = counts.mean(axis=0)[None], (counts > 0).mean(axis=0)[None]
    kernel.weigh_hours(
        mean, share, np.full((1, 24), float(DAYS)), TOWN, SPREAD, np.array([[1.15, 1.4]]), np.log([0.5, 0.5]), QUIET,
        np.array([mean.sum() - rate]), np.array([rate]), np.ones(1), out, 0, 1,
    )  # fmt: skip
    return out[0]


@pytest.mark.parametrize(
    ("law", "cause"),
    [("transmitted", "steady"), ("random", "steady"), ("machine", "steady"), ("rocking", "backflow"), ("damp", "wet"),
     ("draws", "extra"), ("share", "extra")],
)  # fmt: skip
def test_each_cause_of_a_surplus_is_told_by_its_hours(law: str, cause: str) -> None:
    right = 0
    for seed in range(8):
        value = told(hours(law, seed=seed))
        if cause == "extra":
            # A share that follows the volume looks like a second count of each pulse; its size tells those two apart.
            right += max(value[kernel.EXTRA], value[kernel.DOUBLE]) == value.max()
        else:
            right += int(value.argmax()) == NAMES[cause]
    # Rocking in clumps and damp look alike by their hours: the rain tells them apart.
    assert right >= (5 if law == "rocking" else 7)


def test_counts_at_night_speak_strongly_and_a_share_of_the_water_does_not() -> None:
    at_random, shared = told(hours("random", seed=3)), told(hours("share", seed=3))
    assert at_random[kernel.STEADY] > at_random[kernel.EXTRA] + 5.0
    assert shared[kernel.STEADY] < shared[kernel.EXTRA] - 5.0


def test_a_look_that_was_misread_finds_no_cause_in_the_hours() -> None:
    for seed in range(6):
        value = told(hours("none", seed=seed), rate=0.5 * USE)
        assert max(value[kernel.STEADY], value[kernel.BACKFLOW], value[kernel.WET]) < 1.5


def test_a_home_with_a_leak_is_not_held_against_its_count() -> None:
    random = np.random.default_rng(5)
    counts = hours("none", seed=5) + random.poisson(8.0 / 24, (DAYS, 24))
    # The look says that 12 a day are too many, the hours show 8 that never rest: a leak is a fair other reason.
    assert told(counts)[kernel.STEADY] < 5.0
