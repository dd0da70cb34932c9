"""Weather: the rank of wet days, story 8 with its numbers, cold joints, and use that follows rain by itself."""

from __future__ import annotations

from itertools import permutations
from math import comb

import numpy as np
import pytest
from scipy.stats import mannwhitneyu

from dialtrue.domain.faults import COLUMN
from dialtrue.engine.evidence import night_floor, rain, rain_days, silence
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.posterior import combine
from tests.support.cases import case_of, home, reads_of
from tests.support.fleets import START_US, fleet_of

DAYS = 60
WET_DAYS = [4, 5, 12, 13, 14, 21, 27, 28, 33, 39, 40, 46, 53, 54]


def wet_hours(days: int, wet: list[int]) -> np.ndarray:
    out = np.zeros(days * 24, np.int8)
    for day in wet:
        out[24 * day : 24 * (day + 1)] = 1
    return out


def weigh(
    pulses: np.ndarray, *, wet: list[int] | None = None, cold: np.ndarray | None = None, every: int = 1
) -> tuple[Case, Block]:
    days = len(pulses) // 24 + 1
    hours = wet_hours(days, WET_DAYS if wet is None else wet)
    case, onsets = case_of(fleet_of(), reads_of(pulses, every=every), days=days, wet=hours, cold=cold)
    return case, rain.weigh(case, onsets)


def damp(pulses: np.ndarray, share: float, *, since: int = 0, seed: int = 0) -> np.ndarray:
    """Add false counts on wet days: clumped, up to ``share`` of the pace in the mean."""
    random = np.random.default_rng(seed)
    out = pulses.copy()
    pace = pulses.sum() / (len(pulses) / 24)
    for day in WET_DAYS:
        if day < since:
            continue
        extra = random.poisson(pace * share * random.gamma(1.5, 1 / 1.5))
        hours = random.integers(0, 24, extra)
        np.add.at(out, 24 * day + hours, 1)
    return out


def test_the_chance_of_the_order_is_that_of_all_orders() -> None:
    assert 1 / rain_days.chance_of_order(9, 21) == pytest.approx(14_307_150)
    wet_first = sum(set(order[:2]) == {0, 1} for order in permutations(range(5)))
    assert rain_days.chance_of_order(2, 3) == pytest.approx(wet_first / 120)
    counts = [22, 17, 9, 31, 4, 12, 16, 8, 7]
    dry = [1] * 3 + [0] * 18
    exact = mannwhitneyu(counts, [d + k * 1e-6 for k, d in enumerate(dry)], alternative="greater", method="exact")
    assert exact.pvalue == pytest.approx(1 / comb(30, 9))


def test_rain_in_an_empty_house_is_damp_and_no_leak() -> None:
    # Story 8: nine wet days with 126 counts, 21 dry ones with 3; w = 10 gal.
    counts = {3: 22, 4: 17, 7: 9, 11: 31, 12: 4, 17: 12, 18: 16, 23: 8, 27: 7}
    pulses = np.zeros(30 * 24, int)
    random = np.random.default_rng(8)
    for day, count in counts.items():
        np.add.at(pulses, 24 * day + random.integers(0, 24, count), 1)
    for day in (1, 14, 21):
        pulses[24 * day + 9] = 1
    weight = 37.85411784
    fleet = fleet_of(
        weight_set_l=[weight],
        weight_meter_l=[weight],
        quantum_index_l=[weight],
        quantum_dial_l=[weight],
        use_l_day=[np.nan],
    )
    case, onsets = case_of(fleet, reads_of(pulses), days=31, wet=wet_hours(31, list(counts)))
    blocks = [silence.weigh(case, onsets), night_floor.weigh(case, onsets), rain.weigh(case, onsets)]
    for block in blocks:
        block.fold(case)
    p = combine(blocks, case.notes.onset_sum, learn=False).probability[0]
    assert int(p.argmax()) == COLUMN["wet_counts"]
    assert p[COLUMN["customer_leak"]] < 0.05
    assert 0.3 < p[COLUMN["wet_counts"]] < 0.95, "first, but stated low: nobody has looked at the dial"


def test_damp_is_seen_in_hourly_and_in_daily_reads() -> None:
    pulses = damp(home(DAYS, seed=1), 1.0, seed=1)
    for every, least in ((1, 2.5), (24, 1.5)):
        _, block = weigh(pulses, every=every)
        assert block.at_onset["wet_counts"][0].max() > least


def test_damp_that_begins_later_is_dated() -> None:
    _, block = weigh(damp(home(DAYS, seed=2), 1.5, since=27, seed=2))
    told = block.at_onset["wet_counts"][0]
    assert int(told.argmax()) * DAYS / 32 == pytest.approx(25, abs=8)
    since = block.since_us[0, COLUMN["wet_counts"]]
    assert since > START_US


def test_dry_homes_do_not_follow_the_weather() -> None:
    for seed in range(8):
        _, block = weigh(home(DAYS, seed=60 + seed))
        assert block.at_onset["wet_counts"][0].max() < 3.0


def test_a_tenth_more_in_the_wet_may_be_habit() -> None:
    pulses = np.full(DAYS * 24, 10)
    pulses[wet_hours(DAYS, WET_DAYS) == 1] = 11
    _, block = weigh(pulses)
    assert block.at_onset["wet_counts"][0].max() < 2.5


def test_a_joint_that_the_cold_opens_is_patchy() -> None:
    pulses = home(DAYS, seed=3)
    cold = np.zeros((DAYS + 1) * 24, np.int8)
    for day in range(0, DAYS, 3):
        cold[24 * day + 4 : 24 * day + 12] = 1
    lost = pulses.copy()
    lost[cold[: len(pulses)] == 1] = 0
    _, sound = weigh(pulses, wet=[], cold=cold)
    _, block = weigh(lost, wet=[], cold=cold)
    assert block.loglik[0, COLUMN["intermittent"]] > 2.0
    assert sound.loglik[0, COLUMN["intermittent"]] < 0.5


def test_counts_that_fail_in_the_wet_speak_for_a_bad_joint() -> None:
    pulses = home(DAYS, seed=4)
    for day in WET_DAYS:
        pulses[24 * day + 3 : 24 * (day + 1)] = 0
    _, block = weigh(pulses)
    assert block.loglik[0, COLUMN["intermittent"]] > 0.7
    assert block.at_onset["wet_counts"][0].max() < 0.5


def test_a_monthly_read_says_nothing_of_the_weather() -> None:
    _, block = weigh(home(DAYS, seed=5), every=24 * 30)
    assert not block.at_onset["wet_counts"].any()


def test_the_wet_share_of_the_volume_is_about_what_was_added() -> None:
    clean = home(DAYS, seed=6)
    wet = damp(clean, 2.0, seed=6)
    case, _ = weigh(wet)
    added = wet.sum() - clean.sum()
    assert case.notes.wet_excess_l[0] == pytest.approx(added, rel=0.4)


def test_the_picture_marks_the_wet_days() -> None:
    case, _ = weigh(damp(home(DAYS, seed=1), 1.0, seed=1))
    drawn = rain.picture(case, 0)
    assert drawn is not None
    assert len(drawn.marks) == len(WET_DAYS)
    assert all(mark.role == "wet" for mark in drawn.marks)
