"""Dial reads laid beside the index: what each has moved since the fitting, and how sure that is."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.engine.fleet import Fleet
from dialtrue.engine.pairing import Pairs, lay_pairs, start_against_looks, start_gaps
from dialtrue.engine.scan import Scan
from tests.support.fleets import HOUR_US, START_US, Read, fleet_of, hourly, scan_of

Look = tuple[int, float, float]
"""Fitting, hours since the start, dial as seen [L]."""


def laid(fleet: Fleet, reads: list[Read], looks: list[Look], *, clock_sd_h: float = 0.0) -> tuple[Pairs, Scan]:
    scan = scan_of(fleet, reads, days=60, dials=[(f, hour) for f, hour, _ in looks])
    pairs = lay_pairs(
        fleet, scan,
        fitting=np.array([f for f, _, _ in looks], np.int64),
        at_us=np.array([START_US + round(hour * HOUR_US) for _, hour, _ in looks], np.int64),
        dial_raw_l=np.array([dial for _, _, dial in looks], np.float64),
        misread=np.full(len(looks), 0.01), clock_sd_h=np.full(len(looks), clock_sd_h),
    )  # fmt: skip
    return pairs, scan


def test_dial_and_index_are_counted_from_the_fitting() -> None:
    fleet = fleet_of(dial_fit_l=[1_000.0], start_count=[1_000])
    pairs, _ = laid(fleet, hourly([1_000, 1_010, 1_030, 1_060]), [(0, 1.0, 1_010.0), (0, 3.0, 1_060.0)])
    assert pairs.dial_l.tolist() == [10.0, 60.0]
    assert pairs.index_l.tolist() == [10.0, 60.0]
    assert pairs.index_count.tolist() == [1_010, 1_060]
    assert pairs.usable.tolist() == [1, 1]


def test_between_two_reads_the_index_lies_on_the_line_and_its_spread_is_widest_in_the_middle() -> None:
    fleet = fleet_of(dial_fit_l=[0.0])
    looks = [(0, 10.0 + share, 0.0) for share in (0.0, 0.25, 0.5, 1.0)]
    pairs, _ = laid(fleet, [(0, 0, 0, ""), (0, 10, 0, ""), (0, 11, 80, "")], looks)
    assert pairs.index_l == pytest.approx([0, 20, 40, 80])
    assert pairs.bridge_l[2] > pairs.bridge_l[1] > pairs.bridge_l[3] == 0


def test_a_written_time_that_is_unsure_widens_the_spread() -> None:
    fleet, reads, looks = fleet_of(), hourly(list(range(0, 500, 20))), [(0, 10.0, 200.0)]
    sure, _ = laid(fleet, reads, looks)
    unsure, _ = laid(fleet, reads, looks, clock_sd_h=1.0)
    assert unsure.bridge_l[0] >= 20 > sure.bridge_l[0]


def test_a_dial_that_turned_is_unwrapped() -> None:
    fleet = fleet_of(dial_fit_l=[999_990.0], capacity_dial_l=[1e6], start_count=[999_990])
    pairs, _ = laid(fleet, hourly([999_990, 0, 10, 20]), [(0, 2.0, 10.0), (0, 3.0, 20.0)])
    assert pairs.dial_l.tolist() == [20.0, 30.0]
    assert pairs.index_l.tolist() == [20.0, 30.0]
    assert pairs.odd.tolist() == [0, 0]


def test_a_dial_that_ran_back_is_odd() -> None:
    pairs, _ = laid(fleet_of(dial_fit_l=[500_000.0]), hourly([0] * 10), [(0, 2.0, 500_010.0), (0, 4.0, 20.0)])
    assert pairs.odd.tolist() == [0, 1]


def test_before_the_first_read_the_keyed_start_stands_in() -> None:
    fleet = fleet_of(dial_fit_l=[100.0], start_count=[100])
    pairs, _ = laid(fleet, [(0, 10, 200, ""), (0, 11, 210, "")], [(0, 5.0, 150.0)])
    assert pairs.usable.tolist() == [1]
    assert pairs.index_l == pytest.approx([50.0])


def test_long_after_the_last_read_there_is_no_pair() -> None:
    pairs, _ = laid(fleet_of(), hourly(list(range(24))), [(0, 24.0 * 4, 90.0), (0, 24.0 * 20, 400.0)])
    assert pairs.usable.tolist() == [1, 0]


def test_without_a_dial_at_the_fitting_the_first_look_stands_in() -> None:
    fleet = fleet_of(dial_fit_l=[np.nan])
    pairs, _ = laid(fleet, hourly(list(range(0, 300, 10))), [(0, 10.0, 5_100.0), (0, 20.0, 5_200.0)])
    assert pairs.anchored.tolist() == [0]
    assert pairs.dial_l.tolist() == [0.0, 100.0]
    assert pairs.index_l.tolist() == [0.0, 100.0]


@pytest.mark.parametrize(
    ("start", "first", "gap", "broken"),
    [
        (1_000, 1_040, 40, 0),
        (999_990, 10, 20, 0),  # turned between the fitting and the first read
        (1_000, 998, -2, 0),  # a small step back is no other index
        (1_000, 90_000, 0, 1),
        (90_000, 1_000, 0, 1),
        (-1, 5_000, 0, 0),  # no start on record
    ],
)
def test_the_step_from_the_start_to_the_first_read(start: int, first: int, gap: int, broken: int) -> None:
    fleet = fleet_of(start_count=[start])
    gaps, breaks = start_gaps(fleet, scan_of(fleet, [(0, 1, first, ""), (0, 2, first, "")]))
    assert (gaps.tolist(), breaks.tolist()) == ([gap], [broken])


@pytest.mark.parametrize(
    ("dial_at_fit", "start", "doubted", "confirmed"),
    [
        (40_200.0, 42_000, True, False),  # the text of the dial slipped: later looks agree with the start
        (42_000.0, 40_200, False, True),  # the start slipped: later looks are off by the same
        (42_000.0, 42_000, False, False),
    ],
)
def test_later_looks_say_whether_the_start_or_the_dials_text_slipped(
    dial_at_fit: float, start: int, doubted: bool, confirmed: bool
) -> None:
    fleet = fleet_of(dial_fit_l=[dial_at_fit], start_count=[start])
    seen = [42_100.0, 42_300.0]
    pairs, scan = laid(fleet, hourly([start + 10 * k for k in range(40)]), [(0, 10.0, seen[0]), (0, 30.0, seen[1])])
    told = start_against_looks(fleet, scan, pairs, np.array(seen))
    assert [marks.tolist() for marks in told] == [[doubted], [confirmed]]


def test_without_a_later_look_neither_is_doubted() -> None:
    fleet = fleet_of(dial_fit_l=[40_200.0], start_count=[42_000])
    pairs, scan = laid(fleet, hourly([42_000, 42_010]), [])
    told = start_against_looks(fleet, scan, pairs, np.array([]))
    assert [marks.tolist() for marks in told] == [[False], [False]]
