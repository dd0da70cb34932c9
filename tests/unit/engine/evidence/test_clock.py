"""The clock: shifts of one port in mid-course, of the whole town, from the first day, and what is no shift."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.domain.faults import COLUMN
from dialtrue.engine.evidence import clock
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.onsets import SPANS, candidate_onsets
from tests.support.cases import case_of, home, reads_of
from tests.support.fleets import Read, fleet_of

DAYS, PORTS = 112, 90


def town(shifted: dict[int, tuple[int, int]]) -> tuple[Case, Block]:
    """Return a town's case and block; ``shifted`` gives (first day, hours) by port."""
    reads: list[Read] = []
    for port in range(PORTS):
        made = reads_of(home(DAYS, seed=1000 + port), channel=port)
        first, hours = shifted.get(port, (DAYS, 0))
        stamped = {int(at + (hours if at >= 24 * first else 0)): value for _, at, value, _ in made}
        reads += [(port, float(at), stamped[at], "") for at in sorted(stamped) if at >= 0]
    case, onsets = case_of(fleet_of(PORTS), reads, days=DAYS + 2)
    return case, clock.weigh(case, onsets)


def test_a_clock_that_jumps_by_five_hours_is_seen_with_size_and_date() -> None:
    _, block = town({7: (56, 5), 11: (56, -4)})
    told = block.at_onset["clock_shift"]
    for port, hours in ((7, 5), (11, -4)):
        assert told[port].max() > 6.0
        assert block.parameter[port, COLUMN["clock_shift"]] == hours * 3600.0
        assert int(told[port].argmax()) == pytest.approx(SPANS // 2, abs=SPANS // 7)
    others = np.delete(np.arange(PORTS), [7, 11])
    assert np.quantile(told[others].max(axis=1), 0.97) < 1.5


def test_what_moves_the_whole_town_is_no_ports_clock() -> None:
    _, block = town(dict.fromkeys(range(PORTS), (56, 1)))
    assert (block.at_onset["clock_shift"].max(axis=1) < 2.5).mean() > 0.95


def test_a_clock_wrong_from_the_first_day_stands_out_among_the_towns_days() -> None:
    _, block = town({5: (0, 8)})
    told = block.at_onset["clock_shift"][:, 0]
    assert 2.0 < told[5] < 3.3, "a hint: somebody may work at night"
    assert int(told.argmax()) == 5
    assert block.parameter[5, COLUMN["clock_shift"]] == 8 * 3600.0


def test_people_who_change_their_hours_move_no_clock() -> None:
    pulses = home(DAYS, seed=3)
    late = pulses.reshape(DAYS, 24).copy()
    # From mid-course on somebody works at night: the morning peak goes, the evening stays.
    late[56:, 12:15] += late[56:, 6:9]
    late[56:, 6:9] = 0
    moves = np.zeros((1, 4, 24))
    for period in range(4):
        moves[0, period] = (late[28 * period : 28 * (period + 1)] > 0).sum(axis=0)
    gain, _ = clock.moved_days(moves, np.full((1, 4, 24), 28.0))
    shifted = moves.copy()
    base = np.stack([(pulses.reshape(DAYS, 24)[28 * p : 28 * (p + 1)] > 0).sum(axis=0) for p in range(4)])
    shifted[0] = base
    shifted[0, 2:] = np.roll(base[2:], 6, axis=1)
    true_gain, shift = clock.moved_days(shifted, np.full((1, 4, 24), 28.0))
    assert true_gain.max() > gain.max() + 3.0
    assert shift[0, 2] == 6


def test_daily_reads_of_one_port_say_next_to_nothing_of_the_clock() -> None:
    case, onsets = case_of(fleet_of(), reads_of(home(60, seed=2), every=24), days=61)
    block = clock.weigh(case, onsets)
    assert abs(block.at_onset["clock_shift"]).max() < 0.5
    assert "do not show" in block.says(0, COLUMN["clock_shift"])[0]


def test_a_clock_set_back_leaves_reads_at_times_already_taken() -> None:
    case, block = town({11: (56, -4)})
    case.scan.figures["clashes"][11] = 4
    case.scan.figures["clashes"][12] = 4
    said = clock.weigh(case, candidate_onsets(case.fleet, case.scan, case.pairs.start_gap)).loglik
    assert said[11, COLUMN["clock_shift"]] > 5.0
    assert said[12, COLUMN["clock_shift"]] == 0.0, "clashes alone are no clock: the hours must have moved as far"
    assert not block.loglik[11].any()
