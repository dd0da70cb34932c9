"""The next check in words: how much to draw, how long, which reading means what."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from dialtrue.domain.faults import FAULTS
from dialtrue.domain.port_facts import PortFacts
from dialtrue.engine.observations import LOOKS
from dialtrue.services.check_words import MEANS, check_sentence

GAL_L = 3.785411784
FACTS = PortFacts(
    meter_serial="M-1", endpoint_serial="E-1", port=1, mount="pit", unit="gal", weight_l=10 * GAL_L,
    survey_weight_l=10 * GAL_L, step_l=GAL_L, use_l_day=150 * GAL_L, moved_l=1_000 * GAL_L, waited_l=1_000 * GAL_L,
    dial_then_l=421_370 * GAL_L, dial_capacity_l=1e6 * GAL_L, moving_digits=6,
)  # fmt: skip


def says(look: str, fault: str, runner_up: str, *, parameter: float = math.nan, other: float = math.nan, **facts):
    return check_sentence(
        look, replace(FACTS, **facts), fault=fault, runner_up=runner_up, parameter=parameter, other=other
    )


def test_a_photograph_is_asked_for_with_the_reading_each_cause_predicts() -> None:
    said = says("photo", "weight_decade", "sound", parameter=0.1)
    assert "A dial near 431370: the pulse weight" in said
    assert "near 422370: it counts true" in said


def test_a_photograph_too_early_to_tell_names_the_volume_and_the_days() -> None:
    said = says("photo", "lost_counts", "sound", parameter=0.9, moved_l=9 * GAL_L, waited_l=10 * GAL_L)
    assert "once another" in said
    assert "days at this use" in said
    assert "Dial further on than the index: pulses are missed." in said


def test_a_still_dial_and_a_moved_one_part_the_empty_house_from_the_dead_chain() -> None:
    said = says("photo", "dead_input", "vacant", moved_l=0.0)
    assert "near 422370: the chain is dead" in said
    assert "near 421370: no use is registered" in said


def test_a_draw_for_a_fixed_ratio_is_a_few_ticks_with_both_outcomes() -> None:
    said = says("draw", "weight_decade", "sound", parameter=0.1)
    assert said.startswith("Draw 30.0 gal on the dial (about 6 minutes at a tap).")
    assert "by 3.00 gal: the pulse weight" in said
    assert "by 30.0 gal: it counts true" in said


def test_the_laundry_draws_enough_to_tell_a_decade_from_cubic_feet() -> None:
    # Story 5: 50 gal overlap at six counts of 1 gal, 100 gal do not. Weight 1 gal as set, a look to 1 gal.
    said = says(
        "draw", "weight_decade", "unit_slip", parameter=0.1, other=0.1337, weight_l=GAL_L, survey_weight_l=GAL_L
    )
    assert 50 < float(said.split()[1]) <= 110


def test_a_loss_by_chance_is_counted_over_twenty_ticks_slow_and_fast() -> None:
    said = says("draw", "lost_counts", "sound", parameter=0.8, weight_l=GAL_L)
    assert said.startswith("Draw 20 ticks slowly and 20 fast (20.0 gal each, about 4 minutes at a tap)")


def test_a_large_weight_is_not_drawn_by_hose_for_a_day() -> None:
    said = says("draw", "lost_counts", "sound", weight_l=100 * GAL_L)
    assert said.startswith("Draw 5 ticks slowly and 5 fast")
    assert "a month on" in said


def test_the_valve_stays_shut_until_three_false_counts_are_due() -> None:
    assert says("valve_shut", "steady_counts", "customer_leak", parameter=144_000 * GAL_L).startswith(
        "Shut the valve for 10 minutes"
    )
    # 24 counts a day: three of them take three hours.
    assert "read it again after 3 hours" in says("valve_shut", "steady_counts", "customer_leak", parameter=240 * GAL_L)


def test_a_known_volume_is_weighed_in_the_units_of_the_place() -> None:
    assert "lb" in says("known_volume", "register_mismatch", "sound", parameter=1.5)
    metric = says("known_volume", "register_mismatch", "sound", parameter=1.5, unit="m3", step_l=1.0)
    assert "(20 kg)" in metric


def test_exchanged_endpoints_are_watched_both_by_name() -> None:
    assert "E-1 and E-2: which one moves?" in says("draw_watch_both", "crossed", "sound", other_endpoints=("E-2",))
    assert "hydrant" in says("draw_watch_both", "ports_swapped", "sound")


def test_an_endpoint_claimed_twice_is_settled_between_two_sheets() -> None:
    assert "M-9" in says("desk", "duplicate_serial", "sound", other_meters=("M-9",))


@pytest.mark.parametrize("look", sorted(LOOKS))
@pytest.mark.parametrize("fault", FAULTS)
def test_every_look_has_words_for_every_cause_and_for_a_port_of_which_nothing_is_known(look: str, fault: str) -> None:
    bare = PortFacts(meter_serial="M", endpoint_serial="E", port=1, unit="L")
    for facts in (bare, FACTS):
        for rival in ("sound", "vacant", "not_listed"):
            said = check_sentence(look, facts, fault=fault, runner_up=rival, parameter=math.nan, other=math.nan)
            assert said.endswith((".", "?")), said
            assert "nan" not in said
            assert "inf " not in said
            assert len(said) < 420, said


def test_every_cause_has_a_meaning_on_the_dial() -> None:
    assert set(MEANS) == set(FAULTS)


def test_two_causes_that_a_dial_cannot_part_are_said_together() -> None:
    said = says("photo", "steady_counts", "extra_counts")
    assert "something electrical counts, or pulses count more than once" in said
    assert said.endswith("Dial level with the index: it counts true.")


def test_a_rival_without_a_ratio_does_not_lengthen_the_draw() -> None:
    assert says("draw", "unit_slip", "crossed", parameter=7.4805).startswith("Draw 30.0 gal on the dial")
    assert "it counts true" in says("draw", "unit_slip", "crossed", parameter=7.4805)


def test_a_turned_meter_is_watched_for_its_sign() -> None:
    assert "falls" in says("draw", "meter_reversed", "not_listed")
