"""The stamps of reads: a clock told by its last read, its first, its time of day and the dial."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.domain.faults import COLUMN
from dialtrue.engine.evidence import clock, stamps
from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.evidence.pauses import pace_of
from dialtrue.engine.onsets import SPANS, Onsets
from tests.support.cases import Dial, case_of, home
from tests.support.fleets import HOUR_US, START_US, Read, fleet_of

DAYS, PORTS = 60, 80
ODD = 7


def town(
    error_h: float, *, every: int, from_day: float = 0.0, stops_h: float = 0.0, dials: bool = False, ports: int = PORTS
) -> tuple[Case, Onsets]:
    """Return homes read at one minute, of which one has a clock that is fast by ``error_h`` from a day on.

    ``stops_h`` is how much earlier than the others that one falls silent.
    """
    reads: list[Read] = []
    looks: list[Dial] = []
    for port in range(ports):
        index = np.concatenate(([0], np.cumsum(home(DAYS, seed=port))))
        for hour in range(0, DAYS * 24 + 1, every):
            wrong = error_h if port == ODD and hour >= 24 * from_day else 0.0
            if hour + wrong < 0 or (port == ODD and hour > DAYS * 24 - stops_h):
                continue
            reads.append((port, hour + wrong, int(index[hour]), ""))
        if dials:
            looks += [(port, 24.0 * day + 5.0, float(index[24 * day + 5])) for day in (15, 30, 45)]
    reads.sort(key=lambda read: (read[0], read[1]))
    case, onsets = case_of(fleet_of(ports), reads, days=DAYS + 4, dials=looks)
    case.end_us[:] = case.end_us.max()
    return case, onsets


def told(case: Case, onsets: Onsets) -> stamps.Stamped:
    return stamps.weigh_stamps(case, onsets, pace_of(case))


@pytest.mark.parametrize("daily", [False, True])
def test_the_errors_of_a_clock_are_a_distribution(daily: bool) -> None:
    share = stamps.error_shares([-6, -5], daily=daily)
    assert share.sum() == pytest.approx(1.0)
    assert (share > 0).all()
    assert share[np.abs(stamps.ERRORS_H) == 24] == pytest.approx(share[np.abs(stamps.ERRORS_H) == 24][0])


def test_the_zone_is_read_off_the_local_hours() -> None:
    assert stamps.zone_offsets(np.mod(np.arange(72) - 6, 24).astype(np.int8)) == [-6]
    assert stamps.zone_offsets(np.mod(np.arange(72) + 2, 24).astype(np.int8)) == [2]


def test_a_density_leaves_ones_own_value_out() -> None:
    values = np.array([0.0, 10.0, 10.1, 10.2])
    alone, among = stamps.density(np.array([0.0, 10.1]), values, (0.5,), own=True)
    assert alone == 0.0
    assert among == pytest.approx(2 / 4)


@pytest.mark.parametrize("error_h", [5.0, 12.0, 24.0])
def test_a_read_from_the_future_is_a_fast_clocks(error_h: float) -> None:
    said = told(*town(error_h, every=1))
    assert said.best[ODD] > 6.0
    assert said.error_h[ODD] == error_h
    assert np.delete(said.best, ODD).max() < 1.5


def test_a_port_that_fell_silent_a_week_ago_has_no_wrong_clock() -> None:
    said = told(*town(0.0, every=1, stops_h=170.0))
    assert said.best[ODD] < 1.0


def test_a_time_of_day_that_moved_by_half_a_day_is_the_clocks() -> None:
    case, onsets = town(12.0, every=24, from_day=30.0)
    said = told(case, onsets)
    assert said.at_onset[ODD, 1:].max() > 6.0
    assert said.error_h[ODD] == 12.0
    assert np.delete(said.best, ODD).max() < 1.5


def test_a_slow_clock_has_counted_at_its_first_read_what_nobody_drew_since_the_fitting() -> None:
    case, _ = town(-72.0, every=24)
    gain = stamps.first_reads(case, pace_of(case))
    slow = np.flatnonzero(stamps.ERRORS_H == -72.0)[0]
    assert gain[ODD, slow] > 1.5
    assert np.median(gain[:, slow]) < 0.0


def test_the_dial_tells_a_slow_clock_from_a_right_one_and_puts_it_from_the_right_span_on() -> None:
    case, onsets = town(-48.0, every=24, from_day=20.0, dials=True)
    looks = stamps.looks_meanwhile(case, onsets, np.array([ODD, ODD + 1]))
    slow = np.flatnonzero(stamps.ERRORS_H == -48.0)[0]
    begun = np.searchsorted(onsets.at_us[ODD], START_US + 20 * 24 * HOUR_US)
    assert looks[0, begun, slow] > 5.0
    assert looks[0, begun, slow] > looks[0, 0, slow] + 1.0
    assert looks[1, : SPANS // 2, slow].max() < -2.0


def test_a_small_town_has_no_usual_end() -> None:
    case, onsets = town(5.0, every=1, ports=20)
    assert told(case, onsets).best.max() < 1.0


def test_the_words_name_the_error() -> None:
    case, onsets = town(12.0, every=1)
    words, figures = clock.weigh(case, onsets).says(ODD, COLUMN["clock_shift"])
    assert "clock that is wrong" in words
    assert figures["by_stamps_h"] == 12.0
