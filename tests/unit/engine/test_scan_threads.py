"""The scan in runs: cut anywhere, on several threads, scattered by time, or gone on with later."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise

import numpy as np
import pytest

from dialtrue.engine.scan import Scan, Scanner, windows_of
from dialtrue.engine.scan_runs import find_runs
from tests.property.test_watch_scan import same
from tests.support.fleets import HOUR_US, START_US, calendar_of, fleet_of

PORTS, HOURS = 250, 1_000
NOTHING = np.zeros(0, np.int64)
BLANK = np.zeros(0, np.int8)
Reads = tuple[np.ndarray, np.ndarray, np.ndarray]


def scanner(scan: Scan | None = None) -> Scanner:
    fleet = fleet_of(PORTS)
    return Scanner(fleet, calendar_of(45), windows_of(fleet, NOTHING, NOTHING, PORTS), scan=scan)


def fed(reads: Reads, *cuts: int) -> Scan:
    one = scanner()
    for low, high in pairwise([0, *cuts, len(reads[0])]):
        one.feed(*(column[low:high] for column in reads), BLANK)
    return one.finish()


@pytest.fixture(scope="module")
def reads() -> Reads:
    rng = np.random.default_rng(5)
    index = rng.poisson(3.0, (PORTS, HOURS)).cumsum(axis=1)
    channel = np.repeat(np.arange(PORTS, dtype=np.int32), HOURS)
    at = np.tile(START_US + np.arange(HOURS, dtype=np.int64) * HOUR_US, PORTS)
    return channel, at, index.reshape(-1).astype(np.int64)


def test_channels_apart_may_be_counted_at_the_same_time(reads: Reads) -> None:
    one = scanner()
    edges = [0, 60_000, 125_000, 190_000, PORTS * HOURS]
    with ThreadPoolExecutor(4) as pool:
        jobs = [pool.submit(one.feed, *(column[low:high] for column in reads), BLANK) for low, high in pairwise(edges)]
        for job in jobs:
            job.result()
    same(fed(reads), one.finish())


def test_a_batch_sorted_by_time_gives_what_one_sorted_by_port_gives(reads: Reads) -> None:
    order = np.argsort(reads[1], kind="stable")
    same(fed(reads), fed(tuple(column[order] for column in reads), 77_777))  # type: ignore[arg-type]


def test_a_scan_goes_on_from_the_figures_of_an_earlier_one(reads: Reads) -> None:
    early = reads[1] < START_US + 500 * HOUR_US
    first = scanner()
    first.feed(*(column[early] for column in reads), BLANK)
    again = scanner(first.finish())
    again.feed(*(column[~early] for column in reads), BLANK)
    same(fed(reads), again.finish())


def test_runs_end_where_endpoint_or_port_changes() -> None:
    code = np.array([4] * 130 + [4] * 70 + [5] * 64 + [4], np.int32)
    port = np.array([1] * 130 + [2] * 70 + [2] * 64 + [2], np.int32)
    runs = find_runs(code, port)
    assert runs.first.tolist() == [0, 130, 200, 264, 265]
    assert list(zip(runs.code.tolist(), runs.port.tolist(), strict=True)) == [(4, 1), (4, 2), (5, 2), (4, 2)]
    assert find_runs(code, np.array([3], np.int32)).first.tolist() == [0, 200, 264, 265]
