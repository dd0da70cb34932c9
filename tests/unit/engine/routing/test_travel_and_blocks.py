"""Driving times from coordinates and from a table; a programme cut into blocks."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from dialtrue.domain.routing.travel import distance_text, straight_km
from dialtrue.engine.routing.blocks import along_the_town, day_blocks
from dialtrue.engine.routing.travel_matrix import straight_km_matrix, travel_between

PLACES = [(39.5, -41.2), (39.6, -41.2), (39.5, -41.0), (-12.0, 179.9), (-12.0, -179.9)]


def test_the_array_equals_its_scalar_twin() -> None:
    matrix = straight_km_matrix(PLACES)
    for k, one in enumerate(PLACES):
        for m, other in enumerate(PLACES):
            assert matrix[k, m] == pytest.approx(straight_km(one, other), abs=1e-9)
    assert (matrix == matrix.T).all()


def test_a_degree_of_latitude_is_60_nautical_miles_and_the_date_line_no_wall() -> None:
    assert straight_km((0, 0), (1, 0)) == pytest.approx(60 * 1.852, rel=2e-3)
    assert straight_km(PLACES[3], PLACES[4]) == pytest.approx(0.2 * 111.195 * np.cos(np.radians(12)), rel=1e-3)


def test_detour_and_speed_make_minutes() -> None:
    travel = travel_between(PLACES[:2], detour_factor=1.5, mean_speed_kmh=30)
    assert travel.km[0, 1] == pytest.approx(1.5 * 11.1195, rel=1e-4)
    assert travel.seconds[0, 1] == round(travel.km[0, 1] / 30 * 3600)


def test_a_table_may_differ_there_and_back_and_what_it_lacks_is_worked_out() -> None:
    pairs = np.array([[0, 1], [1, 0], [1, 2], [2, 2], [0, 1]])
    travel = travel_between(
        PLACES[:3], detour_factor=1.0, mean_speed_kmh=60, pairs=pairs,
        minutes=np.array([10.0, 20.0, np.nan, 5.0, 12.5]), km=np.array([8.0, np.nan, 3.0, 1.0, np.nan]),
    )  # fmt: skip
    assert travel.seconds[0, 1] == 750
    assert travel.seconds[1, 0] == 1200
    assert travel.seconds[2, 2] == 0
    assert travel.seconds[1, 2] == round(travel_between(PLACES[:3], detour_factor=1, mean_speed_kmh=60).km[1, 2] * 60)
    assert travel.given.sum() == 2
    assert travel.km[0, 1] == 8.0


def test_a_drive_that_no_van_could_do_is_counted() -> None:
    travel = travel_between(
        PLACES[:3], detour_factor=1, mean_speed_kmh=60, pairs=np.array([[0, 1], [0, 2]]),
        minutes=np.array([1.0, 30.0]), km=np.full(2, np.nan),
    )  # fmt: skip
    assert travel.doubtful == 1


def test_neighbours_on_the_curve_are_neighbours_in_town() -> None:
    rng = np.random.default_rng(1)
    places = [(39.5 + float(a), -41.2 + float(b)) for a, b in rng.uniform(0, 0.1, (1000, 2))]
    order = along_the_town(places)
    assert sorted(order.tolist()) == list(range(1000))
    along = np.mean([straight_km(places[a], places[b]) for a, b in pairwise(order.tolist())])
    shuffled = np.mean([straight_km(places[k], places[k + 1]) for k in range(999)])
    assert along < shuffled / 8
    assert len(along_the_town([])) == 0
    assert along_the_town([(1.0, 1.0)] * 3).tolist() == [0, 1, 2]


@pytest.mark.parametrize(("days", "visits"), [(1, 5000), (5, 3000), (20, 1200), (7, 10_000), (3, 1)])
def test_blocks_cover_every_day_once(days: int, visits: int) -> None:
    blocks = day_blocks(days, visits)
    assert [day for block in blocks for day in block] == list(range(days))
    assert all(len(block) for block in blocks)


def test_short_distances_are_told_in_feet_or_metres() -> None:
    assert distance_text(0.05, system="metric") == "50\N{NO-BREAK SPACE}m"
    assert distance_text(160.9344, system="us") == "100\N{NO-BREAK SPACE}mi"
