"""The fleet's circuit against its scalar twin, densely enough to notice a last bit."""

from __future__ import annotations

import random

import numpy as np

from dialtrue.domain.pulse_chain.corners import CORNERS, Spread
from dialtrue.domain.pulse_chain.levels import (
    circuit_at,
    closed_level_v,
    closed_tau_ms,
    crossing_ms,
    leak_for_level_ohm,
    open_level_v,
    open_tau_ms,
)
from dialtrue.engine.fleet_chains import fleet_of
from dialtrue.engine.fleet_circuit import circuit_of, crossings_ms, gather, leaks_for_level_ohm
from tests.support.chains import chain_of


def test_edge_times_equal_the_scalar_ones_to_the_last_bit() -> None:
    # A vector unit's logarithm differs from the scalar one about three times in ten thousand: ask often enough.
    rng = np.random.default_rng(3)
    start, final, threshold, tau = (rng.uniform(0.0, 3.0, 100_000) for _ in range(4))
    got = crossings_ms(start, final, threshold, tau)
    want = [crossing_ms(*row) for row in np.stack([start, final, threshold, tau], axis=1).tolist()]
    assert np.array_equal(got, np.array(want))


def test_levels_equal_the_scalar_ones_to_the_last_bit_at_every_corner() -> None:
    rng = random.Random(5)

    def three(low: float, high: float) -> Spread:
        return Spread(*sorted(rng.uniform(low, high) for _ in range(3)))

    found = [
        chain_of(
            output={
                "kind": rng.choice(["dry_contact", "push_pull", "current_sensor"]),
                "closed_ohm": three(1.0, 3_000.0),
                "open_ohm": three(5_000.0, 90_000.0),
                "high_v": three(2.0, 4.0),
                "saturation_v": rng.uniform(0.0, 0.5),
                "off_leak_ua": rng.uniform(0.0, 5.0),
            },
            input={"supply_v": three(2.5, 3.5), "pull_up_ohm": three(1e4, 1e6), "leakage_ua": rng.uniform(0.0, 1.0)},
            cable={"insulation_mohm_km": rng.uniform(0.001, 0.1)},
            length_m=rng.uniform(1.0, 300.0),
            leakage_ohm=rng.uniform(1e4, 1e6),
        )
        for _ in range(60)
    ]
    parts = gather(fleet_of(found))
    for corner in CORNERS:
        fleet = circuit_of(parts, corner)
        damp = leaks_for_level_ohm(fleet, fleet.open_above_v)
        for row, chain in enumerate(found):
            circuit = circuit_at(chain, corner=corner)
            assert fleet.low_v[row] == closed_level_v(circuit)
            assert fleet.high_v[row] == open_level_v(circuit)
            assert fleet.closed_tau_ms[row] == closed_tau_ms(circuit)
            assert fleet.open_tau_ms[row] == open_tau_ms(circuit)
            assert damp[row] == leak_for_level_ohm(circuit, circuit.open_above_v)
