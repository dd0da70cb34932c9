"""Figures in blocks of days: every array has its place, and taking apart and putting together changes nothing."""

from __future__ import annotations

import numpy as np

from dialtrue.engine.kept_scan import (
    DAILY,
    PAIRED,
    PERIODICAL,
    ROWS,
    closed,
    find_pairs,
    nothing_kept,
    opened,
    rearranged,
    replaced,
)
from dialtrue.engine.scan import Calendar, Scan, empty_scan, windows_of
from dialtrue.engine.scan_kernel import DAY_US
from tests.support.fleets import fleet_of

START = 20_000 * DAY_US


def calendar(days: int) -> Calendar:
    hours = np.zeros(24 * days, np.int8)
    return Calendar(START, hours, hours.copy(), hours.copy())


def filled(ports: int, days: int, seed: int = 1) -> tuple[Scan, object, object]:
    """Return a scan of random figures with two passed dial reads a port, its fleet and its windows."""
    rng = np.random.default_rng(seed)
    fleet = fleet_of(ports)
    fitting = np.repeat(np.arange(ports), 2)
    windows = windows_of(fleet, fitting, START + np.tile(np.array([3, 9]), ports) * DAY_US, ports)
    scan = empty_scan(fleet, calendar(days), 2 * ports)
    for name in (*ROWS, *DAILY, *PERIODICAL, *PAIRED):
        array = getattr(scan, name)
        for view in [array[field] for field in array.dtype.names or ()] or [array]:
            view[...] = rng.integers(0, 100, view.shape)
    return scan, fleet, windows


def same(one: Scan, other: Scan) -> None:
    for name in (*ROWS, *DAILY, *PERIODICAL, *PAIRED):
        assert getattr(one, name).tobytes() == getattr(other, name).tobytes(), name


def test_every_array_of_a_scan_is_kept_in_one_way() -> None:
    names = [*ROWS, *DAILY, *PERIODICAL, *PAIRED, "calendar"]
    assert sorted(names) == sorted(Scan.__slots__)


def test_apart_and_together_again_at_any_number_of_days() -> None:
    for days in (1, 27, 28, 29, 60):
        scan, fleet, windows = filled(3, days)
        kept = closed(nothing_kept(START), scan, windows, first_block=0)
        assert len(kept.blocks) == -(-days // 28)
        same(opened(kept, fleet, calendar(days), windows, first_block=0), scan)


def test_a_longer_window_holds_nothing_in_its_new_days() -> None:
    scan, fleet, windows = filled(2, 20)
    kept = closed(nothing_kept(START), scan, windows, first_block=0)
    wider = opened(kept, fleet, calendar(90), windows, first_block=0)
    assert (wider.day_walk[:, :20] == scan.day_walk).all()
    assert np.isnan(wider.day_walk[:, 20:]).all()
    assert (wider.day_zero[:, 20:] == 0).all()
    assert (wider.hour_moves[:, 1:] == 0).all()


def test_a_scan_opened_late_changes_only_late_blocks() -> None:
    scan, fleet, windows = filled(2, 90)
    kept = closed(nothing_kept(START), scan, windows, first_block=0)
    kept.written = 4
    late = opened(kept, fleet, calendar(90), windows, first_block=2)
    assert late.day_walk.shape == (2, 34)
    late.day_walk[:, 0] = -5.0
    new = closed(kept, late, windows, first_block=2)
    assert new.written == 2
    assert new.blocks[1] is kept.blocks[1]
    assert (new.blocks[2]["day_walk"][:, 0] == -5).all()


def test_fittings_may_move_and_new_ones_come_among_them() -> None:
    scan, _, windows = filled(3, 30)
    kept = closed(nothing_kept(START), scan, windows, first_block=0)
    moved = rearranged(kept, np.array([-1, 2, 0]))
    assert moved.size == 3
    assert moved.rows["figures"][1] == kept.rows["figures"][2]
    assert moved.rows["figures"]["n"][0] == 0
    assert np.isnan(moved.blocks[0]["day_walk"][0]).all()
    assert (moved.blocks[1]["day_walk"][2, :2] == kept.blocks[1]["day_walk"][0, :2]).all()
    assert moved.pair_row.tolist() == [2, 2, 1, 1]
    assert (moved.pair_after[2:] == kept.pair_after[4:]).all()


def test_fittings_that_are_added_at_the_end_move_nothing() -> None:
    scan, _, windows = filled(3, 30)
    kept = closed(nothing_kept(START), scan, windows, first_block=0)
    kept.written = 2
    assert rearranged(kept, np.array([0, 1, 2, -1])).written == 2


def test_chosen_rows_are_replaced_whole() -> None:
    scan, _, windows = filled(3, 60)
    kept = closed(nothing_kept(START), scan, windows, first_block=0)
    other_scan, _, other_windows = filled(1, 30, seed=9)
    other = closed(nothing_kept(START), other_scan, other_windows, first_block=0)
    new = replaced(kept, np.array([1]), other)
    assert new.rows["figures"][1] == other.rows["figures"][0]
    assert new.rows["figures"][0] == kept.rows["figures"][0]
    assert np.isnan(new.blocks[2]["day_walk"][1]).all()
    assert (new.blocks[0]["day_walk"][1] == other.blocks[0]["day_walk"][0]).all()
    assert sorted(new.pair_row.tolist()) == [0, 0, 1, 1, 2, 2]


def test_figures_of_a_look_are_found_by_fitting_and_time() -> None:
    scan, _, windows = filled(2, 30)
    kept = closed(nothing_kept(START), scan, windows, first_block=0)
    row, us = np.array([0, 1, 1, 1]), START + np.array([9, 3, 4, 9]) * DAY_US
    assert find_pairs(kept, row, us).tolist() == [1, 2, -1, 3]
