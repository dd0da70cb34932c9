"""Routes of a programme folder: what is read, what has no place and why, what is said."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from dialtrue.domain.errors import UnknownRepair
from dialtrue.domain.errors.routes import (
    BadRouteSetting,
    DistancesOfNowhere,
    NoCrew,
    NothingToRoute,
    UnknownCrew,
    UnknownRouteSetting,
)
from dialtrue.domain.routing.route_settings import RouteSettings
from dialtrue.domain.routing.route_words import assumption_sentence, summary_text, yardstick_sentences
from dialtrue.domain.routing.routes_result import RoutesAnswer
from dialtrue.engine.routing import blocks
from dialtrue.files.routes_out import routes_table
from dialtrue.services import route_blocks
from dialtrue.services.route_crews import days_out
from dialtrue.services.routes import route_folder, van_days
from tests.support.folders import with_files

pytest.importorskip("pyvrp")
AT = dt.datetime(2026, 5, 1, tzinfo=dt.UTC)
MONDAY = dt.date(2026, 5, 4)
HEAD = (
    "site,address,latitude,longitude,mount,meter_serial,register_role,dial_digits,dial_unit,pulse_weight,pulse_unit,"
    "visit_day,window_from,window_to,skills"
)
PLAN_HEAD = "site,meter_serial,register_role,status,verdict,endpoint_number,job_minutes,skills,parts"
CREWS = "crew,depot_latitude,depot_longitude,skills\nNorth,39.5,-41.2,confined\nSouth,39.5,-41.2,\n"


def site(
    number: int, *, lat: str = "", day: str = "", window: str = ",", skills: str = "", role: str = "single"
) -> str:
    """Return one register; sites lie a kilometre or so apart."""
    at = lat if lat else f"{39.5 + 0.01 * number:.3f}"
    place = "," if lat == "none" else f"{at},-41.2"
    return f"S{number},{number} Mill Lane,{place},pit,{number:05d}{role[0]},{role},6,gal,10,gal,{day},{window},{skills}"


def planned(number: int, minutes: str = "20", *, verdict: str = "fits", role: str = "single", more: str = ",") -> str:
    return f"S{number},{number:05d}{role[0]},{role},planned,{verdict},1,{minutes},{more}"


def laid(folder: Path, sites: list[str], *, plan: list[str] | None = None, **files: str) -> RoutesAnswer:
    rows = plan if plan is not None else [planned(number) for number in range(1, 20)]
    with_files(
        folder, sites_csv="\n".join([HEAD, *sites]) + "\n", plan_csv="\n".join([PLAN_HEAD, *rows]) + "\n",
        **({"crews_csv": CREWS} | files),
    )  # fmt: skip
    return route_folder(folder, at=AT, first_day=MONDAY, iterations=60)


def why(answer: RoutesAnswer) -> dict[str, str]:
    return {item.site: item.reason for item in answer.no_place}


def test_every_visit_has_a_place_or_a_reason(tmp_path: Path) -> None:
    answer = laid(
        tmp_path,
        [
            site(1), site(2, window="08:00,09:00"), site(3, lat="none"), site(4, window="14:00,10:00"),
            site(5, window="25:00,"), site(6, skills="crane"), site(7, window="18:00,19:00"),
            site(8, day="2026-06-04"), site(9), site(10),
        ],
        plan=[*(planned(n) for n in range(1, 9)), planned(9, "600"), planned(10, verdict="does_not_fit")],
    )  # fmt: skip
    assert why(answer) == {
        "S3": "no_coordinates", "S4": "bad_window", "S5": "bad_window", "S6": "no_skill", "S7": "window_missed",
        "S8": "other_day", "S9": "too_long", "S10": "nothing_fits",
    }  # fmt: skip
    assert sorted(van_days(answer)) == ["S1", "S2"]
    assert answer.summary.visits == 10
    assert answer.no_place[-1].site == "S3", "what is not on the map stands last"
    assert "14:00 to 10:00" in next(item.says for item in answer.no_place if item.site == "S4")
    assert summary_text(answer).startswith("2 of 10 visits have a place")


def test_the_registers_of_a_site_are_one_visit_with_the_minutes_parts_and_skills_of_all(tmp_path: Path) -> None:
    entries = [("endpoint", "two-port", "1"), ("cable", "pair", "3.5"), ("part", "splice", "2"), ("tool", "hose", "1")]
    listed = json.dumps([{"kind": kind, "part": part, "quantity": quantity} for kind, part, quantity in entries])
    parts = '"' + listed.replace('"', '""') + '"'
    answer = laid(
        tmp_path, [site(1, role="high"), site(1, role="low"), site(2)],
        plan=[planned(1, "30", role="high", more=f"confined,{parts}"), planned(1, "15.5", role="low"), planned(2)],
    )  # fmt: skip
    table = routes_table(answer).to_pylist()
    one = next(row for row in table if row["site"] == "S1")
    assert (one["registers"], one["job_minutes"], one["parts"], one["crew"]) == (2, 45.5, 3, "North")
    assert one["leave"] - one["start"] == dt.timedelta(minutes=45.5)


def test_times_are_local_on_the_wall_and_utc_in_the_file(tmp_path: Path) -> None:
    answer = laid(tmp_path, [site(1, window="08:00,08:00")], programme_toml='timezone = "America/Chicago"\n')
    row = routes_table(answer).to_pylist()[0]
    assert row["start"].astimezone(ZoneInfo("America/Chicago")).strftime("%H:%M") == "08:00"
    assert row["start"].hour == 13


def test_a_site_that_is_fitted_is_done_until_it_is_asked_for(tmp_path: Path) -> None:
    fittings = "meter_serial,register_role,endpoint_serial,fitted_at,removed_at\n00001s,single,E1,2026-04-01,\n"
    fittings += "00002s,single,E2,2026-04-01,2026-04-20\n"
    answer = laid(tmp_path, [site(1), site(2)], fittings_csv=fittings)
    assert list(van_days(answer)) == ["S2"]
    assert answer.summary.done == 1
    both = route_folder(tmp_path, at=AT, first_day=MONDAY, iterations=10, fitted_too=True)
    assert sorted(van_days(both)) == ["S1", "S2"]
    (tmp_path / "sites.csv").write_text(f"{HEAD}\n{site(1)}\n", encoding="utf-8")
    with pytest.raises(NothingToRoute, match="--all"):
        route_folder(tmp_path, at=AT, first_day=MONDAY)


def test_without_a_plan_one_is_made_on_the_spot(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=f"{HEAD}\n{site(1)}\n")
    answer = route_folder(tmp_path, at=AT, first_day=MONDAY, iterations=10)
    assert answer.summary.placed == 1
    assert answer.summary.jobs_s > 300
    assert any("plan made on the spot" in sentence for sentence in answer.said)
    assert any("no depot" in sentence for sentence in answer.said)


def test_a_plan_without_minutes_leaves_the_mount_to_say_how_long(tmp_path: Path) -> None:
    toml = "[routes.job_minutes]\npit = 33\n"
    answer = laid(tmp_path, [site(1), site(2)], plan=[planned(1, ""), planned(2)], programme_toml=toml)
    minutes = {row["site"]: row["job_minutes"] for row in routes_table(answer).to_pylist()}
    assert minutes == {"S1": 33, "S2": 20}
    assert any("gives no minutes for 1 of 2" in sentence for sentence in answer.said)


@pytest.mark.parametrize(
    ("row", "word"),
    [
        ("North,16:00,07:00,,,,39.5,-41.2", "ends (07:00) before it begins (16:00)"),
        ("North,half past seven,16:00,,,,39.5,-41.2", "no time of day"),
        ("North,07:30,16:00,30,13:00,11:00,39.5,-41.2", "may begin until 11:00 but not before 13:00"),
        ("North,07:30,08:00,30,,,39.5,-41.2", "as long as its shift"),
        ("North,07:30,16:00,30,,,39.5,", "latitude or longitude only"),
        ("South,08:00,16:00,30,,,39.5,-41.2", "named twice"),
    ],
)
def test_a_crew_that_cannot_be_used_is_named_and_the_rest_still_planned(tmp_path: Path, row: str, word: str) -> None:
    head = "crew,shift_from,shift_to,break_minutes,break_from,break_to,depot_latitude,depot_longitude\n"
    good = "South,07:30,16:00,30,11:30,13:00,39.5,-41.2\n"
    answer = laid(tmp_path, [site(1)], crews_csv=head + good + row + "\n")
    assert any(word in sentence for sentence in answer.said)
    assert van_days(answer) == {"S1": ("South", MONDAY)}


def test_no_crew_at_all_is_an_error_that_says_why(tmp_path: Path) -> None:
    with pytest.raises(NoCrew, match="before it begins"):
        laid(tmp_path, [site(1)], crews_csv="crew,shift_from,shift_to\nNorth,16:00,07:00\n")


def test_crews_can_be_chosen_and_a_stranger_is_told_the_names(tmp_path: Path) -> None:
    laid(tmp_path, [site(1), site(2)])
    answer = route_folder(tmp_path, at=AT, first_day=MONDAY, iterations=10, crews=["South"])
    assert {crew for crew, _ in van_days(answer).values()} == {"South"}
    with pytest.raises(UnknownCrew, match="North, South"):
        route_folder(tmp_path, at=AT, first_day=MONDAY, crews=["Nroth"])


def test_distances_are_used_where_they_are_and_counted(tmp_path: Path) -> None:
    table = "from_site,to_site,minutes,km\ndepot:South,S1,11,7.5\nS1,depot:South,22,\nS1,S2,400,\nS9,S1,3,\n"
    crews = "crew,depot_latitude,depot_longitude\nSouth,39.5,-41.2\n"
    answer = laid(tmp_path, [site(1)], distances_csv=table, crews_csv=crews)
    day = answer.days[0]
    assert (day.times.stops[0].travel_s, day.times.home_travel_s) == (660, 1320)
    assert day.km == (7.5,)
    assert (answer.summary.pairs, answer.summary.pairs_given) == (2, 2)
    sentence = assumption_sentence(answer, detour_factor=1.35, mean_speed_kmh=32)
    assert sentence == "All drives come from the distance table."
    partly = laid(
        tmp_path, [site(1)], distances_csv=table.replace("S1,depot:South,22", "S1,depot:East,22"), crews_csv=crews
    )
    assert partly.summary.pairs_given == 1
    assert any("depot:East" in sentence for sentence in partly.said)


def test_a_pair_without_minutes_and_one_below_zero_fall_back_to_the_coordinates(tmp_path: Path) -> None:
    table = "from_site,to_site,minutes,km\ndepot:North,S1,,3\nS1,depot:North,-4,\nS1,S2,5,\n"
    answer = laid(tmp_path, [site(1)], distances_csv=table)
    plain = laid(tmp_path, [site(1)], distances_csv="from_site,to_site,minutes\nS1,S1,9\n")
    assert answer.days[0].times.travel_s == plain.days[0].times.travel_s
    assert answer.bad_rows == {"distances.csv": 1}
    assert answer.summary.pairs_given == plain.summary.pairs_given == 0


def test_distances_of_another_place_are_refused(tmp_path: Path) -> None:
    with pytest.raises(DistancesOfNowhere, match="node-1"):
        laid(tmp_path, [site(1)], distances_csv="from_site,to_site,minutes\nnode-1,node-2,4\n")


def test_a_matrix_that_no_van_could_keep_leaves_the_visit_without_a_place(tmp_path: Path) -> None:
    table = "from_site,to_site,minutes\n" + "".join(f"depot:{crew},S1,600\n" for crew in ("North", "South"))
    assert why(laid(tmp_path, [site(1), site(2)], distances_csv=table)) == {"S1": "too_long"}


def test_more_visits_than_the_days_hold_are_listed_as_without_room(tmp_path: Path) -> None:
    rows, plan = [site(n) for n in range(1, 20)], [planned(n, "120") for n in range(1, 20)]
    answer = laid(tmp_path, rows, plan=plan)
    assert 4 <= answer.summary.placed <= 8
    assert set(why(answer).values()) == {"no_room"}
    longer = route_folder(tmp_path, at=AT, first_day=MONDAY, days=4, iterations=60)
    assert longer.summary.placed == 19
    assert {day.times.day.isoformat() for day in longer.days} <= {f"2026-05-0{k}" for k in (4, 5, 6, 7)}


def test_an_agreed_day_is_kept(tmp_path: Path) -> None:
    laid(tmp_path, [site(1, day="2026-05-05"), site(2, day="2026-05-04"), site(3)])
    answer = route_folder(tmp_path, at=AT, first_day=MONDAY, days=2, iterations=60)
    days = {name: day for name, (_, day) in van_days(answer).items()}
    assert days["S1"] == dt.date(2026, 5, 5)
    assert days["S2"] == MONDAY


def test_a_long_programme_is_planned_in_blocks_and_loses_nobody(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(route_blocks, "day_blocks", lambda days, visits: blocks.day_blocks(days, visits, most=5))
    laid(tmp_path, [*(site(n) for n in range(1, 18)), site(18, day="2026-05-06"), site(19, lat="none")])
    answer = route_folder(tmp_path, at=AT, first_day=MONDAY, days=3, iterations=90)
    assert answer.summary.blocks == 3
    assert sorted([*van_days(answer), *why(answer)]) == sorted(f"S{n}" for n in range(1, 20))
    assert van_days(answer)["S18"][1] == dt.date(2026, 5, 6)
    assert "blocks of days" in " ".join(yardstick_sentences(answer))


def test_the_same_rounds_and_seed_give_the_same_file(tmp_path: Path) -> None:
    rows = [site(n) for n in range(1, 16)]
    assert routes_table(laid(tmp_path, rows)).equals(routes_table(laid(tmp_path, rows)))


@pytest.mark.parametrize(
    ("toml", "error", "word"),
    [
        ("[routes]\nmean_sped_kmh = 30\n", UnknownRouteSetting, "mean_speed_kmh"),
        ("[routes]\ndetour_factor = 0.5\n", BadRouteSetting, "from 1 to 5"),
        ('[routes]\nmean_speed_kmh = "30"\n', BadRouteSetting, "without quotes"),
        ("[routes]\ndepot_latitude = 39.5\n", BadRouteSetting, "both"),
        ("[routes.job_minutes]\nroof = 5\n", UnknownRouteSetting, "pit"),
        ("[routes.job_minutes]\npit = nan\n", BadRouteSetting, "from 1 to 720"),
        ('[routes]\nwork_days = "monday"\n', BadRouteSetting, "mon tue"),
        ('[routes]\nholidays = ["3 July"]\n', BadRouteSetting, "2026-07-03"),
        ("routes = 3\n", BadRouteSetting, "a table"),
        ("[routes]\njob_minutes = 3\n", BadRouteSetting, "a table"),
    ],
)
def test_a_setting_that_means_nothing_is_refused(tmp_path: Path, toml: str, error: type[Exception], word: str) -> None:
    with pytest.raises(error, match=word):
        laid(tmp_path, [site(1)], programme_toml=toml)


def test_holidays_and_weekends_are_passed_over_after_the_first_day() -> None:
    settings = RouteSettings(holidays=("2026-05-05",))
    assert [day.day for day in days_out(dt.date(2026, 5, 3), 4, settings)] == [3, 4, 6, 7]


def test_registers_of_one_site_that_lie_far_apart_are_told(tmp_path: Path) -> None:
    answer = laid(tmp_path, [site(1, role="high"), site(1, role="low", lat="39.6")])
    assert any("apart" in sentence for sentence in answer.said)


def test_a_repair_that_nothing_offers_is_refused(tmp_path: Path) -> None:
    laid(tmp_path, [site(2)])
    with pytest.raises(UnknownRepair, match="nothing needs repair"):
        route_folder(tmp_path, at=AT, first_day=MONDAY, iterations=10, accept=["zeros:sites:1"])
