"""The chances of a draw, against a simulation of the dial, the pulses and the index that shares no code with them."""

from __future__ import annotations

import random
from collections import Counter
from fractions import Fraction
from math import floor

import pytest
from scipy import stats

from dialtrue.domain.proof.index_steps import band_holding, pulse_chances, share_within, step_chances

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
    for found, expected in ((pulses, chances), (steps, step_chances(chances, weight, index_step))):
        assert set(found) <= set(expected)
        common = {number: chance for number, chance in expected.items() if chance * found.total() >= 5}
        rest = 1.0 - sum(common.values())
        seen = [found[number] for number in common] + [found.total() - sum(found[number] for number in common)]
        wanted = [chance * found.total() for chance in common.values()] + [rest * found.total()]
        if wanted[-1] < 5:
            seen[-2:], wanted[-2:] = [seen[-2] + seen[-1]], [wanted[-2] + wanted[-1]]
        assert stats.chisquare(seen, wanted, sum_check=False).pvalue > 1e-4


def test_the_chances_of_a_draw_add_to_one():
    for weight, dial_step, index_step, drawn in CASES:
        pulses = pulse_chances(drawn, dial_step, weight)
        assert sum(pulses.values()) == pytest.approx(1.0, abs=1e-12)
        assert sum(step_chances(pulses, weight * 3 / 7, index_step).values()) == pytest.approx(1.0, abs=1e-12)


def test_no_water_may_still_give_one_pulse_but_never_takes_one_back():
    assert set(pulse_chances(Fraction(0), Fraction(1), Fraction(10))) == {0, 1}


def test_a_band_keeps_its_share_and_no_narrower_one_does():
    chances = {number: stats.binom.pmf(number, 40, 0.3) for number in range(41)}
    low, high = band_holding(chances, share=0.95)
    assert (low, high) == stats.binom.interval(0.95, 40, 0.3)
    assert share_within(chances, (low, high)) >= 0.95
