"""The chances of a draw, against a simulation of the dial, the pulses and the index that shares no code with them."""

from __future__ import annotations

import random
import time
from collections import Counter
from fractions import Fraction
from math import floor

import pytest
from scipy import stats

from dialtrue.domain.proof.index_steps import IndexMove
from tests.support.draw_enumerated import pulse_chances, step_chances

CASES = [
    # weight, dial step, index step, drawn
    (Fraction(10), Fraction(1), Fraction(1), Fraction(100)),
    (Fraction(1), Fraction(1), Fraction(1), Fraction(12)),
    (Fraction(1, 10), Fraction(10), Fraction(10), Fraction(60)),
    (Fraction(7), Fraction(3), Fraction(2), Fraction(45)),
]


def _simulated(weight: float, dial_step: float, index_step: float, drawn: float, count: int) -> tuple[Counter, Counter]:
    """Stop at draws whose dial difference is the one asked for; count pulses and index steps of those."""
    source = random.Random(20261125)
    pulses, steps = Counter(), Counter()
    while pulses.total() < count:
        start = source.uniform(0, 1000) + 10_000
        phase, held = source.uniform(0, weight), source.uniform(0, index_step)
        end = start + drawn + source.uniform(-dial_step, dial_step)
        if floor(end / dial_step) - floor(start / dial_step) != round(drawn / dial_step):
            continue
        number = floor((end + phase) / weight) - floor((start + phase) / weight)
        pulses[number] += 1
        whole = weight / index_step
        held = 0.0 if whole == round(whole) else held
        steps[floor((held + number * weight) / index_step)] += 1
    return pulses, steps


@pytest.mark.parametrize(("weight", "dial_step", "index_step", "drawn"), CASES)
def test_a_simulated_register_gives_the_same_chances(weight, dial_step, index_step, drawn):
    pulses, steps = _simulated(float(weight), float(dial_step), float(index_step), float(drawn), 20_000)
    chances = pulse_chances(drawn, dial_step, weight)
    move = IndexMove(drawn, dial_step, weight, weight, index_step)
    closed = {step: move.within((step, step)) for step in range(max(steps) + 60)}
    for found, expected in ((pulses, chances), (steps, {step: chance for step, chance in closed.items() if chance})):
        assert set(found) <= set(expected)
        common = {number: chance for number, chance in expected.items() if chance * found.total() >= 5}
        rest = 1.0 - sum(common.values())
        seen = [found[number] for number in common] + [found.total() - sum(found[number] for number in common)]
        wanted = [chance * found.total() for chance in common.values()] + [rest * found.total()]
        if wanted[-1] < 5:
            seen[-2:], wanted[-2:] = [seen[-2] + seen[-1]], [wanted[-2] + wanted[-1]]
        assert stats.chisquare(seen, wanted, sum_check=False).pvalue > 1e-4


RATIOS = (Fraction(1), Fraction(2), Fraction(1, 2), Fraction(10), Fraction(0), Fraction(3, 7), Fraction("3.785411784"))


@pytest.mark.parametrize("ratio", RATIOS, ids=str)
def test_the_closed_form_agrees_with_listing_every_pulse(ratio):
    source = random.Random(7)
    for _ in range(60):
        weight = Fraction(source.choice([1, 2, 5, 7, 25, 100]), source.choice([1, 10]))
        dial_step = weight * source.choice([1, 3, 7, 10, 100]) / source.choice([1, 2, 10, 20])
        index_step = weight * source.choice([1, 2, 7, 10, 100]) / source.choice([1, 3, 10, 100])
        drawn = dial_step * source.randint(0, 30)
        listed = step_chances(pulse_chances(drawn, dial_step, weight), ratio * weight, index_step)
        move = IndexMove(drawn, dial_step, weight, ratio * weight, index_step)
        for steps in {*list(listed)[:3], *list(listed)[-3:], max(listed) + 1, 0}:
            expected = sum(chance for number, chance in listed.items() if number >= steps)
            assert move.at_least(steps) == pytest.approx(expected, abs=1e-11)


def test_a_dial_step_of_a_million_pulses_costs_no_more_than_one_of_ten():
    began = time.process_time()
    move = IndexMove(Fraction(2_000_000), Fraction(1_000_000), Fraction(1), Fraction(1), Fraction(1000))
    low, high = move.band_holding(0.99)
    assert time.process_time() - began < 0.5
    # So many pulses are as good as the water itself: triangular, tails of half a percent each.
    tail = 1_000_000 * (2 * 0.005) ** 0.5
    assert low == pytest.approx((1_000_000 + tail) / 1000, abs=1.5)
    assert high == pytest.approx((3_000_000 - tail) / 1000, abs=1.5)


def test_no_water_may_still_give_one_pulse_but_never_takes_one_back():
    move = IndexMove(Fraction(0), Fraction(1), Fraction(10), Fraction(10), Fraction(10))
    assert move.at_least(0) == 1.0
    assert move.within((0, 1)) == pytest.approx(1.0, abs=1e-12)
    assert 0.0 < move.within((1, 1)) < 0.05


def test_a_band_keeps_its_share_and_no_narrower_one_does():
    for weight, dial_step, index_step, drawn in CASES:
        move = IndexMove(drawn, dial_step, weight, weight, index_step)
        low, high = move.band_holding(0.95)
        assert move.within((low, high)) >= 0.95
        assert move.at_least(low + 1) < 0.975 or move.within((0, low)) > 0.025
        assert move.at_least(high) > 0.025
        assert move.at_least(high + 1) <= 0.025
