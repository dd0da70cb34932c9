"""The circuit of many chains at one corner: levels and edge times.

Scalar twin: ``domain.pulse_chain.levels``, operation by operation in the same order: both agree to the last bit.
The logarithm is the scalar one for the same reason: a vector unit's differs in its last place.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from dialtrue.domain.pulse_chain.cable import temperature_factor
from dialtrue.domain.pulse_chain.corners import Corner, Spread
from dialtrue.domain.pulse_chain.levels import LEAST_BRANCH_OHM
from dialtrue.domain.pulse_chain.timing import figure, spread
from dialtrue.engine.fleet_chains import Flags, FleetChains, Floats

_UNITS = {"V": 0, "share": 1, "mA": 2}


@dataclass(frozen=True, slots=True)
class Parts:
    """Each row's sheet figures that the circuit needs, gathered once; ends of a spread as (low, nominal, high)."""

    source_v: tuple[Floats, Floats, Floats]
    pull_ohm: tuple[Floats, Floats, Floats]
    contact_ohm: tuple[Floats, Floats, Floats]
    idle_ohm: tuple[Floats, Floats, Floats]
    high_v: tuple[Floats, Floats, Floats]
    loop_cold: Floats
    loop_nominal: Floats
    loop_hot: Floats
    dry_ohm: Floats
    damp_ohm: Floats
    capacitance_f: Floats
    leakage_a: Floats
    off_leak_a: Floats
    saturation_v: Floats
    closed_below: Floats
    open_above: Floats
    threshold_spread_v: Floats
    unit: np.ndarray
    push_pull: Flags
    current_sensor: Flags
    idle_known: Flags


@dataclass(frozen=True, slots=True)
class FleetCircuit:
    """Levels and element values of every row at one corner. NaN = not known."""

    source_v: Floats
    pull_ohm: Floats
    leak_ohm: Floats
    loop_ohm: Floats
    open_v: Floats
    open_ohm: Floats
    open_sink_a: Floats
    closed_below_v: Floats
    open_above_v: Floats
    low_v: Floats
    high_v: Floats
    closed_tau_ms: Floats
    open_tau_ms: Floats


def gather(fleet: FleetChains) -> Parts:
    """Gather the figures of each row's sheets."""
    settings, length = fleet.settings, fleet.columns["length_m"]

    def ends_in(take: str) -> tuple[Floats, Floats, Floats]:
        held = [fleet.of_input(lambda sheet, end=end: _end(getattr(sheet, take), end)) for end in range(3)]
        return held[0], held[1], held[2]

    def ends_out(take: str) -> tuple[Floats, Floats, Floats]:
        held = [fleet.of_output(lambda sheet, end=end: _end(getattr(sheet, take), end)) for end in range(3)]
        return held[0], held[1], held[2]

    voltage = fleet.of_input(lambda sheet: sheet.kind == "voltage", np.bool_)
    pulls = ends_in("pull_up_ohm")
    metre = fleet.of_cable(lambda sheet: figure(sheet.ohm_per_km) / 1000.0)
    loops = [
        2.0 * length * metre * fleet.of_cable(lambda sheet, at=celsius: temperature_factor(at, sheet.per_k))
        for celsius in (settings.cold_c, 20.0, settings.hot_c)
    ]
    insulation = fleet.of_cable(lambda sheet: figure(sheet.insulation_mohm_km))
    stated = ~(np.isnan(insulation) | np.isnan(length) | (length == 0.0))
    dry = np.where(stated, insulation * 1e6 / (length / 1000.0), math.inf)
    leakage = fleet.columns["leakage_ohm"]
    cable_pf = fleet.of_cable(lambda sheet: figure(sheet.capacitance_pf_per_m)) * length
    capacitance_pf = cable_pf + fleet.of_input(lambda sheet: figure(sheet.capacitance_pf))
    return Parts(
        source_v=ends_in("supply_v"),
        pull_ohm=(_or_inf(voltage, pulls[0]), _or_inf(voltage, pulls[1]), _or_inf(voltage, pulls[2])),
        contact_ohm=ends_out("closed_ohm"),
        idle_ohm=ends_out("open_ohm"),
        high_v=ends_out("high_v"),
        loop_cold=loops[0],
        loop_nominal=loops[1],
        loop_hot=loops[2],
        dry_ohm=dry,
        damp_ohm=np.where(leakage < dry, leakage, dry),
        capacitance_f=capacitance_pf * 1e-12,
        leakage_a=fleet.of_input(lambda sheet: sheet.leakage_ua * 1e-6),
        off_leak_a=fleet.of_output(lambda sheet: figure(sheet.off_leak_ua) * 1e-6),
        saturation_v=fleet.of_output(lambda sheet: sheet.saturation_v),
        closed_below=fleet.of_input(lambda sheet: figure(sheet.closed_below)),
        open_above=fleet.of_input(lambda sheet: figure(sheet.open_above)),
        threshold_spread_v=fleet.of_input(lambda sheet: sheet.threshold_spread_v),
        unit=fleet.of_input(lambda sheet: _UNITS[sheet.threshold_unit], np.int8),
        push_pull=fleet.of_output(lambda sheet: sheet.kind == "push_pull", np.bool_),
        current_sensor=fleet.of_output(lambda sheet: sheet.kind == "current_sensor", np.bool_),
        idle_known=fleet.of_output(lambda sheet: sheet.open_ohm is not None, np.bool_),
    )


def _end(held: Spread | None, place: int) -> float:
    """Return the low, nominal or high end, NaN if not known."""
    ends = spread(held)
    return (ends.low, ends.nominal, ends.high)[place]


def _or_inf(absent: Flags, ohm: Floats) -> Floats:
    """Return infinite ohms where there is no pull-up."""
    return np.where(absent, math.inf, ohm)


def circuit_of(parts: Parts, corner: Corner | None) -> FleetCircuit:
    """Return every row's circuit at a corner, nominal for None. Scalar twin: ``levels.circuit_at`` and the levels."""
    ends = (1,) * 6 if corner is None else tuple(2 * side for side in corner.sides)
    supply, pull, temperature, contact, threshold, leakage = ends
    source_v, pull_ohm = parts.source_v[supply], parts.pull_ohm[pull]
    loop = (parts.loop_cold, parts.loop_nominal, parts.loop_hot)[temperature]
    leak = parts.damp_ohm if leakage == 2 else parts.dry_ohm
    shift = (-parts.threshold_spread_v, np.zeros_like(source_v), parts.threshold_spread_v)[threshold]
    closed_ohm = parts.contact_ohm[contact] + loop
    closed_ohm = np.where(closed_ohm < LEAST_BRANCH_OHM, LEAST_BRANCH_OHM, closed_ohm)
    idle_ohm = parts.idle_ohm[contact] + loop
    contact_idle = np.where(parts.idle_known, idle_ohm, math.inf)
    open_ohm = np.where(parts.push_pull, closed_ohm, np.where(parts.current_sensor, idle_ohm, contact_idle))
    open_v = np.where(parts.push_pull, parts.high_v[supply], 0.0)
    fed_only = parts.push_pull | parts.current_sensor
    open_sink = np.where(fed_only, parts.leakage_a, parts.off_leak_a + parts.leakage_a)
    closed_sink = -parts.leakage_a

    pull_s, leak_s = 1.0 / pull_ohm, 1.0 / leak
    pulled = source_v / pull_ohm
    closed_s = pull_s + leak_s + 1.0 / closed_ohm
    low = (pulled + parts.saturation_v / closed_ohm - closed_sink) / closed_s
    idle_s = pull_s + leak_s
    unloaded = np.where(idle_s > 0.0, (pulled - closed_sink) / idle_s, math.nan)
    low = np.where(~parts.push_pull & (unloaded < low), unloaded, low)
    low = np.where(low < 0.0, 0.0, low)
    open_s = pull_s + leak_s + 1.0 / open_ohm
    high = np.where(open_s > 0.0, (pulled + open_v / open_ohm - open_sink) / open_s, math.nan)
    high = np.where(high < 0.0, 0.0, high)
    return FleetCircuit(
        source_v=source_v,
        pull_ohm=pull_ohm,
        leak_ohm=leak,
        loop_ohm=loop,
        open_v=open_v,
        open_ohm=open_ohm,
        open_sink_a=open_sink,
        closed_below_v=_threshold(parts.unit, parts.closed_below, source_v, pull_ohm, shift),
        open_above_v=_threshold(parts.unit, parts.open_above, source_v, pull_ohm, shift),
        low_v=low,
        high_v=high,
        closed_tau_ms=parts.capacitance_f / closed_s * 1000.0,
        open_tau_ms=np.where(open_s > 0.0, parts.capacitance_f / open_s * 1000.0, math.nan),
    )


def _threshold(unit: np.ndarray, value: Floats, source_v: Floats, pull_ohm: Floats, shift: Floats) -> Floats:
    """Return thresholds as voltages. Scalar twin: ``levels._threshold``."""
    current = source_v - value / 1000.0 * pull_ohm + shift
    return np.where(unit == 2, current, np.where(unit == 1, value * source_v + shift, value + shift))


def crossings_ms(start_v: Floats, final_v: Floats, threshold_v: Floats, tau_ms: Floats) -> Floats:
    """Return times to a threshold. Scalar twin: ``levels.crossing_ms``."""
    known = ~(np.isnan(start_v) | np.isnan(final_v) | np.isnan(threshold_v) | np.isnan(tau_ms))
    rising = final_v >= start_v
    beyond = np.where(rising, start_v >= threshold_v, start_v <= threshold_v)
    never = np.where(rising, final_v <= threshold_v, final_v >= threshold_v)
    times = np.full(start_v.shape, math.nan)
    times[known & beyond] = 0.0
    times[known & ~beyond & never] = math.inf
    going = known & ~beyond & ~never
    ratio = (final_v[going] - start_v[going]) / (final_v[going] - threshold_v[going])
    logs = np.fromiter(map(math.log, ratio.tolist()), np.float64, ratio.size)
    times[going] = tau_ms[going] * logs
    return times


def leaks_for_level_ohm(circuit: FleetCircuit, level_v: Floats) -> Floats:
    """Return leakages that hold the open line at a level. Scalar twin: ``levels.leak_for_level_ohm``."""
    fed = circuit.source_v / circuit.pull_ohm + circuit.open_v / circuit.open_ohm - circuit.open_sink_a
    spare = fed / level_v - 1.0 / circuit.pull_ohm - 1.0 / circuit.open_ohm
    leak = np.where(spare <= 0.0, math.inf, 1.0 / spare)
    return np.where(level_v <= 0.0, 0.0, leak)
