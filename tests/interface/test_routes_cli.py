"""The command routes: what it prints, what it writes, and that each written row keeps every rule."""

from __future__ import annotations

import csv
import datetime as dt
import json
import os
import re
import signal
import threading
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from benchmarks.bench_routes import write_programme
from dialtrue.domain.routing.travel import straight_km
from dialtrue.interfaces.cli import run
from tests.support.html_pages import Page

pytest.importorskip("pyvrp")
ZONE = ZoneInfo("America/Chicago")
DAY = ["--day", "2026-05-04", "--iterations", "150"]


@pytest.fixture(scope="module")
def programme(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("programme")
    write_programme(folder, visits=60, crews=3)
    text = (folder / "sites.csv").read_text(encoding="utf-8").splitlines()
    cells = text[1].split(",")
    cells[1], cells[2], cells[3] = "<b>1 & Mill</b>", "", ""
    text[1] = ",".join(cells)
    (folder / "sites.csv").write_text("\n".join(text) + "\n", encoding="utf-8")
    return folder


def local_s(text: str) -> float:
    at = dt.datetime.fromisoformat(text).astimezone(ZONE)
    return at.hour * 3600 + at.minute * 60 + at.second


def test_each_row_of_the_file_keeps_every_rule_worked_out_from_the_file_alone(programme: Path, tmp_path: Path) -> None:
    out = tmp_path / "routes.csv"
    assert run(["routes", str(programme), *DAY, "--out", str(out)]) == 3
    with out.open(encoding="utf-8") as source:
        rows = list(csv.DictReader(source))
    with (programme / "sites.csv").open(encoding="utf-8") as source:
        sites = {row["site"]: row for row in csv.DictReader(source)}
    with (programme / "crews.csv").open(encoding="utf-8") as source:
        crews = {row["crew"]: row for row in csv.DictReader(source)}
    assert len(rows) + 1 == len(sites)
    by_crew: dict[str, list[dict[str, str]]] = {}
    for row in rows:
        by_crew.setdefault(row["crew"], []).append(row)
    for name, stops in by_crew.items():
        who = crews[name]
        depot = (float(who["depot_latitude"]), float(who["depot_longitude"]))
        here, now, rested = depot, 7.5 * 3600, False
        assert [int(stop["stop"]) for stop in stops] == list(range(1, len(stops) + 1))
        assert sum(int(stop["endpoints"]) for stop in stops) <= int(who["most_endpoints"])
        for stop in stops:
            site = sites[stop["site"]]
            there = (float(site["latitude"]), float(site["longitude"]))
            drive = straight_km(here, there) * 1.35 / 32 * 3600
            assert float(stop["travel_minutes"]) * 60 == pytest.approx(drive, abs=0.51)
            assert float(stop["travel_km"]) == pytest.approx(straight_km(here, there) * 1.35, abs=0.001)
            arrive, start, leave = (local_s(stop[key]) for key in ("arrive", "start", "leave"))
            rest = 0.0
            if stop["break_at"]:
                assert not rested
                rested, rest = True, 60 * float(stop["break_minutes"])
                assert rest == 1800
                assert 11.5 * 3600 <= local_s(stop["break_at"]) <= 13 * 3600
                assert local_s(stop["break_at"]) >= now
            assert arrive <= start
            assert start >= now + round(drive) + rest
            assert leave - start == 60 * float(stop["job_minutes"])
            if site["window_from"]:
                low, high = (
                    int(site[key][:2]) * 3600 + int(site[key][3:]) * 60 for key in ("window_from", "window_to")
                )
                assert low <= start <= high
            assert rested or leave <= 13 * 3600
            assert set(site["skills"].split()) <= set(who["skills"].split())
            here, now = there, leave
        assert now + straight_km(here, depot) * 1.35 / 32 * 3600 <= 16 * 3600 + 1


def test_the_summary_comes_first_then_what_has_no_place(programme: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["routes", str(programme), *DAY]) == 3
    said = capsys.readouterr()
    lines = said.out.splitlines()
    assert lines[0].startswith("59 of 60 visits have a place:")
    assert max(map(len, lines)) <= 100
    assert "at most" in said.out
    assert "no place on the map 1" in said.out
    assert "Crew 1" in said.out
    assert "Looking for routes" in said.err


def test_the_document_holds_days_stops_reasons_and_gaps(programme: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["routes", str(programme), *DAY, "--json", "--units", "metric"]) == 3
    document = json.loads(capsys.readouterr().out)
    assert document["form"] == "dialtrue.routes/1"
    figures = document["summary"]
    assert figures["placed"] == sum(len(day["stops"]) for day in document["days"]) == 59
    assert 0 < figures["bound_s"] <= figures["travel_s"]
    assert figures["above_bound"] == pytest.approx(figures["travel_s"] / figures["bound_s"] - 1)
    assert [item["reason"] for item in document["no_place"]] == ["no_coordinates"]


@pytest.mark.parametrize(("paper", "size"), [("a4", "size:a4 landscape"), ("letter", "size:letter landscape")])
def test_the_page_has_map_and_list_for_each_day_and_reaches_nowhere(
    programme: Path, tmp_path: Path, paper: str, size: str
) -> None:
    path = tmp_path / "routes.html"
    run(["routes", str(programme), *DAY, "--report", str(path), "--paper", paper])
    text = path.read_text(encoding="utf-8")
    page = Page(text)
    assert size in text
    assert page.problems == []
    assert len(set(page.identities)) == len(page.identities)
    assert set(page.references) <= set(page.identities)
    assert text.count('<svg class="map"') == text.count('role="img"') == text.count('class="crew-day"') - 1
    assert text.count("<th ") == text.count('<th scope="')
    assert not {"script", "img", "link", "iframe"} & set(page.tags)
    assert not [value for _, name, value in page.attributes if name in ("src", "href") and not value.startswith("#")]
    assert "default-src 'none'" in text
    assert "<b>1 & Mill</b>" not in text
    assert "&lt;b&gt;1 &amp; Mill&lt;/b&gt;" in text
    assert text.rindex("No place on the map") > text.rindex("Stops of")


def test_every_stop_of_the_list_has_its_number_on_the_map(programme: Path, tmp_path: Path) -> None:
    path = tmp_path / "routes.html"
    run(["routes", str(programme), *DAY, "--report", str(path)])
    for sheet in path.read_text(encoding="utf-8").split('<section class="crew-day"')[1:]:
        if "<svg" not in sheet:
            continue
        stops = len(re.findall(r'<tr><th scope="row" class="num">\d+</th>', sheet))
        shown: list[int] = []
        for first, last in re.findall(r">(\d+)(?:\N{EN DASH}(\d+))?</text>", sheet):
            shown += range(int(first), int(last or first) + 1)
        assert shown == list(range(1, stops + 1))


def test_the_geojson_has_a_line_a_day_longitude_first(programme: Path, tmp_path: Path) -> None:
    path, left = tmp_path / "routes.geojson", tmp_path / "left.csv"
    run(["routes", str(programme), *DAY, "--geojson", str(path), "--left-out", str(left)])
    document = json.loads(path.read_text(encoding="utf-8"))
    lines = [feature for feature in document["features"] if feature["geometry"]["type"] == "LineString"]
    stops = [feature for feature in document["features"] if "stop" in feature["properties"]]
    assert len(stops) == 59
    for line in lines:
        path_points = line["geometry"]["coordinates"]
        assert path_points[0] == path_points[-1] == [-41.22, 39.49]
        assert len(path_points) == line["properties"]["stops"] + 2
    assert left.read_text(encoding="utf-8").splitlines()[0] == "site,address,reason,says"


def test_nothing_is_written_in_a_dry_run(programme: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["routes", str(programme), *DAY, "--out", str(tmp_path / "r.csv"), "--dry-run"])
    assert "Would write" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["--day", "4 May"], "BAD-ROUTE-DAY"),
        (["--crew", "Nobody", *DAY], "UNKNOWN-CREW"),
        (["--report", "r.pdf"], "UNKNOWN-SUFFIX"),
        (["--paper", "a3"], "use letter or a4"),
        (["--units", "furlongs"], "use us or metric"),
    ],
)
def test_a_mistake_is_told_with_its_code(
    programme: Path, words: list[str], code: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["routes", str(programme), *words]) >= 2
    said = capsys.readouterr().err
    assert code in said
    assert "Traceback" not in said


def test_one_interrupt_ends_the_search_with_the_best_so_far(
    programme: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    if threading.current_thread() is not threading.main_thread():
        pytest.skip("signals reach the main thread only")
    before = signal.getsignal(signal.SIGINT)
    timer = threading.Timer(1.5, os.kill, (os.getpid(), signal.SIGINT))
    timer.start()
    try:
        assert run(["routes", str(programme), "--day", "2026-05-04", "--seconds", "60"]) == 3
    finally:
        timer.cancel()
    said = capsys.readouterr()
    assert "stopped by hand" in said.out
    assert "best routes so far" in said.err
    assert signal.getsignal(signal.SIGINT) is before
