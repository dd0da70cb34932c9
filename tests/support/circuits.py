"""Pulse chains as ngspice decks, built from the figures of the sheets, and a counter for what the simulator drew.

Nothing here calls the fit check's formulas. The cable is one lump of capacitance at the terminals, or a ladder of four;
its copper is warmed by the simulator; a current input is judged by the current of its source.
"""

from __future__ import annotations

import os
import random
import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.corners import Corner, Spread

Edges = Sequence[tuple[float, bool]]
LADDER = 3
"""Sections of a cable that is not lumped."""
COPPER_PER_K = 0.00393


def ngspice_or_skip() -> str:
    """Return the program's path. Where it is missing skip, but fail on a build machine: there it is promised."""
    found = shutil.which("ngspice")
    if found is None:
        if os.environ.get("CI") == "true":
            pytest.fail("ngspice is not installed; run tools/install_ngspice.sh")
        pytest.skip("ngspice is not installed (Debian package ngspice)")
    return found


def _end(spread: Spread, side: int | None) -> float:
    return spread.nominal if side is None else (spread.low, spread.high)[side]


@dataclass(frozen=True)
class Bench:
    """One chain on the bench: its corner, and the contact's edges in ms (True closes). It starts open."""

    chain: Chain
    corner: Corner | None
    edges: Edges

    @property
    def sides(self) -> tuple[int | None, ...]:
        return (None,) * 6 if self.corner is None else self.corner.sides

    @property
    def supply_v(self) -> float:
        assert self.chain.input.supply_v is not None
        return _end(self.chain.input.supply_v, self.sides[0])

    @property
    def by_current(self) -> bool:
        return self.chain.input.threshold_unit == "mA"

    @property
    def capacitance_f(self) -> float:
        cable_pf = (self.chain.cable.capacitance_pf_per_m or 0.0) * (self.chain.length_m or 0.0)
        return (cable_pf + (self.chain.input.capacitance_pf or 0.0)) * 1e-12

    @property
    def slowest_s(self) -> float:
        """A time constant to choose the window by: everything that may feed the line, times the capacitance."""
        output = self.chain.output
        feed = self.chain.input.pull_up_ohm
        if feed is None:
            assert output.closed_ohm is not None
            feed = output.closed_ohm
        return feed.high * self.capacitance_f

    def thresholds(self) -> tuple[float, float]:
        """Closed below, open above in V; for a current input closed above, open below in mA."""
        entry = self.chain.input
        assert entry.closed_below is not None
        assert entry.open_above is not None
        side = self.sides[4]
        shift = 0.0 if side is None else (-entry.threshold_spread_v, entry.threshold_spread_v)[side]
        times = self.supply_v if entry.threshold_unit == "share" else 1.0
        return entry.closed_below * times + shift, entry.open_above * times + shift

    @property
    def cable_ms(self) -> float:
        """Ohms of the loop at its hottest times the cable's capacitance: what lumping can add to an edge."""
        length_m, cable = self.chain.length_m or 0.0, self.chain.cable
        loop = 2.0 * (cable.ohm_per_km or 0.0) * length_m / 1000.0 * (1.0 + COPPER_PER_K * 40.0)
        return loop * (cable.capacitance_pf_per_m or 0.0) * length_m * 1e-12 * 1000.0

    def lines(self, number: int, *, ladder: bool) -> list[str]:
        """The elements of this bench, with its number in every name."""
        sections = LADDER if ladder else 1
        n, output, entry, cable = number, self.chain.output, self.chain.input, self.chain.cable
        contact, temperature = self.sides[3], self.sides[2]
        celsius = 20.0 if temperature is None else (-20.0, 60.0)[temperature]
        assert output.closed_ohm is not None
        assert cable.ohm_per_km is not None
        assert self.chain.length_m is not None
        rung_ohm = 2.0 * cable.ohm_per_km * self.chain.length_m / 1000.0 / sections
        rung_f = (cable.capacitance_pf_per_m or 0.0) * self.chain.length_m * 1e-12 / (sections + 1 if ladder else 1)
        made = [f"Vs{n} s{n} 0 {self.supply_v!r}", f"Ci{n} t{n} 0 {(entry.capacitance_pf or 0.0) * 1e-12!r}"]
        if entry.pull_up_ohm is not None:
            made.append(f"Rp{n} s{n} t{n} {_end(entry.pull_up_ohm, self.sides[1])!r}")
        else:
            made.append(f"Rp{n} s{n} 0 1e6")
        if self.sides[5] == 1 and self.chain.leakage_ohm is not None:
            made.append(f"Rd{n} t{n} 0 {self.chain.leakage_ohm!r}")
        nodes = [f"t{n}", *(f"k{n}_{place}" for place in range(1, sections)), f"m{n}"]
        for place in range(sections):
            made.append(
                f"Rk{n}_{place} {nodes[place]} {nodes[place + 1]} {rung_ohm!r} tc1={COPPER_PER_K} temp={celsius}"
            )
        made += [f"Ck{n}_{place} {node} 0 {rung_f!r}" for place, node in enumerate(nodes if ladder else nodes[:1])]
        on_ohm = _end(output.closed_ohm, contact)
        made += [self._control(n), f".model con{n} SW(vt=0.5 vh=0 ron={on_ohm!r} roff=1e13)"]
        if output.kind == "open_collector":  # it sinks only: a damp line under its saturation is not lifted
            made.append(f"Bc{n} m{n} 0 I=V(c{n})*max(V(m{n})-{output.saturation_v!r},0)/{on_ohm!r}")
        else:
            made += [f"Sc{n} m{n} e{n} c{n} 0 con{n}", f"Ve{n} e{n} 0 {output.saturation_v!r}"]
        if output.kind == "push_pull":
            assert output.high_v is not None
            made += [f"Vh{n} h{n} 0 {_end(output.high_v, self.sides[0])!r}"]
            made += [f"Sh{n} m{n} h{n} one{n} c{n} con{n}", f"Vo{n} one{n} 0 1"]
        elif output.kind == "current_sensor":
            assert output.open_ohm is not None
            made += [f".model idle{n} SW(vt=0.5 vh=0 ron={_end(output.open_ohm, contact)!r} roff=1e13)"]
            made += [f"Si{n} m{n} 0 one{n} c{n} idle{n}", f"Vo{n} one{n} 0 1"]
        elif output.off_leak_ua:
            leak = output.off_leak_ua * 1e-6
            made.append(f"Bl{n} m{n} 0 I={leak!r}*(1-V(c{n}))*tanh(V(m{n})/0.005)")
        return made

    def _control(self, number: int) -> str:
        """A control voltage that steps between 0 and 1 V; the switch turns at half of a step of 2 ns."""
        points, state = ["0 0"], 0
        for at_ms, closed in self.edges:
            at = at_ms / 1000.0
            points += [f"{at - 1e-9:.12g} {state}", f"{at + 1e-9:.12g} {int(closed)}"]
            state = int(closed)
        return f"Vc{number} c{number} 0 PWL({' '.join(points)})"


@dataclass(frozen=True)
class Trace:
    """What the simulator drew for one bench: volts at the terminals, or mA of the source."""

    time_ms: Any
    level_v: Any
    source_ma: Any

    def at(self, time_ms: float) -> float:
        return float(np.interp(time_ms, self.time_ms, self.level_v))


def simulate(
    benches: Sequence[Bench], folder: Path, *, end_ms: float, step_ms: float, ladder: bool = False, reltol: float = 1e-5
) -> list[Trace]:
    """Run all benches side by side in one deck."""
    program = ngspice_or_skip()
    deck = ["* pulse chains side by side", f".options tnom=20 reltol={reltol} vntol=1e-9 abstol=1e-13 gmin=1e-14"]
    for number, bench in enumerate(benches):
        deck += bench.lines(number, ladder=ladder)
    wanted = " ".join(f"v(t{n}) i(vs{n})" for n in range(len(benches)))
    deck += [f".save {wanted}", ".control", "set wr_singlescale", "set wr_vecnames"]
    deck += [f"tran {step_ms / 1000.0:.9g} {end_ms / 1000.0:.9g} 0 {step_ms / 1000.0:.9g}"]
    deck += [f"wrdata trace.txt {wanted}", "quit", ".endc", ".end", ""]
    (folder / "deck.cir").write_text("\n".join(deck), encoding="ascii")
    ran = subprocess.run([program, "-b", "deck.cir"], cwd=folder, capture_output=True, text=True, timeout=300)
    written = folder / "trace.txt"
    assert written.exists(), f"ngspice gave no trace: {ran.stdout[-1500:]} {ran.stderr[-1500:]}"
    table = np.loadtxt(written, skiprows=1, ndmin=2)
    assert table.shape[1] == 1 + 2 * len(benches)
    time = table[:, 0] * 1000.0
    assert time[-1] == pytest.approx(end_ms, rel=1e-6), "the transient stopped early"
    return [Trace(time, table[:, 1 + 2 * n], table[:, 2 + 2 * n] * -1000.0) for n in range(len(benches))]


def crossings(bench: Bench, trace: Trace) -> list[tuple[float, bool]]:
    """Times at which a switch with two levels turns; a line that starts closed has its first at minus infinity."""
    low, high = bench.thresholds()
    values = -trace.source_ma if bench.by_current else trace.level_v
    low, high = (-low, -high) if bench.by_current else (low, high)
    times: list[tuple[float, bool]] = []
    closed = bool(values[0] <= low)
    if closed:
        times.append((-np.inf, True))
    for place in range(1, len(values)):
        before, now = float(values[place - 1]), float(values[place])
        beyond = now >= high if closed else now <= low
        if beyond:
            level = high if closed else low
            share = 0.0 if now == before else min(max((level - before) / (now - before), 0.0), 1.0)
            closed = not closed
            begin, end = trace.time_ms[place - 1], trace.time_ms[place]
            times.append((float(begin + share * (end - begin)), closed))
    return times


def counted(bench: Bench, trace: Trace, *, stretch: float = 1.0) -> int:
    """Count as the input's data sheet says: by steady time, or by equal looks; its times may be stretched a little."""
    entry = bench.chain.input
    turns = crossings(bench, trace)
    if entry.scheme == "sampled":
        assert entry.sample_period_ms is not None
        moments = np.arange(0.0, trace.time_ms[-1], entry.sample_period_ms * stretch)
        places = np.searchsorted([time for time, _ in turns], moments, side="right")
        looks = [bool(turns[place - 1][1]) if place else False for place in places]
        state, total = looks[0], 0
        for last in range(entry.samples_to_confirm - 1, len(looks)):
            agreed = set(looks[last - entry.samples_to_confirm + 1 : last + 1])
            if agreed == {not state}:
                state = not state
                total += state
        return total
    on = max(entry.debounce_ms or 0.0, entry.min_on_ms or 0.0) * stretch
    off = max(entry.debounce_ms or 0.0, entry.min_off_ms or 0.0) * stretch
    ends = [*(time for time, _ in turns[1:]), np.inf][: len(turns)]
    state, total = bool(turns) and turns[0][0] == -np.inf, 0
    for (begin, closed), end in zip(turns, ends, strict=True):
        if closed is not state and end - begin >= (on if closed else off):
            state = closed
            total += closed
    return total


def ragged_burst(
    *, seed: int, pulses: int, closed_ms: float, open_ms: float, bounce_ms: float, start_ms: float = 5.0
) -> list[tuple[float, bool]]:
    """A burst of unequal pulses; each closing rebounds a few times, ever shorter, within ``bounce_ms``."""
    chance = random.Random(seed)
    edges: list[tuple[float, bool]] = []
    at = start_ms
    for _ in range(pulses):
        edges.append((at, True))
        left, when = bounce_ms, at
        while left > 0.15 * bounce_ms > 0.0:
            shut, apart = (left * chance.uniform(0.2, 0.35) for _ in range(2))
            edges += [(when + shut, False), (when + shut + apart, True)]
            when, left = when + shut + apart, left - shut - apart
        shut_for = closed_ms * chance.uniform(0.9, 1.1)
        edges.append((max(at + shut_for, when + 0.05), False))
        at = edges[-1][0] + open_ms * chance.uniform(0.9, 1.1)
    return edges
