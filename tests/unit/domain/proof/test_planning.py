"""The planned proof: what it accepts, what it refuses, and how it says so."""

from __future__ import annotations

import random
from fractions import Fraction
from math import floor

import pytest

from dialtrue.domain.errors import ProofFigureRange
from dialtrue.domain.proof.alternatives import alternatives
from dialtrue.domain.proof.planning import LOSS_PULSES, ProofCase, accepted_band, plan_proof
from dialtrue.domain.quantity import litres_per
from tests.support.draw_enumerated import pulse_chances, step_chances

GAL = litres_per("gal")


def case_of(weight: int | Fraction, dial_step: int | Fraction = 1, index_step: int | Fraction = 1, **more) -> ProofCase:
    """Return a case in US gallons at a tap of 8 gal/min."""
    return ProofCase(
        weight_l=weight * GAL,
        dial_step_l=dial_step * GAL,
        index_step_l=index_step * GAL,
        **({"dial_unit": "gal", "flow_lpm": 8 * GAL} | more),
    )


def _accepted(case: ProofCase, plan, ratio: Fraction, source: random.Random) -> bool:
    """Draw the planned amount on a register made here; say whether the index falls into the band."""
    weight, dial_step, index_step = (
        float(volume / GAL) for volume in (case.weight_l, case.dial_step_l, case.index_step_l)
    )
    drawn = float(plan.volume)
    while True:
        start = source.uniform(0, 1000) + 10_000
        end = start + drawn + source.uniform(-dial_step, dial_step)
        if floor(end / dial_step) - floor(start / dial_step) == round(drawn / dial_step):
            break
    phase = source.uniform(0, weight)
    number = floor((end + phase) / weight) - floor((start + phase) / weight)
    counted = weight * float(ratio) * number
    held = source.uniform(0, index_step)
    return plan.counts_low <= floor((held + counted) / index_step + 1e-9) - floor(held / index_step) <= plan.counts_high


@pytest.mark.parametrize(
    "case",
    [case_of(1), case_of(10), case_of(10, 10, 10, flow_lpm=20 * GAL), case_of(Fraction(1, 10), 1, 1)],
    ids=["1 gal", "10 gal", "10 gal on a coarse dial", "0.1 gal"],
)
def test_a_planned_draw_keeps_sound_ports_and_refuses_every_wrong_one(case):
    plan, source = plan_proof(case), random.Random(1)
    assert plan.kind == "draw"
    sound = sum(_accepted(case, plan, Fraction(1), source) for _ in range(3000)) / 3000
    assert sound > 0.984  # 0.99 less three standard errors
    for other in alternatives(case.units)[:8]:
        passes = sum(_accepted(case, plan, other.ratio, source) for _ in range(3000)) / 3000
        assert passes < 0.016, other.words


def test_no_smaller_practical_draw_settles_it():
    case = case_of(10)
    plan = plan_proof(case)
    assert plan.volume == 80
    assert all(accepted_band(case, amount * GAL) is None for amount in range(10, 80, 10))


def test_the_laundry_needs_a_hundred_gallons_to_name_its_fault():
    """Story 5 of the trade notes: 1 pulse a 10 gal, set to 1 gal, dial read to 1 gal (source key COUNT-MODEL)."""

    def counts(drawn: int, weight: Fraction) -> set[int]:
        return set(step_chances(pulse_chances(Fraction(drawn), Fraction(1), weight), Fraction(1), Fraction(1)))

    cubic_foot = litres_per("ft3") / GAL
    assert counts(100, Fraction(10)) == {9, 10, 11}
    assert counts(100, cubic_foot) == {13, 14}
    assert counts(50, Fraction(10)) == {4, 5, 6}
    assert counts(50, cubic_foot) == {6, 7}
    assert accepted_band(case_of(1), 5 * GAL) is None  # a bucket of five gallons settles nothing
    low, high = accepted_band(case_of(1), 100 * GAL)
    assert 98 <= low <= 100 <= high <= 102


def test_from_count_to_count_three_intervals_of_ten_gallons_take_at_most_forty():
    """Trade notes, part C2: 10.0 +/- 0.33 gal a pulse with at most 40 gal drawn."""
    plan = plan_proof(case_of(10, live_count=True))
    assert (plan.kind, plan.pulses, plan.volume) == ("tick_to_tick", 3, 40)
    assert (plan.dial_low, plan.dial_high, plan.counts_low, plan.counts_high) == (29, 31, 30, 30)


def test_from_count_to_count_a_wrong_weight_cannot_move_the_dial_as_told():
    for case in (case_of(1, live_count=True), case_of(10, live_count=True), case_of(10, 10, 10, live_count=True)):
        plan = plan_proof(case)
        blur = case.dial_step_l / GAL + Fraction(8, 60)
        for other in alternatives(case.units):
            if other.ratio:
                moved = plan.pulses * case.weight_l / GAL / other.ratio
                assert moved + blur < plan.dial_low or moved - blur > plan.dial_high, other.words


def test_a_large_weight_is_proved_by_parts_and_a_dated_read():
    plan = plan_proof(case_of(1000, 100, 1000))
    assert (plan.kind, plan.volume, plan.counts_low, plan.counts_high) == ("parts", 0, 10, 10)
    assert "provisional" in plan.sentence
    assert "leave it to use" in plan.sentence


def test_an_index_too_coarse_for_closures_by_hand_says_so():
    plan = plan_proof(case_of(Fraction(1, 10), 1000, 1000))
    assert (plan.kind, plan.counts_high) == ("parts", 0)
    assert "no closing by hand shows" in plan.sentence


def test_the_second_read_waits_for_the_pulses_that_exclude_a_loss_of_five_percent():
    """0.95^59 = 0.0485: fifty-nine faultless pulses (check-value: rule of the trade notes, part C2)."""
    assert 0.95**LOSS_PULSES < 0.05 < 0.95 ** (LOSS_PULSES - 1)
    assert plan_proof(case_of(10)).follow_up_days == 35
    assert plan_proof(case_of(10, use_l_per_day=200 * GAL)).follow_up_days == 25
    assert plan_proof(case_of(100, 10, 100, use_l_per_day=150 * GAL)).follow_up_days == 40
    assert plan_proof(case_of(1000, 10, 100, use_l_per_day=150 * GAL)).follow_up_days == 45


def test_a_small_part_of_a_cubic_metre_is_said_in_litres_too():
    case = ProofCase(
        weight_l=Fraction(10), dial_step_l=Fraction(1), index_step_l=Fraction(1), dial_unit="m3", flow_lpm=Fraction(15)
    )
    assert "0.08 m3 (80 L)" in plan_proof(case).sentence


def test_a_hose_that_cannot_prove_it_is_said():
    assert "hose" in plan_proof(case_of(1, high_flow=True)).sentence


@pytest.mark.parametrize("name", ["weight_l", "dial_step_l", "index_step_l", "flow_lpm"])
def test_a_figure_that_no_meter_can_have_is_refused_by_name(name):
    figures = {"weight_l": GAL, "dial_step_l": GAL, "index_step_l": GAL, "flow_lpm": GAL} | {name: Fraction(0)}
    with pytest.raises(ProofFigureRange, match=name):
        ProofCase(dial_unit="gal", **figures)
