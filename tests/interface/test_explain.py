"""Explain through the real command: every figure that it prints, against figures worked out by hand."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from dialtrue.interfaces.cli import run
from tests.support.explained import DAYS, LOOK_DAY, write_explained
from tests.support.html_pages import Page


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The programme with a surveyed meter that nothing is fitted to."""
    home = tmp_path_factory.mktemp("explain") / "programme"
    return write_explained(home, extra_sites=["S-X,X-7,single,5/8in,7,0,gal,10,gal"])


@pytest.fixture(scope="module")
def page(folder: Path) -> str:
    """The page of the meter that counts twice."""
    target = folder.parent / "why.html"
    assert run(["explain", str(folder), "00123", "--report", str(target)]) == 0
    return target.read_text(encoding="utf-8")


def explained(folder: Path, capsys: pytest.CaptureFixture[str], *words: str) -> list[dict[str, Any]]:
    """Run the command with ``--json`` and return its ports."""
    capsys.readouterr()
    assert run(["explain", str(folder), *words, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["form"] == "dialtrue.explain/1"
    ports: list[dict[str, Any]] = document["ports"]
    return ports


def test_bits_add_up_to_the_logarithm_of_the_odds(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (port,) = explained(folder, capsys, "00123")
    chance = {item["fault"]: item["probability"] for item in port["chances"]}
    assert port["finding"]["fault"] == "double_count"
    assert port["other"] == "sound"
    for side in ("to_other", "to_runner_up"):
        odds = port[side]
        parts = odds["before"] + odds["together"] + odds["caution"] + sum(say[f"bits_{side}"] for say in port["says"])
        assert parts == pytest.approx(odds["total"], abs=0.02)
    runner_up = port["finding"]["runner_up"]
    assert port["to_runner_up"]["total"] == pytest.approx(
        math.log2(chance["double_count"] / chance[runner_up]), abs=0.01
    )


def test_the_dial_speaks_for_the_double_count(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (port,) = explained(folder, capsys, "00123")
    bits = {say["block"]: say["bits_to_other"] for say in port["says"]}
    assert bits["pairs"] > 5
    assert max(bits, key=lambda name: bits[name]) in ("pairs", "granularity")


def test_look_shows_what_moved_and_the_difference(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (port,) = explained(folder, capsys, "00123")
    fitting, look = port["looks"]
    assert (fitting["dial_text"], fitting["difference"]) == ("0100000", 0.0)
    assert look["dial_text"] == "0102400"
    assert look["index_count"] == 100_000 + LOOK_DAY * 160
    assert look["dial_volume"] == pytest.approx(LOOK_DAY * 80)
    assert look["difference"] == pytest.approx(LOOK_DAY * 80)
    # One gallon of dial, one of index, ten of a pulse; and a time on the full hour is mostly a day without a time, so
    # some hours of use come on top: five hours of 160 gallons a day are 33.
    assert 12.0 + 33.0 <= look["noise"] < 80.0


def test_fingerprint_counts_steps_odd_ones_and_zeros(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (port,) = explained(folder, capsys, "00123")
    assert port["fingerprint"] == {
        "weight_over_resolution": 10,
        "common_divisor": 20,  # steps of 60 and 100 counts
        "steps": 2 * DAYS,
        "odd_steps": 0,
        "zero_steps": 22 * DAYS,
        "short_steps": 24 * DAYS,
    }
    (sound,) = explained(folder, capsys, "00200")
    assert sound["fingerprint"]["common_divisor"] == 10  # steps of 30 and 50 counts
    assert sound["fingerprint"]["odd_steps"] == 2 * DAYS


def test_wet_and_dry_hours_hold_every_count_of_the_port(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (port,) = explained(folder, capsys, "00123")
    weather = port["wet_dry"]
    assert weather["wet_hours"] + weather["dry_hours"] == 24 * DAYS
    held = weather["wet_hours"] * weather["wet_per_hour"] + weather["dry_hours"] * weather["dry_per_hour"]
    assert held == pytest.approx(DAYS * 160)
    # Use does not follow the rain here, so wet hours hold what dry hours of the same time of day would.
    assert weather["wet_per_hour"] == pytest.approx(weather["expected_wet_per_hour"])


def test_day_profile_puts_the_counts_at_seven_and_nineteen(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (port,) = explained(folder, capsys, "00123")
    expected = [0.5 if hour in (7, 19) else 0.0 for hour in range(24)]
    assert port["day_profile"]["port"] == pytest.approx(expected)
    assert port["day_profile"]["town"] == pytest.approx(expected)


def test_terminal_names_every_part_in_a_hundred_columns(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    assert run(["explain", str(folder), "00123"]) == 0
    text = capsys.readouterr().out
    for piece in (
        "Meter 00123, endpoint E-1 port 1", "Leading causes", "double_count", "Dial and index, lined up",
        "Dial 0102400, 102,400 gal", "+2,400", "before any read", "sum", "Every step is a multiple of 20",
        "0 of 80 steps hold an odd number", "880 of 960 short steps moved nothing",
        "this port  000000090000000000090000", "No neighbour's dial explains this index.", "look ",
    ):  # fmt: skip
        assert piece in text, piece
    assert max(map(len, text.splitlines())) <= 100


def test_bars_of_bits_carry_their_sign_without_colour(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    run(["explain", str(folder), "00123"])
    lines = capsys.readouterr().out.splitlines()
    prior = next(line for line in lines if line.startswith("  before any read"))
    pairs = next(line for line in lines if line.startswith("  pairs "))
    assert "--|" in prior
    assert "\N{MINUS SIGN}" in prior
    assert "|++" in pairs


def test_compound_meter_gives_both_registers_unless_one_is_chosen(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    both = explained(folder, capsys, "C-9")
    assert [port["finding"]["register_role"] for port in both] == ["high", "low"]
    assert [port["finding"]["port"] for port in explained(folder, capsys, "C-9", "--role", "low")] == [2]
    assert [port["finding"]["port"] for port in explained(folder, capsys, "C-9", "--port", "1")] == [1]
    assert len(explained(folder, capsys, "C-9", "--endpoint", "E-3")) == 2


@pytest.mark.parametrize(
    ("words", "exit_code", "code", "offered"),
    [
        (["123"], 41, "METER-UNKNOWN", "Did you mean 00123?"),
        (["00132"], 41, "METER-UNKNOWN", "00123"),
        (["E-2"], 41, "METER-UNKNOWN", "fitted to meter 00200"),
        (["nothing like it"], 41, "METER-UNKNOWN", "dialtrue watch"),
        (["X-7"], 42, "METER-NOT-FITTED", "fittings.csv"),
        (["C-9", "--port", "3"], 42, "PORT-UNKNOWN", "endpoint E-3 port 2 (low)"),
        (["C-9", "--role", "single"], 42, "PORT-UNKNOWN", "a single register"),
    ],
)
def test_wrong_choice_is_refused_with_what_would_be_right(
    folder: Path, capsys: pytest.CaptureFixture[str], words: list[str], exit_code: int, code: str, offered: str
) -> None:
    capsys.readouterr()
    assert run(["explain", str(folder), *words]) == exit_code
    said = capsys.readouterr()
    assert said.out == ""
    last = said.err.splitlines()[-1]
    assert last.endswith(f"[{code}]")
    assert offered in last


def test_page_is_whole_runs_nothing_and_reaches_nowhere(page: str) -> None:
    read = Page(page)
    assert read.problems == []
    assert len(read.identities) == len(set(read.identities))
    assert set(read.references) <= set(read.identities)
    assert not {"script", "link", "iframe", "img", "object"} & set(read.tags)
    assert [row for row in read.attributes if row[1].startswith("on") or row[1] in ("src", "tabindex")] == []
    assert "url(" not in page
    assert "//" not in page.replace("http://www.w3.org", "")


def test_page_shows_every_picture_with_its_figures(page: str) -> None:
    words = Page(page).words
    for piece in (
        "Why meter", "Each pulse is counted twice", "Leading causes", "What each block says, in bits",
        "Dial and index since the fitting", "Index less dial at each look", "Registered day by day",
        "Common divisor of each day's steps", "Sizes of the steps", "Wet and dry hours",
        "Hours of the day with a count",
        "All index steps are multiples of 20 counts; the record asks for multiples of 10.",
        "Of 960 short steps 880 moved nothing and 0 held one pulse.", "The day of this port is the town's own.",
        "No neighbour\N{RIGHT SINGLE QUOTATION MARK}s dial explains this index.",
    ):  # fmt: skip
        assert piece in words, piece


def test_each_drawing_has_a_name_a_description_and_a_table_beside_it(page: str) -> None:
    read = Page(page)
    drawings = [value for tag, name, value in read.attributes if (tag, name) == ("svg", "role")]
    assert len(drawings) >= 16  # each picture is drawn for a desk and for a phone
    assert set(drawings) == {"img"}
    assert read.tags.count("desc") >= len(drawings)
    assert page.count(" in figures (") >= 6


def test_page_of_a_compound_meter_holds_both_ports_under_names_of_their_own(folder: Path, tmp_path: Path) -> None:
    target = tmp_path / "both.html"
    assert run(["explain", str(folder), "C-9", "--report", str(target)]) == 0
    read = Page(target.read_text(encoding="utf-8"))
    assert read.problems == []
    assert len(read.identities) == len(set(read.identities))
    assert set(read.references) <= set(read.identities)
    assert {"port-1", "port-2"} <= set(read.identities)
    assert "Endpoint E-3 port 2, low register" in read.words


def test_a_port_that_was_never_heard_is_explained_all_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    home = write_explained(tmp_path / "silent")
    reads = (home / "reads.csv").read_text(encoding="utf-8").splitlines()
    (home / "reads.csv").write_text("\n".join(row for row in reads if not row.startswith("E-2,")) + "\n", "utf-8")
    (port,) = explained(home, capsys, "00200")
    assert port["fingerprint"] is None
    assert port["day_profile"] is None
    assert run(["explain", str(home), "00200", "--report", str(tmp_path / "why.html")]) == 0
    assert Page((tmp_path / "why.html").read_text(encoding="utf-8")).problems == []


def test_an_earlier_day_knows_no_later_look(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (port,) = explained(folder, capsys, "00123", "--as-of", "2026-03-20")
    assert [look["dial_text"] for look in port["looks"]] == ["0100000"]
    assert port["fingerprint"]["steps"] < 2 * 21


def test_dry_run_writes_no_page(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    run(["explain", str(folder), "00200", "--report", str(tmp_path / "why.html"), "--dry-run"])
    assert list(tmp_path.iterdir()) == []
    assert "Would write" in capsys.readouterr().err


def test_a_page_that_is_no_html_is_refused_before_the_work(tmp_path: Path) -> None:
    assert run(["explain", str(tmp_path / "nowhere"), "00123", "--report", str(tmp_path / "why.pdf")]) == 2
