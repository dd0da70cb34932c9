"""The scan on two threads: a large batch sorted by port is cut in two, and gives what small batches give."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.engine.scan import WORTH_A_THREAD, Scan, Scanner, windows_of
from tests.support.fleets import HOUR_US, START_US, calendar_of, fleet_of

PORTS, HOURS = 250, 1_000
NOTHING = np.zeros(0, np.int64)


def scan_in(pieces: int, channel: np.ndarray, at: np.ndarray, index: np.ndarray) -> tuple[Scan, list[int]]:
    scanner = Scanner(fleet_of(PORTS), calendar_of(45), windows_of(fleet_of(PORTS), NOTHING, NOTHING, PORTS))
    cuts = []
    for rows in np.array_split(np.arange(len(at)), pieces):
        cuts.append(scanner._cut(channel[rows]))
        scanner.feed(channel[rows], at[rows], index[rows], np.zeros(len(rows), np.int8))
    return scanner.finish(), cuts


@pytest.fixture(scope="module")
def reads() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(5)
    index = rng.poisson(3.0, (PORTS, HOURS)).cumsum(axis=1)
    channel = np.repeat(np.arange(PORTS, dtype=np.int32), HOURS)
    at = np.tile(START_US + np.arange(HOURS, dtype=np.int64) * HOUR_US, PORTS)
    return channel, at, index.reshape(-1).astype(np.int64)


def test_a_batch_cut_in_two_gives_what_small_batches_give(reads: tuple[np.ndarray, ...]) -> None:
    assert PORTS * HOURS > WORTH_A_THREAD
    whole, whole_cuts = scan_in(1, *reads)
    parts, part_cuts = scan_in(7, *reads)
    assert whole_cuts[0] % HOURS == 0
    assert whole_cuts[0] > 0
    assert not any(part_cuts)
    assert np.array_equal(whole.figures, parts.figures)
    assert np.array_equal(whole.day_walk, parts.day_walk, equal_nan=True)
    assert np.array_equal(whole.hour_moves, parts.hour_moves)


def test_a_batch_sorted_by_time_is_not_cut(reads: tuple[np.ndarray, ...]) -> None:
    order = np.argsort(reads[1], kind="stable")
    by_time, cuts = scan_in(1, *(column[order] for column in reads))
    assert cuts == [0]
    assert np.array_equal(by_time.figures, scan_in(1, *reads)[0].figures)


def test_reads_that_nobody_listens_to_may_stand_in_both_parts(reads: tuple[np.ndarray, ...]) -> None:
    channel = reads[0].copy()
    channel[::HOURS] = -1
    whole, cuts = scan_in(1, channel, *reads[1:])
    assert cuts[0] > 0
    assert int(whole.figures["n"].sum()) == PORTS * (HOURS - 1)
