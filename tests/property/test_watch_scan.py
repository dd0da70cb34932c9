"""The compiled scan against a plain one, and what must not depend on how the reads come."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from dialtrue.engine.scan_kernel import BURST
from tests.support.fleets import HOUR_US, Read, fleet_of, scan_of

CAPACITY = 1_000
LIMIT_PER_S = 0.01  # counts a second: 36 an hour
WEIGHT = 2.0


@dataclass
class Plain:
    """One port's figures by the plain rules, one read at a time."""

    n: int = 0
    walk: int = 0
    forward: int = 0
    rolls: int = 0
    backs: int = 0
    back_total: int = 0
    over: int = 0
    spikes: int = 0
    beyond: int = 0
    repeated: int = 0
    estimated: int = 0
    clashes: int = 0
    disorder: int = 0

    def take(self, reads: list[Read]) -> Plain:
        """Fold the reads in."""
        kept: list[tuple[float, int]] = []
        last_step, fastest = 0, 0.0
        for _, hour, count, flag in reads:
            if flag:
                setattr(self, flag, getattr(self, flag) + 1)
                continue
            if count >= CAPACITY:
                self.beyond += 1
                continue
            if not kept:
                kept, self.n = [(hour, count)], 1
                continue
            then, before = kept[-1]
            if hour < then:
                self.disorder += 1
                continue
            if hour == then:
                self.clashes += count != before
                continue
            elapsed_s = (hour - then) * 3600
            most = LIMIT_PER_S * elapsed_s + WEIGHT + 1
            step = count - before
            earlier_hour, earlier = kept[-2] if len(kept) > 1 else kept[-1]
            back_to_earlier = count - earlier
            room = LIMIT_PER_S * (hour - earlier_hour) * 3600 + WEIGHT + 1
            if step < 0 and last_step > 1.5 * (LIMIT_PER_S * elapsed_s + WEIGHT + 1) and 0 <= back_to_earlier <= room:
                self.spikes += 1
                self.walk -= last_step
                self.forward -= 1
                self.over -= 1
                step = back_to_earlier
            elif step < 0:
                turned = step + CAPACITY
                if turned <= max(most, BURST * fastest * elapsed_s) and turned * 2 < CAPACITY:
                    self.rolls += 1
                    step = turned
            elif step > most and CAPACITY - step <= WEIGHT + 1:
                step -= CAPACITY
            if step < 0:
                self.backs += 1
                self.back_total += step
            if step > 0:
                self.forward += 1
                self.over += step > most
                fastest = max(fastest, step / elapsed_s)
            self.walk += step
            last_step = step
            self.n += 1
            kept.append((hour, count))
        return self


def fleet(ports: int):
    return fleet_of(
        ports, capacity_counts=[CAPACITY] * ports, flow_limit_l_s=[LIMIT_PER_S] * ports, weight_set_l=[WEIGHT] * ports
    )


@st.composite
def port_reads(draw: st.DrawFn, channel: int = 0, in_order: bool = False) -> list[Read]:
    """Reads of one port: mostly a rising index, with spikes, falls, flags, gaps and repeated times among them."""
    reads: list[Read] = []
    count, hour = draw(st.integers(0, CAPACITY - 1)), 0
    for _ in range(draw(st.integers(0, 24))):
        hour += draw(st.sampled_from([1, 1, 1, 1, 2, 7] if in_order else [1, 1, 1, 1, 2, 7, 0, -3]))
        hour = max(hour, 0)
        kind = draw(st.sampled_from(["rise"] * 7 + ["spike", "fall", "estimated", "repeated", "jump"]))
        if kind in ("rise", "jump"):
            count = (count + draw(st.integers(0, 40 if kind == "rise" else 600))) % CAPACITY
        elif kind == "fall":
            count = draw(st.integers(0, count))
        if kind == "spike":
            reads.append((channel, hour, draw(st.integers(0, CAPACITY + 50)), ""))
        else:
            reads.append((channel, hour, count, kind if kind in ("estimated", "repeated") else ""))
    return reads


@settings(max_examples=300, deadline=None)
@given(port_reads())
def test_the_kernel_equals_the_plain_scan(reads: list[Read]) -> None:
    figures = scan_of(fleet(1), reads).figures[0]
    plain = Plain().take(reads)
    assert {name: int(figures[name]) for name in vars(plain)} == vars(plain)


@settings(max_examples=100, deadline=None)
@given(port_reads(), st.data())
def test_batches_may_be_cut_anywhere(reads: list[Read], data: st.DataObject) -> None:
    cuts = data.draw(st.lists(st.integers(0, len(reads)), max_size=5))
    dials = [(0, float(hour)) for hour in sorted(data.draw(st.lists(st.integers(0, 60), max_size=4)))]
    whole, parts = scan_of(fleet(1), reads, dials=dials), scan_of(fleet(1), reads, dials=dials, cuts=cuts)
    same(whole, parts)


@settings(max_examples=60, deadline=None)
@given(st.tuples(*(port_reads(channel=k, in_order=True) for k in range(3))))
def test_sorted_by_port_and_sorted_by_time_give_the_same(ports: tuple[list[Read], ...]) -> None:
    by_port = [read for reads in ports for read in reads]
    by_time = sorted(by_port, key=lambda read: read[1])
    dials = [(k, float(hour)) for k in range(3) for hour in (2, 11)]
    same(scan_of(fleet(3), by_port, dials=dials), scan_of(fleet(3), by_time, dials=dials))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 36), min_size=1, max_size=60), st.integers(0, CAPACITY - 1))
def test_whatever_a_true_index_passes_is_its_walk_across_rollovers(steps: list[int], start: int) -> None:
    counts = [start + int(total) for total in np.cumsum([0, *steps])]
    figures = scan_of(fleet(1), [(0, k, count % CAPACITY, "") for k, count in enumerate(counts)]).figures[0]
    assert figures["walk"] == sum(steps)
    assert figures["rolls"] == counts[-1] // CAPACITY
    assert (figures["backs"], figures["spikes"], figures["over"]) == (0, 0, 0)
    assert figures["last_us"] - figures["first_us"] == len(steps) * HOUR_US


def same(one, other) -> None:
    """Assert that two scans hold the same figures throughout."""
    for name in one.__slots__:
        if name != "calendar":
            assert getattr(one, name).tobytes() == getattr(other, name).tobytes(), name
