"""Figures by day, hour, weather and size against a plain account of each step; disorder against order."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import gcd, inf, log2

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from dialtrue.engine.fleet import Fleet
from dialtrue.engine.scan import Calendar, Scan, Scanner, windows_of
from dialtrue.engine.scan_order import CORRECTION_US, in_order
from tests.property.test_watch_scan import same
from tests.support.fleets import HOUR_US, START_US, fleet_of

DAYS = 32
NOTHING = np.zeros(0, np.int64)
Read = tuple[int, int]
"""Microseconds since the start, count."""


def calendar_of(seed: int, *, weather: bool) -> Calendar:
    """Return a calendar whose local hour jumps once, with or without weather."""
    rng = np.random.default_rng(seed)
    local = (np.arange(DAYS * 24) - 5 + (np.arange(DAYS * 24) > 400)) % 24
    draw = (lambda: rng.integers(-1, 2, DAYS * 24)) if weather else (lambda: np.full(DAYS * 24, -1))
    return Calendar(START_US, local.astype(np.int8), draw().astype(np.int8), draw().astype(np.int8))


@st.composite
def rising(draw: st.DrawFn) -> list[Read]:
    """An index that never falls: mostly hour after hour, with gaps, odd minutes, standstills and large steps."""
    reads, at, count = [], draw(st.integers(0, 30)) * HOUR_US // 2, draw(st.integers(0, 99))
    for _ in range(draw(st.integers(1, 14))):
        step = draw(st.sampled_from([HOUR_US] * 6 + [HOUR_US // 4, HOUR_US + 61_000_000, 2 * HOUR_US, 26 * HOUR_US]))
        most = draw(st.sampled_from([0, 1, 5, 40, 3_000]))
        for _ in range(draw(st.integers(1, 40))):
            reads.append((at, count))
            at += step
            count += draw(st.integers(0, most)) if most else 0
    return [read for read in reads if read[0] < (DAYS - 1) * 24 * HOUR_US]


def scanned(reads: Sequence[Read], fleet: Fleet, calendar: Calendar, cuts: Sequence[int] = ()) -> Scan:
    """Scan reads of one port, cut into batches."""
    scanner = Scanner(fleet, calendar, windows_of(fleet, NOTHING, NOTHING, 1))
    at = np.array([START_US + at for at, _ in reads], np.int64)
    count = np.array([count for _, count in reads], np.int64)
    for low, high in pairwise([0, *sorted(cuts), len(reads)]):
        blank = np.zeros(high - low, np.int8)
        scanner.feed(np.zeros(high - low, np.int32), at[low:high], count[low:high], blank)
    return scanner.finish()


def size_class(pulses: int) -> int:
    """Return the class of 0, 1, 2, 3-4, 5-8, ... pulses."""
    return min(pulses if pulses < 2 else 1 + int(np.ceil(log2(pulses))), 11)


@settings(max_examples=150, deadline=None)
@given(rising(), st.sampled_from([0.5, 1.0, 10.0]), st.booleans(), st.lists(st.integers(0, 10_000), max_size=3))
def test_every_step_is_where_a_plain_account_puts_it(
    reads: list[Read], weight: float, weather: bool, cuts: list[int]
) -> None:
    if not reads:
        return
    calendar = calendar_of(len(reads), weather=weather)
    fleet = fleet_of(1, capacity_counts=[0], weight_set_l=[weight], flow_limit_l_s=[10.0])
    scan = scanned(reads, fleet, calendar, [cut % (len(reads) + 1) for cut in cuts])
    least, zero, steps, divisor = [inf] * DAYS, [0] * DAYS, [0] * DAYS, [0] * DAYS
    moves, hours = np.zeros((2, 24), int), np.zeros((2, 24), int)
    wet, wet_hours, cold, cold_hours = (np.zeros((24, 2)) for _ in range(4))
    sizes, odd, busiest, moved, freezes = [0] * 12, 0, 0.0, reads[0][0], []
    for (then, before), (at, count) in pairwise(reads):
        day, hour, d = at // (24 * HOUR_US), (at - (at - then) // 2) // HOUR_US, count - before
        divisor[day] = gcd(divisor[day], d)
        pulses = round(d / weight) if weight > 1 else d
        odd += pulses % 2 if weight >= 1 else 0
        if d and then - moved >= 6 * HOUR_US:
            freezes.append((then - moved, -moved, at, d, at - then))
        elif d and at - then >= HOUR_US // 6:
            busiest = max(busiest, d / (at - then))
        moved = at if d else moved
        if at - then > 3 * HOUR_US:
            continue
        sizes[size_class(pulses)] += 1
        steps[day] += 1
        zero[day] += d == 0
        least[day] = min(least[day], d * HOUR_US / (at - then))
        local, period = calendar.hour_local[hour], hour // (24 * 28)
        hours[period, local] += 1
        moves[period, local] += d > 0
        if calendar.wet[hour] >= 0:
            wet[local, calendar.wet[hour]] += d
            wet_hours[local, calendar.wet[hour]] += 1
        if calendar.cold[hour] >= 0:
            cold[local, calendar.cold[hour]] += d == 0
            cold_hours[local, calendar.cold[hour]] += 1
    figures = scan.figures[0]
    assert scan.day_steps[0].tolist() == [min(count, 127) for count in steps]
    assert scan.day_zero[0].tolist() == [min(count, 127) for count in zero]
    assert scan.day_granule[0].tolist() == divisor
    assert np.array_equal(scan.day_least[0], np.float32([np.nan if x == inf else x for x in least]), equal_nan=True)
    for got, wanted in (
        (scan.hour_moves, moves), (scan.hour_steps, hours), (scan.wet_counts, wet), (scan.wet_hours, wet_hours),
        (scan.cold_zero, cold), (scan.cold_steps, cold_hours),
    ):  # fmt: skip
        assert np.array_equal(got[0], wanted)
    assert scan.step_sizes[0].tolist() == sizes
    assert figures["granule"] == gcd(*divisor)
    assert (figures["odd"], figures["busiest"]) == (odd, busiest)
    assert (figures["freezes"], figures["frozen_us"]) == (len(freezes), sum(still for still, *_ in freezes))
    longest = sorted(freezes, key=lambda freeze: (-freeze[0], -freeze[1]))[:4]
    kept = [(START_US - begun, START_US + at, d, took) for _, begun, at, d, took in longest]
    assert [tuple(row) for row in scan.freeze[0].tolist() if row[1]] == kept
    days = {at // (24 * HOUR_US): count for at, count in reads}
    walk = [float(days[day] - reads[0][1]) if day in days else None for day in range(DAYS)]
    assert [None if np.isnan(x) else x for x in scan.day_walk[0].tolist()] == walk


@settings(max_examples=60, deadline=None)
@given(st.lists(rising(), min_size=1, max_size=3), st.randoms(use_true_random=False))
def test_reads_in_any_order_are_brought_into_theirs(ports: list[list[Read]], shuffle: object) -> None:
    rows = [(channel, START_US + at, count) for channel, reads in enumerate(ports) for at, count in reads]
    mixed = rows * 2
    shuffle.shuffle(mixed)  # type: ignore[attr-defined]
    fleet, calendar = fleet_of(len(ports)), calendar_of(1, weather=True)
    scans = []
    for given_rows in (rows, mixed):
        channel, at, count = (np.array(column, np.int64) for column in zip(*given_rows, strict=True)) if rows else (
            NOTHING, NOTHING, NOTHING)  # fmt: skip
        scanner = Scanner(fleet, calendar, windows_of(fleet, NOTHING, NOTHING, len(ports)))
        flag = np.zeros(len(at), np.int8)
        scanner.count(*in_order(channel.astype(np.int32), at, count, flag, at, len(ports)))
        scans.append(scanner.finish())
    same(*scans)


def test_the_last_arrival_stands_where_it_came_long_after_the_first() -> None:
    channel = np.zeros(5, np.int32)
    at = np.array([2, 1, 1, 1, 2], np.int64) * HOUR_US
    known = np.array([0, 0, CORRECTION_US, 2 * CORRECTION_US, CORRECTION_US - 1])
    count, flag = np.array([20, 10, 11, 12, 21]), np.array([0, 0, 1, 0, 0], np.int8)
    first, heard, at, count, flag = in_order(channel, at, count, flag, known, 1)
    assert first.tolist() == [0, 4]
    assert heard.tolist() == [0]
    assert list(zip((at // HOUR_US).tolist(), count.tolist(), flag.tolist(), strict=True)) == [
        (1, 11, 1), (1, 12, 0), (2, 20, 0), (2, 21, 0),
    ]  # fmt: skip
