"""The map of a day: everything inside it, nothing on top of anything, whatever the places."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations

import pytest

from dialtrue.domain.routing.day_shape import CrewDay, Place, Stop
from dialtrue.domain.routing.routes_result import RouteDay, RoutesAnswer, RoutesSummary
from dialtrue.files.routes_map import SIDE, route_map
from tests.support.route_days import DAY, crew, visit

NOTHING = RoutesSummary(*[0] * 7, 0.0, *[0] * 4, 0.0, "", *[0] * 6, False)


def drawn(places: list[Place], *, depot: Place = (39.5, -41.2), system: str = "metric") -> str:
    visits = tuple(visit(f"S{k}", place=place) for k, place in enumerate(places))
    stops = tuple(Stop(k, 60, 27_060, 27_060, 28_260) for k in range(len(places)))
    day = RouteDay(CrewDay(crew(depot=depot), DAY, 27_000, stops, 60, 30_000), (1.0,) * len(places), 1.0)
    return route_map(RoutesAnswer(visits, (day,), (), NOTHING, (), {}, (), "UTC", system), day, identity="d1")


def boxes(text: str) -> list[tuple[float, float, float, float]]:
    found = re.findall(r'class="tag" x="([-\d.]+)" y="([-\d.]+)" width="([\d.]+)" height="16"', text)
    return [(float(x), float(y), float(x) + float(w), float(y) + 16) for x, y, w in found]


def spread(count: int) -> list[Place]:
    return [(39.5 + 0.013 * ((7 * k) % count) / count, -41.2 + 0.02 * ((5 * k) % count) / count) for k in range(count)]


@pytest.mark.parametrize("count", [1, 2, 9, 30])
def test_numbers_stay_inside_and_cover_each_other_nowhere(count: int) -> None:
    text = drawn(spread(count))
    found = boxes(text)
    height = float(re.search(r'viewBox="0 0 \d+ (\d+)"', text).group(1)) - 30  # type: ignore[union-attr]
    assert found
    assert all(x >= 0 and y >= 0 and right <= SIDE and low <= height + 1 for x, y, right, low in found)
    covered = [
        (one, two)
        for one, two in combinations(found, 2)
        if min(one[2], two[2]) - max(one[0], two[0]) > 1 and min(one[3], two[3]) - max(one[1], two[1]) > 1
    ]
    assert len(covered) <= len(found) // 10


def test_one_spot_is_one_number_for_all() -> None:
    text = drawn([(39.51, -41.21)] * 12)
    assert ">1\N{EN DASH}12</text>" in text
    assert "nan" not in text
    assert "inf" not in text


def test_sites_at_the_depot_itself_can_be_drawn() -> None:
    text = drawn([(39.5, -41.2)] * 3)
    assert "nan" not in text
    assert "1\N{EN DASH}3" in text


def test_a_far_depot_is_shown_at_the_edge_with_its_distance() -> None:
    text = drawn(spread(6), depot=(39.9, -41.2))
    assert "depot, 43.9\N{NO-BREAK SPACE}km" in text
    near = drawn(spread(6))
    assert "depot, " not in near


def test_the_scale_bar_measures_what_it_says() -> None:
    a, b = (39.5, -41.2), (39.5 + 1 / 111.195, -41.2)
    text = drawn([a, b])
    y = [float(value) for value in re.findall(r'class="dot" cx="[\d.]+" cy="([\d.]+)"', text)]
    width, length = re.search(r'class="bar" d="M8 [\d.]+v5h([\d.]+)v-5"/><text[^>]*>([\d.]+) km', text).groups()  # type: ignore[union-attr]
    assert float(width) / float(length) == pytest.approx(y[0] - y[1], rel=0.01)
    assert " mi</text>" in drawn([a, b], system="us")


def test_north_is_up_and_east_is_right_across_the_date_line() -> None:
    text = drawn([(0.0, 179.99), (0.01, -179.99)], depot=(0.0, 179.99))
    points = re.findall(r'class="dot" cx="([\d.]+)" cy="([\d.]+)"', text)
    (x1, y1), (x2, y2) = ((float(x), float(y)) for x, y in points)
    assert x2 > x1
    assert y2 < y1


def test_words_from_a_file_are_made_harmless() -> None:
    visits = (visit("S0"),)
    stop = Stop(0, 60, 27_060, 27_060, 28_260)
    day = RouteDay(CrewDay(replace(crew(), name="<North & South>"), DAY, 27_000, (stop,), 60, 30_000), (1.0,), 1.0)
    answer = RoutesAnswer(visits, (day,), (), NOTHING, (), {}, (), "UTC", "us")
    text = route_map(answer, day, identity="d1")
    assert "&lt;North &amp; South&gt;" in text
    assert "<North" not in text
