"""Standstills: dead, empty, patchy, late or on holiday; story 11 with its numbers."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.domain.faults import COLUMN
from dialtrue.engine.evidence import silence
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.posterior import combine
from tests.support.cases import Dial, case_of, home, reads_of
from tests.support.fleets import HOUR_US, START_US, Read, fleet_of

DAYS = 80


def weigh(
    reads: list[Read], *, dials: list[Dial] | None = None, days: int = DAYS, **changes: list[float]
) -> tuple[Case, Block]:
    case, onsets = case_of(fleet_of(**changes), reads, days=days + 1, dials=dials or [])
    block = silence.weigh(case, onsets)
    block.fold(case)
    return case, block


def shares(case: Case, block: Block) -> dict[str, float]:
    p = combine([block], case.notes.onset_sum, learn=False).probability[0]
    return {code: float(p[column]) for code, column in COLUMN.items()}


def test_a_home_that_pauses_at_night_only_is_sound() -> None:
    said = shares(*weigh(reads_of(home(DAYS, seed=1))))
    assert said["sound"] > 0.85
    assert said["dead_input"] + said["vacant"] < 0.01


def test_a_holiday_of_nine_days_is_sound() -> None:
    pulses = home(DAYS, seed=2)
    pulses[24 * 30 : 24 * 39] = 0
    said = shares(*weigh(reads_of(pulses)))
    assert max(said, key=said.__getitem__) == "sound"
    assert said["intermittent"] + said["stale_index"] < 0.02


def test_an_index_that_stops_for_good_is_dead_or_empty_by_base_rates_alone() -> None:
    pulses = home(DAYS, seed=3)
    pulses[24 * 40 :] = 0
    case, block = weigh(reads_of(pulses))
    said = shares(case, block)
    assert said["dead_input"] + said["vacant"] > 0.9
    assert 1.0 < said["vacant"] / said["dead_input"] < 4.0
    moved = int(block.since_us[0, COLUMN["dead_input"]])
    assert moved == pytest.approx(START_US + 40 * 24 * HOUR_US, abs=12 * HOUR_US)


def test_a_dial_that_stands_too_speaks_for_the_empty_house() -> None:
    pulses = home(DAYS, seed=3)
    pulses[24 * 40 :] = 0
    total = float(pulses.sum())
    alone = shares(*weigh(reads_of(pulses)))
    looked = shares(*weigh(reads_of(pulses), dials=[(0, 24 * 75.0, total)]))
    assert looked["vacant"] / looked["dead_input"] > 5 * alone["vacant"] / alone["dead_input"]


def test_a_tenant_after_six_weeks_leaves_an_empty_house_in_the_record() -> None:
    pulses = home(DAYS, seed=6)
    pulses[24 * 20 : 24 * 66] = 0
    said = shares(*weigh(reads_of(pulses)))
    assert said["vacant"] > said["sound"]
    assert said["stale_index"] + said["intermittent"] < 0.1


def test_silence_that_catches_up_is_late_news_and_no_dead_input() -> None:
    pulses = home(DAYS, seed=7)
    kept = pulses.copy()
    for first, length in ((30, 4), (50, 6)):
        gap = slice(24 * first, 24 * (first + length))
        pulses[gap.stop] += kept[gap].sum()
        pulses[gap] = 0
    case, block = weigh(reads_of(pulses))
    said = shares(case, block)
    assert said["stale_index"] > 0.9
    assert block.since_us[0, COLUMN["stale_index"]] == pytest.approx(START_US + 30 * 24 * HOUR_US, abs=14 * HOUR_US)


def test_the_repeated_read_of_nine_days_that_caught_up_is_late_news() -> None:
    # Story 11: 451,200 repeated nine days, the tenth 453,310 (+2,110, 211 a day).
    random = np.random.default_rng(11)
    used = np.rint(random.gamma(9.0, 211 / 9.0, 60)).astype(int)
    index = 451_200 + np.cumsum(used) - int(used[:30].sum())
    daily = [int(value) for value in index[:30]] + [451_200] * 9 + [453_310]
    daily += [453_310 + int(value) for value in np.cumsum(used[40:])]
    reads: list[Read] = [(0, 24.0 * day, value, "") for day, value in enumerate(daily)]
    first = reads[0][2]
    case, block = weigh(reads, days=61, use_l_day=[211.0], start_count=[first], dial_fit_l=[float(first)])
    said = shares(case, block)
    assert said["stale_index"] > 0.6
    assert said["dead_input"] + said["intermittent"] < 0.01
    assert block.says(0, COLUMN["stale_index"])[1]["catch_up_l"] == 2110.0


def test_a_joint_that_lets_go_again_and_again_is_patchy_rather_than_sound() -> None:
    pulses = home(DAYS, seed=8)
    random = np.random.default_rng(8)
    for day in range(40, 78, 4):
        first = 24 * day + int(random.integers(0, 24))
        pulses[first : first + int(random.integers(30, 60))] = 0
    case, block = weigh(reads_of(pulses))
    assert block.weight(0, COLUMN["intermittent"], COLUMN["sound"]) > 1.8
    said = shares(case, block)
    assert said["sound"] > said["intermittent"], "without a look at the dial people who come and go are likelier"


def test_many_ports_that_stand_still_together_have_no_bad_joints() -> None:
    reads: list[Read] = []
    ports = 30
    for port in range(ports):
        pulses = home(DAYS, seed=100 + port)
        pulses[24 * 40 : 24 * 43] = 0
        reads += reads_of(pulses, channel=port)
    case, onsets = case_of(fleet_of(ports), reads, days=DAYS + 1)
    block = silence.weigh(case, onsets)
    block.fold(case)
    p = combine([block], case.notes.onset_sum, learn=False).probability
    assert (p[:, COLUMN["intermittent"]] < 0.02).all()
    assert (p[:, COLUMN["dead_input"]] < 0.02).all()


def test_monthly_reads_tell_a_repeat_that_doubles_from_one_that_does_not() -> None:
    random = np.random.default_rng(5)
    used = np.rint(random.gamma(30.0, 9000 / 30.0, 12)).astype(int)
    doubled, dry = used.copy(), used.copy()
    doubled[6] += doubled[5]
    doubled[5] = dry[5] = 0
    told = {}
    for name, steps in (("doubled", doubled), ("dry", dry)):
        index = np.concatenate(([0], np.cumsum(steps)))
        reads: list[Read] = [(0, 24.0 * 30 * month, int(value), "") for month, value in enumerate(index)]
        _, block = weigh(reads, days=365, use_l_day=[300.0])
        told[name] = block.weight(0, COLUMN["stale_index"], COLUMN["sound"])
    assert told["doubled"] > told["dry"] + 3.0
    assert told["dry"] < 1.0


def test_outages_of_hours_hide_between_reads_a_month_apart() -> None:
    random = np.random.default_rng(6)
    index = np.concatenate(([0], np.cumsum(np.rint(random.gamma(30.0, 9000 / 30.0, 12)).astype(int))))
    reads: list[Read] = [(0, 24.0 * 30 * month, int(value), "") for month, value in enumerate(index)]
    _, block = weigh(reads, days=365, use_l_day=[300.0])
    assert block.weight(0, COLUMN["intermittent"], COLUMN["sound"]) > -0.5


def test_marks_of_repeated_reads_speak_for_late_news() -> None:
    reads = [
        (hour[0], hour[1], hour[2], "repeated" if 700 < hour[1] < 820 else "") for hour in reads_of(home(DAYS, seed=9))
    ]
    _, block = weigh(reads)
    assert block.weight(0, COLUMN["stale_index"], COLUMN["sound"]) > 3.0


def test_the_picture_marks_the_longest_standstill() -> None:
    pulses = home(DAYS, seed=2)
    pulses[24 * 30 : 24 * 39] = 0
    case, _ = weigh(reads_of(pulses))
    drawn = silence.picture(case, 0)
    assert drawn is not None
    assert any(mark.kind == "band" for mark in drawn.marks)
    assert "9." in drawn.caption or "8." in drawn.caption


def test_a_visitor_does_not_fill_an_empty_house() -> None:
    pulses = home(160, seed=12)
    pulses[24 * 60 :] = 0
    pulses[24 * 110 + 10] = 2
    case, block = weigh(reads_of(pulses), days=160)
    said = shares(case, block)
    assert max(said, key=said.__getitem__) == "vacant"
    assert said["dead_input"] < 0.05
    assert block.since_us[0, COLUMN["vacant"]] == pytest.approx(START_US + 60 * 24 * HOUR_US, abs=12 * HOUR_US)


def test_a_first_draw_of_one_pulse_makes_up_for_nothing() -> None:
    random = np.random.default_rng(13)
    used = np.rint(random.gamma(5.0, 80 / 5.0, 120)).astype(int)
    used[50:56] = 0
    used[56] = 1
    index = np.concatenate(([0], np.cumsum(used)))
    reads: list[Read] = [(0, 24.0 * day, int(value), "") for day, value in enumerate(index)]
    case, block = weigh(reads, days=121)
    assert shares(case, block)["stale_index"] < 0.01


@pytest.mark.parametrize("seed", range(3))
def test_a_plain_change_is_dated_as_a_general_library_dates_it(seed: int) -> None:
    ruptures = pytest.importorskip("ruptures")
    pulses = home(DAYS, seed=30 + seed)
    pulses[24 * (45 + seed) :] = 0
    _, block = weigh(reads_of(pulses))
    daily = np.sqrt(pulses.reshape(DAYS, 24).sum(axis=1).astype(float))
    found = ruptures.Binseg(model="l2", jump=1).fit(daily).predict(n_bkps=1)[0]
    since = (block.since_us[0, COLUMN["dead_input"]] - START_US) / (24 * HOUR_US)
    assert since == pytest.approx(found, abs=1.0)
