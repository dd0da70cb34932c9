"""The times of a day, beside every place that the break could have."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from dialtrue.domain.routing.clock_text import clock_text, seconds_of
from dialtrue.domain.routing.reasons import never_fits, window_text
from dialtrue.domain.routing.timetable import longest_useful_s, may_serve, timetable, van_carries
from tests.support.route_days import DAY, H, by_hand, crew, faults, visit


def drawn(seed: int) -> tuple:
    rng = random.Random(seed)
    who = crew(
        break_s=rng.choice([0, 1800, 3600]), shift_to_s=rng.choice([13, 15, 17]) * H,
        shift_from_s=rng.choice([7, 9]) * H, break_from_s=rng.choice([11 * H, 41_400]),
        break_to_s=rng.choice([12 * H, 13 * H]),
    )  # fmt: skip
    visits = []
    for k in range(rng.randint(1, 6)):
        low = rng.choice([None, 8 * H, 10 * H, 12 * H])
        high = rng.choice([None, (low or 7 * H) + rng.choice([H, 3 * H])])
        visits.append(visit(f"S{k}", job_s=rng.randint(300, 7200), window_from_s=low, window_to_s=high))
    return who, visits, list(range(len(visits))), [rng.randint(0, 2400) for _ in range(len(visits) + 1)]


@pytest.mark.parametrize("block", range(8))
def test_the_timetable_is_the_earliest_there_is_and_keeps_every_rule(block: int) -> None:
    feasible = 0
    for seed in range(60 * block, 60 * block + 60):
        who, visits, order, legs = drawn(seed)
        day = timetable(who, DAY, visits, order, legs)
        expected = by_hand(who, visits, order, legs)
        assert (day is None) == (expected is None), seed
        if day is None:
            continue
        feasible += 1
        assert day.return_s == expected, seed

        def drive(here: int | None, there: int | None, legs: list[int] = legs) -> int:
            return legs[-1] if there is None else legs[there]

        assert faults(day, visits, drive) == [], seed
    assert feasible > 5


def test_of_two_breaks_that_cost_the_same_the_one_nearest_the_middle_is_taken() -> None:
    day = timetable(crew(), DAY, [visit(job_s=900)] * 24, list(range(24)), [0] * 25)
    assert day is not None
    taken = [stop.break_at_s for stop in day.stops if stop.break_at_s is not None]
    assert taken == [12 * H + 900]


def test_a_crew_that_is_done_by_the_latest_start_takes_its_break_afterwards() -> None:
    to_the_latest = 13 * H - 27_000 - 600
    day = timetable(crew(), DAY, [visit(job_s=to_the_latest)], [0], [600, 600])
    assert day is not None
    assert day.stops[0].break_at_s is None
    assert timetable(crew(), DAY, [visit(job_s=to_the_latest + 1)], [0], [600, 600]) is None


def test_the_depot_is_left_so_late_that_nobody_waits_at_the_first_site() -> None:
    day = timetable(crew(), DAY, [visit(window_from_s=10 * H, window_to_s=11 * H)], [0], [600, 600])
    assert day is not None
    assert (day.depart_s, day.stops[0].arrive_s, day.stops[0].start_s) == (10 * H - 600, 10 * H, 10 * H)


def test_back_at_the_last_second_of_the_shift_is_in_time_and_one_later_is_not() -> None:
    who = crew(break_s=0)
    whole = who.shift_to_s - who.shift_from_s
    assert timetable(who, DAY, [visit(job_s=whole - 1200)], [0], [600, 600]) is not None
    assert timetable(who, DAY, [visit(job_s=whole - 1199)], [0], [600, 600]) is None


def test_no_day_holds_more_work_and_driving_than_the_longest_useful_time() -> None:
    for seed in range(400):
        who, visits, order, legs = drawn(seed)
        day = timetable(who, DAY, visits, order, legs)
        if day is not None:
            busy = sum(legs) + sum(visits[n].job_s for n in order)
            assert busy <= longest_useful_s(who, home_s=legs[-1]), seed


def test_skills_days_and_vans_decide_who_may_go() -> None:
    who = crew(skills=frozenset({"confined"}), most_stops=2, most_endpoints=3)
    assert may_serve(who, DAY, visit(skills=frozenset({"confined"})))
    assert not may_serve(who, DAY, visit(skills=frozenset({"confined", "ladder"})))
    assert not may_serve(who, DAY, visit(day=DAY.replace(day=5)))
    assert not may_serve(who, DAY, visit(endpoints=4))
    assert van_carries(who, [visit(), visit(endpoints=2), visit()], [0, 1])
    assert not van_carries(who, [visit(), visit(), visit()], [0, 1, 2])
    assert not van_carries(who, [visit(endpoints=2), visit(endpoints=2)], [0, 1])


@pytest.mark.parametrize(
    ("changes", "reason", "word"),
    [
        ({"skills": frozenset({"crane"})}, "no_skill", "crane"),
        ({"endpoints": 9}, "too_many_endpoints", "9 endpoints"),
        ({"day": DAY.replace(month=6)}, "other_day", "2026-06-04"),
        ({"job_s": 9 * H}, "too_long", "540 min on site and 20 min there and back"),
        ({"window_from_s": 17 * H, "window_to_s": 18 * H}, "window_missed", "17:00 to 18:00"),
        ({"window_to_s": 7 * H}, "window_missed", "until 07:00"),
    ],
)
def test_a_visit_that_fits_no_day_says_why(changes: dict, reason: str, word: str) -> None:
    found = never_fits(visit("S9", **changes), [crew(most_endpoints=8)], [DAY], out_s=[600], home_s=[600])
    assert found is not None
    assert (found.site, found.reason) == ("S9", reason)
    assert word in found.says


def test_a_visit_that_fits_alone_is_not_turned_away() -> None:
    good = visit(window_from_s=8 * H, window_to_s=9 * H)
    assert never_fits(good, [crew()], [DAY], out_s=[600], home_s=[600]) is None
    assert never_fits(replace(good, day=DAY), [crew()], [DAY], out_s=[600], home_s=[600]) is None
    assert window_text(good) == "08:00 to 09:00"


@pytest.mark.parametrize("text", ["24:01", "7.30", "12:60", "", "noon", "12:5", "٠٧:٣٠", "-1:00"])
def test_what_is_no_time_of_day_is_not_taken_for_one(text: str) -> None:
    assert seconds_of(text) is None


@pytest.mark.parametrize(("text", "seconds"), [("0:00", 0), ("07:30", 27_000), ("24:00", 86_400), (" 9:05 ", 32_700)])
def test_a_time_of_day_there_and_back(text: str, seconds: int) -> None:
    assert seconds_of(text) == seconds
    assert seconds_of(clock_text(seconds)) == seconds
