"""The fit check against ngspice: the same chain as a circuit, at nominal figures and at every corner.

Levels within 1 %, rise and fall times within 2 %, counts over bursts identical. The slow sweep adds long cables, more
inputs and more bursts.
"""

from __future__ import annotations

import dataclasses
import math
import os
from pathlib import Path

import pytest

from dialtrue.domain.pulse_chain.burst import count_burst
from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.corners import CORNERS, Corner, Spread
from dialtrue.domain.pulse_chain.levels import circuit_at, closed_level_v, fall_ms, line_reads, open_level_v, rise_ms
from dialtrue.files.sheets import shipped_catalogue
from tests.support.circuits import Bench, counted, crossings, ngspice_or_skip, ragged_burst, simulate

pytestmark = pytest.mark.circuit

SHEETS = shipped_catalogue()
FT_M = 0.3048
LEVEL_SHARE, TIME_SHARE = 0.01, 0.02


def chain_of(output: str, entry: str, cable: str, length_m: float, leakage_ohm: float, spread_v: float = 0.0) -> Chain:
    """A chain of shipped sheets; class B gets the class A input made over to its 12 V."""
    held = SHEETS.inputs[entry]
    if output == "s0-class-b":
        held = dataclasses.replace(
            held,
            supply_v=Spread.share(12.0, 0.05),
            pull_up_ohm=Spread.share(3000.0, 0.05),
            closed_below=3.0,
            open_above=8.0,
        )
    held = dataclasses.replace(held, threshold_spread_v=spread_v)
    return Chain(
        output=SHEETS.outputs[output],
        input=held,
        cable=SHEETS.cables[cable],
        length_m=length_m,
        leakage_ohm=leakage_ohm,
    )


CHAINS = {
    "reed": chain_of("reed-one-in-five", "contact-3v-47k", "awg22-pair", 100 * FT_M, 220e3, 0.1),
    "reed at a third, sampled": chain_of("reed-contact", "sampled-3v-47k", "awg24-pair", 60.0, 300e3),
    "open drain": chain_of("open-drain", "contact-3v-1m", "awg22-shielded", 150 * FT_M, 4e6, 0.05),
    "open drain, half": chain_of("open-drain-half", "contact-3v-100k", "mm2-0-25-pair", 200.0, 400e3),
    "open collector": chain_of("open-collector", "contact-3v-100k", "awg22-pvc-pair", 300.0, 500e3, 0.05),
    "changeover": chain_of("changeover-contact", "logger-5v-100k", "mm2-0-5-pair", 50.0, 250e3, 0.1),
    "push-pull": chain_of("push-pull-3v", "logic-3v", "awg18-pair", 500 * FT_M, 50e3),
    "class A": chain_of("s0-class-a", "s0-24v", "mm2-0-75-flex", 200.0, 100e3, 0.3),
    "class B": chain_of("s0-class-b", "s0-24v", "mm2-0-25-pair", 20.0, 100e3, 0.2),
    "current sensor": chain_of("two-wire-sensor", "two-wire-8v2", "mm2-0-5-pair", 150.0, 200e3),
}
"""One chain for each kind of output, US and metric runs mixed, each with damp that matters."""

LONG = {f"{name}, 2 km": dataclasses.replace(chain, length_m=2000.0) for name, chain in CHAINS.items()}
OTHERS = {
    f"{output} on {entry}": chain_of(output, entry, "awg22-four", 75.0, 150e3)
    for output in ("reed-contact", "changeover-contact", "open-drain", "open-collector")
    for entry in ("contact-3v-47k", "contact-3v-100k", "contact-3v-1m", "sampled-3v-47k", "logger-5v-100k")
}

SWEPT = [*LONG, *OTHERS][:: 1 if os.environ.get("DIALTRUE_SWEEP") == "whole" else 7]
"""Every chain of the sweep with `make sweep`, each seventh otherwise."""


def bench_levels(chain: Chain, corners: tuple[Corner | None, ...], folder: Path, *, ladder: bool = False) -> None:
    """Close for a long while, open for a long while; hold the simulator's levels and edges against the code's."""
    window_ms = 30.0 * Bench(chain, None, ()).slowest_s * 1000.0
    step_ms = window_ms / 1500.0
    shut, opened = 0.2 * window_ms, 1.2 * window_ms
    benches = [Bench(chain, corner, [(shut, True), (opened, False)]) for corner in corners]
    traces = simulate(benches, folder, end_ms=2.2 * window_ms, step_ms=step_ms, ladder=ladder)
    for bench, trace in zip(benches, traces, strict=True):
        at = "nominal" if bench.corner is None else bench.corner.words
        circuit = circuit_at(chain, corner=bench.corner)
        for name, got, drawn in (
            ("open", open_level_v(circuit), trace.at(0.99 * shut)),
            ("closed", closed_level_v(circuit), trace.at(0.999 * opened)),
            ("open again", open_level_v(circuit), float(trace.level_v[-1])),
        ):
            assert got == pytest.approx(drawn, rel=LEVEL_SHARE, abs=1e-7), f"{name} level, {at}"
        turns = {closed: time for time, closed in crossings(bench, trace)}
        if turns.get(True) == -math.inf:
            assert line_reads(circuit, open_level_v(circuit)) == "closed", at
            continue  # damp holds it closed from the beginning: there is no edge to time
        slack = 2e-6 + (bench.cable_ms if ladder else 0.0)
        for name, got, closed, edge in (
            ("fall", fall_ms(circuit), True, shut),
            ("rise", rise_ms(circuit), False, opened),
        ):
            if not closed and True not in turns:
                continue  # never read closed, so it cannot read open again
            if math.isfinite(got):
                # The switch turns within 2 ns: an edge through a new contact may be as short as that.
                drawn = turns[closed] - edge
                assert got == pytest.approx(drawn, rel=TIME_SHARE, abs=slack), f"{name} time, {at}"
                assert got >= drawn * (1.0 - TIME_SHARE) - 2e-6, f"{name}: the lump flatters the chain, {at}"
            else:
                assert closed not in turns, f"{name}: the code says never, {at}"


@pytest.mark.parametrize("name", CHAINS)
def test_levels_and_edges_are_those_of_the_simulated_circuit(name: str, tmp_path: Path) -> None:
    bench_levels(CHAINS[name], (None, *CORNERS), tmp_path)


@pytest.mark.parametrize("name", ["open drain", "current sensor", "push-pull"])
def test_one_lump_of_capacitance_stands_for_a_cable_along_its_length(name: str, tmp_path: Path) -> None:
    bench_levels(CHAINS[name], (None, *CORNERS[::9]), tmp_path, ladder=True)


@pytest.mark.slow
@pytest.mark.parametrize("name", SWEPT)
def test_long_cables_and_other_inputs_have_the_levels_of_the_simulated_circuit(name: str, tmp_path: Path) -> None:
    bench_levels((LONG | OTHERS)[name], (None, *CORNERS), tmp_path)


def need_ms(chain: Chain) -> float:
    """The filter of the input, to make bursts that lie on both sides of it."""
    entry = chain.input
    looks = entry.samples_to_confirm * (entry.sample_period_ms or 0.0) if entry.sampled else 0.0
    return max(entry.debounce_ms or 0.0, entry.min_on_ms or 0.0, entry.min_off_ms or 0.0, looks)


BURSTS = {
    "slow": (4.0, 4.0, 0.0),
    "slow, bouncing": (6.0, 4.0, 0.9),
    "bounces longer than the filter": (9.0, 4.0, 5.0),
    "closed too short at times": (1.0, 3.0, 0.0),
    "open too short at times": (3.0, 1.0, 0.0),
    "chatter": (0.7, 0.7, 0.3),
}
"""Closed, open and bounce time in units of the input's filter: counted true, doubled, and lost."""

BURST_CORNERS = (None, CORNERS[0b010101], CORNERS[0b101010], CORNERS[0b111111], CORNERS[0b100011], CORNERS[0])


def bench_bursts(
    chain: Chain,
    corners: tuple[Corner | None, ...],
    folder: Path,
    *,
    pulses: int,
    seeds: tuple[int, ...],
    most_races: int,
) -> dict[str, set[int]]:
    """Count bursts in the simulator's waveform and in the code; return the counts met by burst."""
    need = need_ms(chain)
    met: dict[str, set[int]] = {}
    races: list[str] = []
    for name, (closed, opened, bounce) in BURSTS.items():
        for seed in seeds:
            edges = ragged_burst(
                seed=seed, pulses=pulses, closed_ms=closed * need, open_ms=opened * need, bounce_ms=bounce * need
            )
            benches = [Bench(chain, corner, edges) for corner in corners]
            end = edges[-1][0] + 6.0 * need + 2e4 * benches[0].slowest_s
            traces = simulate(benches, folder, end_ms=end, step_ms=need / 4.0)
            for bench, trace in zip(benches, traces, strict=True):
                at = "nominal" if bench.corner is None else bench.corner.words
                ours = count_burst(circuit_at(chain, corner=bench.corner), chain.input, edges).counted
                theirs = counted(bench, trace)
                if ours != theirs:
                    # A state as long as the filter to half a per cent is a race that no sheet decides.
                    near = {counted(bench, trace, stretch=stretch) for stretch in (0.995, 1.005)}
                    assert ours in near, f"{name}, seed {seed}, {at}: {ours} against {theirs}"
                    races.append(name)
                met.setdefault(name, set()).add(ours)
    assert len(races) <= most_races
    return met


@pytest.mark.parametrize("name", CHAINS)
def test_bursts_count_alike_in_code_and_circuit(name: str, tmp_path: Path) -> None:
    met = bench_bursts(CHAINS[name], BURST_CORNERS, tmp_path, pulses=6, seeds=(1,), most_races=0)
    assert 6 in met["slow"]
    assert 6 in met["slow, bouncing"]
    assert max(met["bounces longer than the filter"]) > 6
    assert min(met["closed too short at times"] | met["open too short at times"] | met["chatter"]) < 6


@pytest.mark.slow
@pytest.mark.parametrize("name", SWEPT)
def test_bursts_count_alike_over_long_cables_and_other_inputs(name: str, tmp_path: Path) -> None:
    bench_bursts((LONG | OTHERS)[name], (None, *CORNERS[::5]), tmp_path, pulses=6, seeds=(3, 4), most_races=6)


def test_a_leaky_transistor_on_a_weak_pull_up_reads_closed_for_ever(tmp_path: Path) -> None:
    chain = dataclasses.replace(CHAINS["class B"], input=SHEETS.inputs["contact-3v-47k"], leakage_ohm=None)
    bench = Bench(chain, None, ragged_burst(seed=1, pulses=4, closed_ms=100.0, open_ms=100.0, bounce_ms=0.0))
    (trace,) = simulate([bench], tmp_path, end_ms=1000.0, step_ms=1.0)
    circuit = circuit_at(chain)
    assert line_reads(circuit, open_level_v(circuit)) == "closed"
    assert counted(bench, trace) == 0 == count_burst(circuit, chain.input, list(bench.edges)).counted


@pytest.mark.parametrize(("machine", "outcome"), [("true", pytest.fail.Exception), ("", pytest.skip.Exception)])
def test_a_missing_simulator_fails_on_a_build_machine_and_skips_elsewhere(
    machine: str, outcome: type[BaseException], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", "")
    monkeypatch.setenv("CI", machine)
    with pytest.raises(outcome, match="ngspice"):
        ngspice_or_skip()
