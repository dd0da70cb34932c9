"""Exchanged endpoints: the best assignment of channels to dials, and rings found in reads made by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from dialtrue.domain.faults import COLUMN
from dialtrue.engine.evidence import gather_evidence
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.evidence.rings import assign
from dialtrue.engine.onsets import candidate_onsets
from tests.support.cases import Dial, case_of, home
from tests.support.fleets import HOUR_US, START_US, fleet_of, hourly

DAYS = 40


def test_rings_add_up_to_what_the_solver_of_scipy_finds() -> None:
    rng = np.random.default_rng(11)
    for size in (2, 3, 5, 9, 14):
        a, b = (side.ravel() for side in np.meshgrid(np.arange(size), np.arange(size), indexing="ij"))
        off = a != b
        gain = rng.normal(-1.0, 3.0, off.sum())
        table = np.zeros((size, size))
        table[a[off], b[off]] = gain
        rows, columns = linear_sum_assignment(table, maximize=True)
        rings = assign(gain, a[off], b[off], size)
        assert sum(total for _, total in rings) == pytest.approx(table[rows, columns].sum())
        for members, total in rings:
            assert total == pytest.approx(sum(table[m, members[(i + 1) % len(members)]] for i, m in enumerate(members)))


def test_an_assignment_without_gain_leaves_everybody_alone() -> None:
    assert assign(np.array([-0.5, -0.5]), np.array([0, 1]), np.array([1, 0]), 2) == []


def street(follows: list[int], *, unseen: tuple[int, ...] = (), records: bool = False) -> tuple[Case, Block]:
    """Return houses fitted an hour apart, and what the neighbours say; endpoint k counts the water of ``follows[k]``.

    Where the records are exchanged, not the wires, the endpoint also began at the other house's start.
    """
    n = len(follows)
    start = [100_000 + 7_919 * k for k in range(n)]
    use = [25.0 + 17.0 * k for k in range(n)]
    water = [np.cumsum(home(DAYS, seed=50 + k, pulses_a_day=use[k])).astype(int) for k in range(n)]
    fleet = fleet_of(
        n, dial_fit_l=[float(s) for s in start], start_count=start, use_l_day=use,
        fit_us=[START_US + k * HOUR_US for k in range(n)],
    )  # fmt: skip
    reads = []
    for k, other in enumerate(follows):
        began = start[other] if records else start[k]
        reads += hourly((began + water[other][k:]).tolist(), channel=k, first_hour=k + 1.0)
    dials: list[Dial] = [
        (k, 24.0 * day, float(start[k] + water[k][24 * day - 1]))
        for k in range(n)
        for day in (12, 24, 38)
        if k not in unseen
    ]
    case, onsets = case_of(fleet, reads, days=DAYS + 1, dials=dials)
    return case, gather_evidence(case, onsets)[-1]


def followed(case: Case) -> dict[int, int]:
    return {row: by for ring in case.notes.rings for row, by in zip(ring.rows, ring.counted_by, strict=True)}


@pytest.mark.parametrize("records", [False, True])
def test_two_exchanged_endpoints_are_found_with_their_kind(records: bool) -> None:
    case, told = street([0, 2, 1, 3, 4], records=records)
    assert followed(case) == {1: 2, 2: 1}
    assert case.notes.rings[0].kind == ("records" if records else "wires")
    assert (told.loglik[[1, 2], COLUMN["crossed"]] > told.loglik[[0, 3], COLUMN["crossed"]].max() + 3).all()


def test_a_ring_of_three_is_found_in_its_own_direction() -> None:
    # Endpoint 0 counts house 1, endpoint 1 house 3, endpoint 3 house 0: house 1 is counted by 0, 3 by 1, 0 by 3.
    case, _ = street([1, 3, 2, 0, 4])
    assert followed(case) == {1: 0, 3: 1, 0: 3}


def test_one_dial_that_nobody_read_again_does_not_hide_an_exchange() -> None:
    case, _ = street([0, 2, 1, 3, 4], unseen=(2,))
    assert followed(case) == {1: 2, 2: 1}


def test_a_street_that_counts_true_has_no_ring() -> None:
    case, told = street([0, 1, 2, 3, 4])
    assert case.notes.rings == []
    assert (told.loglik[:, COLUMN["crossed"]] < 0).all()


def test_two_registers_of_one_meter_exchanged_are_ports_swapped() -> None:
    # Story 7 in litres: 100 and 10 a pulse, 1,840 and 2,160 pulses in a month; the counts change places, weights stay.
    high, low = np.linspace(0, 1_840, 24 * 30).astype(int), np.linspace(0, 2_160, 24 * 30).astype(int)
    fleet = fleet_of(
        2, weight_set_l=[100.0, 10.0], weight_meter_l=[100.0, 10.0], quantum_index_l=[100.0, 10.0],
        quantum_dial_l=[100.0, 10.0], capacity_dial_l=[1e8, 1e7], use_l_day=[6_000.0, 700.0],
        flow_limit_l_s=[30.0, 2.0],
    )  # fmt: skip
    reads = [*hourly(low.tolist(), channel=0), *hourly(high.tolist(), channel=1)]
    dials: list[Dial] = [(0, 24.0 * 29, 100.0 * high[24 * 29]), (1, 24.0 * 29, 10.0 * low[24 * 29])]
    case, _ = case_of(fleet, reads, days=31, dials=dials)
    case.partner[:] = [1, 0]
    case.compound[:] = True
    case.fleet.meter_serial[1] = case.fleet.meter_serial[0]
    told = gather_evidence(case, candidate_onsets(case.fleet, case.scan, case.pairs.start_gap))[-1]
    ratio = case.pairs.index_l / case.pairs.dial_l
    assert ratio[0] * ratio[1] == pytest.approx(1.0, abs=0.01)
    assert followed(case) == {0: 1, 1: 0}
    assert (told.loglik[:, COLUMN["ports_swapped"]] > told.loglik[:, COLUMN["crossed"]] + 3).all()
