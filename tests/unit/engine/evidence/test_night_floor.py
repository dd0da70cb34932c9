"""Still hours: a leak, a mended one, more people, a second edge, and who never rests."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.domain.faults import COLUMN
from dialtrue.engine.evidence import night_floor, night_share
from dialtrue.engine.evidence.frame import Block
from dialtrue.engine.onsets import SPANS
from dialtrue.engine.posterior import onset_interval
from tests.support.cases import case_of, home, reads_of
from tests.support.fleets import HOUR_US, START_US, fleet_of

DAYS = 80


def block_of(pulses: np.ndarray, *, days: int = DAYS) -> Block:
    case, onsets = case_of(fleet_of(), reads_of(pulses), days=days + 1)
    return night_floor.weigh(case, onsets)


def leaking(pulses: np.ndarray, per_hour: float, first_day: int, last_day: int = DAYS) -> np.ndarray:
    """Add water at a steady rate."""
    hours = slice(24 * first_day, 24 * last_day)
    run = np.floor(np.arange(1, len(pulses[hours]) + 1) * per_hour)
    out = pulses.copy()
    out[hours] += np.diff(run, prepend=0).astype(int)
    return out


@pytest.mark.parametrize("per_hour", [0.4, 0.8, 3.0])
def test_a_leak_shows_in_the_hours_it_leaves_still(per_hour: float) -> None:
    block = block_of(leaking(home(DAYS, seed=1), per_hour, 40))
    leak, use = block.at_onset["customer_leak"][0], block.at_onset["use_change"][0]
    assert leak.max() > 6.0
    assert use.max() < leak.max() - 3.0
    assert int(leak.argmax()) == pytest.approx(1 + SPANS // 2, abs=2)


def test_the_leaks_beginning_is_found_within_days() -> None:
    case, onsets = case_of(fleet_of(), reads_of(leaking(home(DAYS, seed=2), 1.2, 50)), days=DAYS + 1)
    block = night_floor.weigh(case, onsets)
    exact = block.since_us[:, COLUMN["customer_leak"]].copy()
    block.fold(case)
    code = np.array([COLUMN["customer_leak"]])
    since, low, high = onset_interval(case.notes.onset_sum, onsets, code, exact)
    truth = START_US + 50 * 24 * HOUR_US
    assert abs(int(since[0]) - truth) < 3 * 24 * HOUR_US
    assert low[0] - 3 * 24 * HOUR_US <= truth <= high[0] + 3 * 24 * HOUR_US


def test_a_mended_leak_of_a_month_is_told_and_one_of_a_week_is_not() -> None:
    month = block_of(leaking(home(DAYS, seed=3), 2.0, 30, 60)).at_onset["customer_leak"][0].max()
    week = block_of(leaking(home(DAYS, seed=3), 2.0, 30, 37)).at_onset["customer_leak"][0].max()
    assert month > 5.0
    assert week < 2.5
    assert week < month - 3.0


def test_no_leak_is_seen_where_nothing_changes() -> None:
    for seed in range(6):
        block = block_of(home(DAYS, seed=40 + seed))
        assert block.at_onset["customer_leak"][0].max() < 1.5
        assert block.at_onset["use_change"][0].max() < 1.5


def test_twice_the_people_are_a_change_of_use_and_no_leak() -> None:
    few, many = home(DAYS, seed=5, pulses_a_day=20), home(DAYS, seed=6, pulses_a_day=50)
    pulses = np.where(np.arange(DAYS * 24) < 24 * 40, few, many)
    block = block_of(pulses)
    assert block.at_onset["use_change"][0].max() > block.at_onset["customer_leak"][0].max() + 2.0


def test_a_second_edge_leaves_the_still_hours_as_they_are() -> None:
    pulses = home(DAYS, seed=7)
    pulses[24 * 40 :] *= 2
    block = block_of(pulses)
    for code in ("customer_leak", "steady_counts", "use_change"):
        assert block.at_onset[code][0].max() < 1.5


def test_random_counts_fit_random_better_than_steady_water() -> None:
    pulses = home(DAYS, seed=8)
    pulses[24 * 40 :] += np.random.default_rng(8).poisson(0.9, 24 * 40)
    block = block_of(pulses)
    assert block.at_onset["steady_counts"][0].max() > block.at_onset["customer_leak"][0].max()


def test_an_empty_house_that_fills_is_no_leak() -> None:
    pulses = home(DAYS, seed=9)
    pulses[: 24 * 40] = 0
    assert block_of(pulses).at_onset["customer_leak"][0].max() < 1.5


def test_the_towns_quiet_hours_are_found_wherever_they_lie() -> None:
    reads = []
    for port in range(50):
        # All clocks are four hours slow: quiet from eight in the evening.
        reads += reads_of(np.roll(home(30, seed=200 + port), -4), channel=port)
    case, _ = case_of(fleet_of(50), reads, days=31)
    moves = case.scan.hour_moves.sum(axis=1).astype(float)
    steps = case.scan.hour_steps.sum(axis=1).astype(float)
    assert np.flatnonzero(night_share.quiet_hours(moves, steps)).tolist() == [0, 20, 21, 22, 23]


def test_the_usual_part_of_the_night_is_a_distribution() -> None:
    told = night_share.usual_shares(np.zeros(3), np.zeros(3))
    assert np.exp(told).sum() == pytest.approx(1.0)
    assert (np.exp(told) * night_share.SHARES).sum() == pytest.approx(night_share.USUAL_MEAN, abs=0.03)


def test_the_picture_counts_the_days_without_a_still_hour() -> None:
    case, _ = case_of(fleet_of(), reads_of(leaking(home(DAYS, seed=2), 2.0, 60)), days=DAYS + 1)
    drawn = night_floor.picture(case, 0)
    assert drawn is not None
    still = drawn.series[0].y
    assert sum(value == 0 for value in still) >= 15
    assert "no hour passed without a count" in drawn.caption


@pytest.mark.parametrize("seed", range(3))
def test_a_leaks_day_is_the_one_a_general_library_finds(seed: int) -> None:
    ruptures = pytest.importorskip("ruptures")
    pulses = leaking(home(DAYS, seed=70 + seed), 1.0, 44 + seed)
    case, onsets = case_of(fleet_of(), reads_of(pulses), days=DAYS + 1)
    since = night_floor.weigh(case, onsets).since_us[0, COLUMN["customer_leak"]]
    still = (pulses.reshape(DAYS, 24) == 0).sum(axis=1).astype(float)
    found = ruptures.Binseg(model="l2", jump=1).fit(still).predict(n_bkps=1)[0]
    assert (since - START_US) / (24 * HOUR_US) == pytest.approx(found, abs=3.0)
