"""The remedy in words: at this mount, with this weight, with these digits."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from dialtrue.domain.faults import FAULTS
from dialtrue.domain.port_facts import PortFacts
from dialtrue.services.remedy_words import remedy_sentence

GAL_L = 3.785411784
PRESS = "Press 042137: the 6 moving digits."
FACTS = PortFacts(
    meter_serial="M-1", endpoint_serial="E-1", port=1, mount="pit", unit="gal", weight_l=GAL_L,
    survey_weight_l=10 * GAL_L, press=PRESS,
)  # fmt: skip


def says(fault: str, parameter: float = math.nan, **facts) -> str:
    return remedy_sentence(fault, replace(FACTS, **facts), parameter=parameter)


def test_the_weight_to_set_is_the_surveys_where_it_differs_from_what_was_told() -> None:
    assert says("weight_decade", 0.1).startswith("Set the pulse weight to 10 gal; the endpoint was told 1 gal.")


def test_the_weight_to_set_follows_from_the_count_where_the_records_agree() -> None:
    said = says("weight_decade", 0.1, survey_weight_l=GAL_L)
    assert said.startswith("Set the pulse weight to 10 gal: the endpoint was told 1 gal")
    assert "face first" in said


def test_the_mount_decides_what_is_done_to_the_joint() -> None:
    assert "gel" in says("dead_input")
    assert "gland" in says("dead_input", mount="wall")


def test_a_bridged_loop_is_no_proof_of_a_whole_cable() -> None:
    assert "raises no alarm" in says("dead_input", tamper_loop="bridged")
    assert "polarity before the cable" in says("dead_input", tamper_loop="wired")
    assert "follow the cable" in says("dead_input", tamper_loop="wired", cut_wire_alarm=True)


def test_a_unit_slip_is_called_by_its_name() -> None:
    assert "US gallons counted as cubic feet" in says("unit_slip", 7.4805)


def test_a_start_slip_says_how_far_and_to_which_side_and_that_nothing_is_to_repair() -> None:
    said = says("start_slip", -2_160 * GAL_L)
    assert said.startswith("It stands 2,160 gal too low; the rate is right")
    assert said.endswith(PRESS)


def test_exchanged_and_doubled_records_name_the_others() -> None:
    assert "E-2" in says("crossed", other_endpoints=("E-2",))
    assert "M-7" in says("duplicate_serial", other_meters=("M-7",))


@pytest.mark.parametrize("fault", FAULTS)
def test_every_cause_has_a_remedy_even_where_nothing_is_known_of_the_port(fault: str) -> None:
    bare = PortFacts(meter_serial="M", endpoint_serial="E", port=1, unit="L")
    for facts in (bare, FACTS):
        for parameter in (math.nan, 0.0, 1.3, -50.0):
            said = remedy_sentence(fault, facts, parameter=parameter)
            assert said.endswith(".")
            assert "nan" not in said
            assert "  " not in said
