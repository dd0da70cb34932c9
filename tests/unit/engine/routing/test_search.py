"""The search beside every plan there is, on towns small enough to try them all."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from dialtrue.engine.routing.earlier import earlier
from dialtrue.engine.routing.mending import mended
from dialtrue.engine.routing.nearest import nearest_routes
from dialtrue.engine.routing.route_case import RouteCase, Routes, routes_of
from dialtrue.engine.routing.search import Search, found_routes
from tests.support.route_days import DAY, H, best_plan, crew, faults, random_case, visit

pytest.importorskip("pyvrp")
SHORT = Search(iterations=300)


def all_faults(case: RouteCase, routes: Routes) -> list[str]:
    depots, found = len(case.crews), []
    for crew_day, day in enumerate(routes.days):
        k = case.crew_days[crew_day][0]

        def drive(here: int | None, there: int | None, k: int = k) -> int:
            return case.drive_s(k if here is None else depots + here, k if there is None else depots + there)

        if day.stops:
            found += faults(day, case.visits, drive)
    return found


@pytest.mark.parametrize("seed", range(14))
def test_small_towns_are_planned_as_well_as_by_trying_everything(seed: int) -> None:
    case = random_case(seed)
    placed, driving = best_plan(case)
    routes = found_routes(case, SHORT).routes
    assert all_faults(case, routes) == []
    assert (routes.placed, -routes.travel_s) <= (placed, -driving)
    assert routes.placed == placed
    assert routes.travel_s <= 1.02 * driving


@pytest.mark.parametrize("seed", range(20, 26))
def test_eight_visits_of_one_crew_are_driven_in_the_best_order(seed: int) -> None:
    case = random_case(seed, visits=8, crews=1, rules=False)
    who = crew(shift_to_s=86_400, skills=frozenset({"confined"}))
    case = RouteCase((who,), case.crew_days[:1], tuple(replace(v, job_s=600) for v in case.visits), case.seconds)
    routes = found_routes(case, SHORT).routes
    assert routes.placed == 8
    assert all_faults(case, routes) == []
    assert best_plan(case) == (8, routes.travel_s)


@pytest.mark.parametrize("seed", range(30, 34))
def test_a_larger_town_keeps_every_rule_and_beats_the_order_by_nearness(seed: int) -> None:
    case = random_case(seed, visits=40, crews=5)
    routes, nearest = found_routes(case, SHORT).routes, nearest_routes(case)
    assert all_faults(case, routes) == []
    assert all_faults(case, nearest) == []
    assert (routes.placed, -routes.travel_s) >= (nearest.placed, -nearest.travel_s)
    assert sorted([n for order in routes.orders for n in order] + list(routes.left)) == list(range(40))


def test_the_same_seed_and_rounds_give_the_same_routes() -> None:
    case = random_case(40, visits=40, crews=4)
    assert found_routes(case, SHORT).routes == found_routes(case, SHORT).routes


def test_asked_to_stop_it_gives_the_best_so_far() -> None:
    case = random_case(41, visits=30, crews=4)
    asked = iter([False] * 20)
    found = found_routes(case, Search(seconds=600, stop_asked=lambda: next(asked, True)))
    assert found.stopped
    assert found.rounds == 20
    assert found.routes.placed >= nearest_routes(case).placed
    assert all_faults(case, found.routes) == []


def test_the_progress_runs_to_the_end() -> None:
    told: list[tuple[str, int, int]] = []
    found_routes(
        random_case(42), Search(iterations=50, progress=lambda what, done, total: told.append((what, done, total)))
    )
    assert told[-1][1] == told[-1][2]
    assert [done for _, done, _ in told[:-1]] == sorted(done for _, done, _ in told[:-1])


def test_crews_with_breaks_of_their_own_keep_each_their_own() -> None:
    rng = np.random.default_rng(5)
    seconds = rng.integers(200, 900, (42, 42))
    np.fill_diagonal(seconds, 0)
    team = (crew("A", break_from_s=11 * H, break_to_s=11 * H + 900, break_s=3600), crew("B", break_s=0))
    visits = tuple(
        visit(f"S{k}", job_s=900, **({"window_from_s": 11 * H, "window_to_s": 12 * H} if k % 5 == 0 else {}))
        for k in range(40)
    )
    case = RouteCase(team, ((0, DAY), (1, DAY)), visits, seconds)
    routes = found_routes(case, SHORT).routes
    assert all_faults(case, routes) == []
    assert any(stop.break_at_s is not None for stop in routes.days[0].stops)


def test_mending_takes_out_what_breaks_a_day_and_puts_it_where_it_fits() -> None:
    seconds = np.full((5, 5), 600)
    np.fill_diagonal(seconds, 0)
    visits = (visit("S0", skills=frozenset({"confined"})), visit("S1"), visit("S2", day=DAY.replace(day=5)))
    team = (crew("A"), crew("B", skills=frozenset({"confined"})))
    case = RouteCase(team, ((0, DAY), (1, DAY)), visits, seconds)
    routes = mended(case, [[0, 1, 2], []])
    assert routes.orders[0] + routes.orders[1] in {(1, 0), (0, 1)}
    assert 0 in routes.orders[1]
    assert routes.left == (2,)


def test_an_order_that_breaks_a_rule_gets_no_times() -> None:
    case = RouteCase((crew(),), ((0, DAY),), (visit(job_s=9 * H),), np.zeros((2, 2), np.int64))
    with pytest.raises(ValueError, match="no timetable"):
        routes_of(case, [[0]])


def test_whole_days_move_to_earlier_days_that_stand_empty() -> None:
    seconds = np.full((7, 7), 300)
    np.fill_diagonal(seconds, 0)
    days = [DAY.replace(day=4 + k) for k in range(4)]
    team = (crew("A"), crew("B", skills=frozenset({"confined"})))
    skilled = {"skills": frozenset({"confined"})}
    visits = (visit("S0"), visit("S1", **skilled), visit("S2", **skilled), visit("S3", day=days[3]), visit("S4"))
    case = RouteCase(team, tuple((k, day) for day in days for k in (0, 1)), visits, seconds)
    late = routes_of(case, [[], [0], [], [], [], [1], [3], [2, 4]])
    moved = earlier(case, late, later_day_s=1800)
    assert all_faults(case, moved) == []
    assert sorted(n for order in moved.orders for n in order) == [0, 1, 2, 3, 4]
    assert moved.orders[6] == (3,), "an agreed day stays"
    assert (moved.orders[3], moved.orders[5]) == ((2, 4), (1,)) or (moved.orders[3], moved.orders[5]) == ((1,), (2, 4))
    assert earlier(case, late, later_day_s=0) == late
