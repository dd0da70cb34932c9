"""The bound on the driving: never above the best plan, and not far below it."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from dialtrue.engine.routing.lower_bound import least_driving


def best_driving(
    seconds: np.ndarray,
    depot_of: list[int],
    depots: int,
    jobs: np.ndarray,
    usable: np.ndarray,
    stops: np.ndarray,
    aboard: np.ndarray,
    endpoints: np.ndarray,
) -> float:
    """Return the least driving over every set and every order, by tables over subsets."""
    count = seconds.shape[0] - depots
    least = np.full((len(depot_of), 1 << count), np.inf)
    for day, depot in enumerate(depot_of):
        least[day, 0] = 0.0
        last = np.full((1 << count, count), np.inf)
        for n in range(count):
            last[1 << n, n] = seconds[depot, depots + n]
        for mask in range(1, 1 << count):
            for n in range(count):
                if not mask >> n & 1 or last[mask, n] == np.inf:
                    continue
                for m in range(count):
                    if not mask >> m & 1:
                        wider = mask | 1 << m
                        way = last[mask, n] + seconds[depots + n, depots + m]
                        last[wider, m] = min(last[wider, m], way)
            inside = [n for n in range(count) if mask >> n & 1]
            drive = min(last[mask, n] + seconds[depots + n, depot] for n in inside)
            fits = drive + jobs[inside].sum() <= usable[day]
            fits &= len(inside) <= stops[day] and endpoints[inside].sum() <= aboard[day]
            least[day, mask] = drive if fits else np.inf
    best = np.full(1 << count, np.inf)
    best[0] = 0.0
    for day in range(len(depot_of)):
        wider = best.copy()
        for mask in range(1 << count):
            rest = ((1 << count) - 1) & ~mask
            part = rest
            while part:
                wider[mask | part] = min(wider[mask | part], best[mask] + least[day, part])
                part = (part - 1) & rest
        best = wider
    return float(best[-1])


def drawn(seed: int) -> tuple:
    rng = np.random.default_rng(seed)
    count, depots, days = int(rng.integers(1, 7)), int(rng.integers(1, 3)), int(rng.integers(1, 4))
    size = depots + count
    if seed % 2:
        place = rng.uniform(0, 2000, (size, 2))
        seconds = np.rint(np.hypot(*(place[:, None] - place[None]).transpose(2, 0, 1))).astype(np.int64)
    else:  # there and back differ, and a way round may be shorter than the straight one
        seconds = rng.integers(0, 2000, (size, size))
    np.fill_diagonal(seconds, 0)
    jobs = rng.integers(0, 3000, count).astype(np.float64)
    usable = rng.integers(3000, 15_000, days).astype(np.float64)
    stops = rng.choice([2.0, 4.0, np.inf], days)
    endpoints, aboard = rng.integers(1, 3, count).astype(np.float64), rng.choice([4.0, 8.0, np.inf], days)
    depot_of = [int(k) for k in rng.integers(0, depots, days)]
    return seconds, depot_of, depots, jobs, usable, stops, aboard, endpoints


@pytest.mark.parametrize("block", range(6))
def test_the_bound_never_lies_above_the_best_plan(block: int) -> None:
    tried, shares = 0, []
    for seed in range(40 * block, 40 * block + 40):
        seconds, depot_of, depots, jobs, usable, stops, aboard, endpoints = drawn(seed)
        best = best_driving(seconds, depot_of, depots, jobs, usable, stops, aboard, endpoints)
        if not np.isfinite(best):
            continue
        bound = least_driving(
            seconds, depots, most_crew_days=len(depot_of), jobs_s=jobs, usable_s=usable, most_stops=stops,
            endpoints=endpoints, most_endpoints=aboard, steps=120,
        )  # fmt: skip
        tried += 1
        assert bound.assignment_s <= best + 1e-6, seed
        assert bound.tree_s <= best + 1e-6, seed
        if best:
            shares.append(bound.seconds / best)
    assert tried > 10
    assert np.median(shares) > 0.8


def test_a_star_of_single_visits_is_bounded_exactly() -> None:
    # Four visits, each as far from the depot, one a day: out and back is all there is.
    angle = np.arange(4) * np.pi / 2
    place = np.vstack([[0, 0], 1000 * np.c_[np.cos(angle), np.sin(angle)]])
    seconds = np.rint(np.hypot(*(place[:, None] - place[None]).transpose(2, 0, 1))).astype(np.int64)
    bound = least_driving(seconds, 1, most_crew_days=4, most_stops=np.ones(4))
    assert bound.least_crew_days == 4
    assert bound.seconds == pytest.approx(8000, rel=1e-3)


def test_nothing_to_drive_and_places_on_one_spot_are_bounded_by_zero() -> None:
    assert least_driving(np.zeros((1, 1), np.int64), 1, most_crew_days=1).seconds == 0
    assert least_driving(np.zeros((6, 6), np.int64), 1, most_crew_days=2).seconds == pytest.approx(0, abs=1e-6)


def test_the_same_input_gives_the_same_bound() -> None:
    seconds, depot_of, depots, jobs, usable, *_ = drawn(5)
    one, two = (
        least_driving(seconds, depots, most_crew_days=len(depot_of), jobs_s=jobs, usable_s=usable) for _ in range(2)
    )
    assert one == two


@pytest.mark.parametrize("steps", [0, 1, 7])
def test_stopping_early_still_leaves_a_bound(steps: int) -> None:
    for seed in range(0, 60, 3):
        case = drawn(seed)
        best = best_driving(*case)
        if np.isfinite(best):
            seconds, depot_of, depots, jobs, usable, *_ = case
            bound = least_driving(
                seconds, depots, most_crew_days=len(depot_of), jobs_s=jobs, usable_s=usable, steps=steps
            )
            assert bound.seconds <= best + 1e-6, seed


def test_more_crew_days_on_offer_never_raise_the_bound_above_one_tour() -> None:
    rng = np.random.default_rng(3)
    place = rng.uniform(0, 1000, (7, 2))
    seconds = np.rint(np.hypot(*(place[:, None] - place[None]).transpose(2, 0, 1))).astype(np.int64)
    tour = min(
        seconds[0, order[0]] + sum(seconds[a, b] for a, b in itertools.pairwise(order)) + seconds[order[-1], 0]
        for order in itertools.permutations(range(1, 7))
    )
    for days in (1, 3, 6):
        assert least_driving(seconds, 1, most_crew_days=days).seconds <= tour + 1e-6
