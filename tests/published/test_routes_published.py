"""The search and its bound beside a published instance whose best plan is known."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest

from dialtrue.engine.routing.lower_bound import least_driving
from dialtrue.engine.routing.nearest import nearest_routes
from dialtrue.engine.routing.route_case import RouteCase
from dialtrue.engine.routing.search import Search, found_routes
from tests.support.route_days import DAY, crew, visit

pytest.importorskip("pyvrp")
ROOT = Path(__file__).parents[2]
CASE = tomllib.loads((Path(__file__).parent / "cases" / "cvrp-e-n22-k4.toml").read_text(encoding="utf-8"))


def published() -> RouteCase:
    places = np.array(CASE["places"])
    apart = np.hypot(*(places[:, None, :2] - places[None, :, :2]).transpose(2, 0, 1))
    van = crew(shift_from_s=0, shift_to_s=86_400, break_s=0, most_endpoints=CASE["capacity"])
    stops = tuple(visit(f"S{k}", job_s=1, endpoints=int(load)) for k, (_, _, load) in enumerate(places) if load)
    return RouteCase((van,), tuple((0, DAY) for _ in range(CASE["vans"])), stops, np.rint(apart).astype(np.int64))


def test_the_source_of_the_instance_is_kept() -> None:
    assert f"| {CASE['source']} |" in (ROOT / "docs" / "reference" / "sources.md").read_text(encoding="utf-8")


def test_the_best_plan_is_found() -> None:
    routes = found_routes(published(), Search(iterations=1500)).routes
    assert routes.placed == len(CASE["places"]) - 1
    assert routes.travel_s == CASE["optimum"]


def test_the_bound_is_near_the_best_plan_and_not_above_it() -> None:
    case = published()
    loads = np.array([stop.endpoints for stop in case.visits], dtype=np.float64)
    bound = least_driving(
        case.seconds, 1, most_crew_days=4, endpoints=loads, most_endpoints=np.full(4, float(CASE["capacity"]))
    )
    assert 0.93 * CASE["optimum"] < bound.seconds <= CASE["optimum"]
    assert bound.least_crew_days == CASE["vans"]


def test_the_order_by_nearness_is_no_better_than_the_best_plan() -> None:
    nearest = nearest_routes(published())
    assert nearest.placed < len(CASE["places"]) - 1 or nearest.travel_s >= CASE["optimum"]
