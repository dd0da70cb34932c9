"""The tamper loop, the settings of an input, the parts of a register, minutes and skills of a visit."""

from __future__ import annotations

import json
from fractions import Fraction

import pytest

from dialtrue.domain.hardware.endpoint import Endpoint
from dialtrue.domain.planning.input_settings import input_settings
from dialtrue.domain.planning.parts_list import parts_json, quantity_text
from dialtrue.domain.planning.settings import PlanSettings
from dialtrue.domain.planning.tamper import TAMPER_NOTES, tamper_loop
from dialtrue.domain.planning.visit import tap_flow_lpm, visit_skills, work_minutes
from dialtrue.domain.pulse_chain.timing import flow_limits
from dialtrue.domain.quantity import litres_per
from dialtrue.files.sheets import shipped_catalogue


@pytest.mark.parametrize(
    ("endpoint", "entry", "wires", "left"),
    [
        ("none", "two_wire", 4, "absent"),
        ("per_port", "two_wire", 4, "wired"),
        ("per_port", "two_wire", 2, "bridged"),
        ("per_endpoint", "two_wire", None, "bridged"),
        ("per_port", "shared", 2, "wired"),
    ],
)
def test_a_loop_is_wired_where_the_cable_can_carry_it(endpoint: str, entry: str, wires: int | None, left: str) -> None:
    assert tamper_loop(endpoint_loop=endpoint, input_loop=entry, conductors=wires) == left


def test_what_an_unwired_loop_costs_is_said() -> None:
    for left in ("absent", "bridged"):
        assert "raises no alarm" in TAMPER_NOTES[left]
    assert "18 to 20 AWG" in TAMPER_NOTES["bridged"]
    assert "common practice" in TAMPER_NOTES["bridged"]


def test_settings_begin_with_the_sheet_and_go_on_by_cost() -> None:
    entry = shipped_catalogue().input("contact-3v-47k")
    settings = input_settings(entry)
    assert settings[0].entry is entry
    assert (settings[0].pull_up_ohm, settings[0].debounce_ms) == (47_000.0, 25.0)
    assert len(settings) == 15
    assert [held.new_pull_up for held in settings[1:5]] == [False] * 4
    first = next(held for held in settings if held.new_pull_up and not held.new_debounce)
    assert first.entry.pull_up_ohm is not None
    assert first.entry.pull_up_ohm.low / first.entry.pull_up_ohm.nominal == pytest.approx(0.95)


def test_an_input_without_choices_has_one_setting_and_shows_none() -> None:
    (only,) = input_settings(shipped_catalogue().input("logger-5v-100k"))
    assert (only.pull_up_ohm, only.debounce_ms) == (None, None)


ENDPOINT = Endpoint(
    key="ours",
    ports=2,
    tamper_loop="per_port",
    parts_per_endpoint={"seal": Fraction(1)},
    parts_per_port={"splice": Fraction(2)},
    parts_per_wired_loop={"splice": Fraction(2)},
    parts_per_bridged_loop={"bridge": Fraction(1)},
    parts_per_mount={"pit": {"bracket": Fraction(1, 2)}},
    tools=("pliers",),
    tools_per_mount={"pit": ("hook", "pliers")},
    job_minutes={"pit": 15.0},
    port_minutes=10.0,
)


def parts(**options: object) -> list[tuple[str, str, str]]:
    given: dict[str, object] = {"mount": "pit", "first": True, "tamper_loop": "wired"} | options
    held = json.loads(parts_json(ENDPOINT, **given))  # type: ignore[arg-type]
    return [(part.get("kind", "part"), part["part"], part["quantity"]) for part in held]


def test_the_first_port_carries_the_endpoint_its_mount_and_the_tools() -> None:
    assert parts(cable="awg22-four", run_m="2.5") == [
        ("endpoint", "ours", "1"),
        ("cable", "awg22-four", "2.5"),
        ("part", "seal", "1"),
        ("part", "bracket", "0.5"),
        ("part", "splice", "4"),
        ("tool", "pliers", "1"),
        ("tool", "hook", "1"),
    ]
    assert parts(first=False, tamper_loop="bridged") == [("part", "splice", "2"), ("part", "bridge", "1")]
    assert quantity_text(Fraction(1, 3)) == "0.333333"


def test_minutes_are_the_sheets_unless_the_programme_says_otherwise() -> None:
    settings = PlanSettings(job_minutes={"pit": 20.0})
    assert work_minutes(ENDPOINT, PlanSettings(), mount="pit", first=True) == 15.0
    assert work_minutes(ENDPOINT, settings, mount="pit", first=True) == 20.0
    assert work_minutes(ENDPOINT, settings, mount="pit", first=False) == 10.0
    assert work_minutes(ENDPOINT, settings, mount="pole", first=True) is None


def test_a_draw_flows_as_the_size_allows() -> None:
    gallon = litres_per("gal")
    flows = [tap_flow_lpm(flow_limits(size), PlanSettings()) / gallon for size in ("5/8in", "1in", "2in", "4in")]
    assert flows == [5, 5, 20, 100]
    assert tap_flow_lpm(flow_limits("4in"), PlanSettings(), role="low") == 5 * gallon
    assert tap_flow_lpm(None, PlanSettings()) == 5 * gallon
    assert tap_flow_lpm(flow_limits("5/8in"), PlanSettings(tap_flow_lpm=Fraction(10**6))) == 20 * gallon


@pytest.mark.parametrize(
    ("mount", "size", "compound", "skills"),
    [
        ("pole", "5/8in", False, "night ladder"),
        ("pit", "5/8in", False, "night"),
        ("pit", "DN 80", False, "night confined_space"),
        ("pit", "2in", True, "night confined_space"),
        ("indoor", "4in", True, "night"),
    ],
)
def test_a_vault_and_a_pole_ask_for_skills(mount: str, size: str, compound: bool, skills: str) -> None:
    assert visit_skills("night", PlanSettings(), mount=mount, size=size, compound=compound) == skills
