"""Twelve pits on one lane: ports, endpoints, splices, metres of cable; a plan of twelve ports is refused."""

from __future__ import annotations

import json
import tomllib
from collections import Counter
from fractions import Fraction
from pathlib import Path

import pytest

from dialtrue.domain.errors import PortMissing
from dialtrue.services.plan import PlanAnswer
from dialtrue.services.plan_check import check_ports
from tests.support.surveys import planned, register, rows_of

STORY = tomllib.loads((Path(__file__).parent / "cases" / "story-twelve-pits.toml").read_text(encoding="utf-8"))
ANSWER = STORY["answer"]


@pytest.fixture(scope="module", params=["us", "metric"])
def lane(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> PlanAnswer:
    us = request.param == "us"
    one = {} if us else {"meter_size": "DN15", "dial_unit": "m3", "dial_digits": 8, "dial_resolution": "0.001",
                         "pulse_weight": "10", "pulse_unit": "L"}  # fmt: skip
    big = one | {"meter_size": "3in" if us else "DN80", "meter_type": "compound"}
    rows = [
        register(f"S{place:02}", f"{417730 + place:08}", cable_length_m=run, **one)
        for place, run in enumerate(STORY["single_runs_m"], start=1)
    ]
    rows += [
        register("S12", "00900012", register_role=role, cable_length_m=run, **big)
        for role, run in zip(("high", "low"), STORY["compound_runs_m"], strict=True)
    ]
    return planned(tmp_path_factory.mktemp("lane"), *rows)


def parts_of(answer: PlanAnswer) -> list[dict[str, str]]:
    return [part for row in rows_of(answer) for part in json.loads(row["parts"])]


def test_every_register_has_a_port_and_the_compound_two_of_one_endpoint(lane: PlanAnswer) -> None:
    assert (lane.counts["ports"], lane.counts["endpoints"]) == (ANSWER["ports"], ANSWER["endpoints"])
    endpoints = Counter(part["part"] for part in parts_of(lane) if part.get("kind") == "endpoint")
    ports = Counter(lane.hardware.endpoints[key].ports for key in endpoints.elements())
    assert ports == {1: ANSWER["one_port"], 2: ANSWER["two_port"]}
    high, low = rows_of(lane)[-2:]
    assert [(row["register_role"], row["port"], row["port_label"]) for row in (high, low)] == [
        ("high", 1, "PORT 1 = HIGH"),
        ("low", 2, "PORT 2 = LOW"),
    ]
    check_ports(lane.sites, lane.plan)


def test_splices_and_cable_are_those_of_the_survey_without_slack(lane: PlanAnswer) -> None:
    splices = sum(Fraction(part["quantity"]) for part in parts_of(lane) if part["part"] == "gel-splice")
    cable = sum(Fraction(part["quantity"]) for part in parts_of(lane) if part.get("kind") == "cable")
    assert splices == ANSWER["splices"]
    assert cable == Fraction(ANSWER["cable_m"])


def test_each_register_is_proved_by_a_draw_of_its_own(lane: PlanAnswer) -> None:
    rows = rows_of(lane)
    assert sum(row["proof_kind"] is not None for row in rows) == ANSWER["draws"]
    assert {row["skills"] for row in rows[-2:]} == {"confined_space"}


def test_twelve_ports_for_thirteen_registers_are_refused(lane: PlanAnswer) -> None:
    check_ports(lane.sites, ANSWER["ports"])
    with pytest.raises(PortMissing, match=ANSWER["refused_with"]):
        check_ports(lane.sites, ANSWER["ports"] - 1)
    with pytest.raises(PortMissing, match=f"site S12, meter 00900012: {ANSWER['refused_with']}"):
        check_ports(lane.sites, lane.plan.slice(0, 12))
