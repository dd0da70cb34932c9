"""The circuit at the input terminals: levels while closed and open, and the time of each edge.

One node: the pull-up from the supply, the leakage and the cable's capacitance to common, and the branch of the output
through the cable. Each state is a first-order circuit, so levels are a Thevenin divider and edges are exponentials.
The cable's capacitance is lumped at the terminals: its loop of ohms is small beside the pull-up's kilohms.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from dialtrue.domain.pulse_chain.cable import loop_ohm, temperature_factor
from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.corners import NOT_KNOWN, UNKNOWN_SPREAD, Corner, Spread

LEAST_BRANCH_OHM: Final = 1e-6
"""A branch of no resistance would divide by zero; a micro-ohm is below any joint."""


@dataclass(frozen=True, slots=True)
class Circuit:
    """Every element value at one corner. NaN = not known. [V, ohm, F, A]

    ``closed_sink_a`` and ``open_sink_a`` leave the node (negative: they feed it). A branch of infinite ohms is absent.
    ``held_by_diode`` is true where the closed branch can only sink current (contacts and transistors).
    """

    source_v: float
    pull_ohm: float
    leak_ohm: float
    capacitance_f: float
    loop_ohm: float
    closed_v: float
    closed_ohm: float
    closed_sink_a: float
    open_v: float
    open_ohm: float
    open_sink_a: float
    closed_below_v: float
    open_above_v: float
    held_by_diode: bool


def _end(spread: Spread | None, side: int | None) -> float:
    """Return one end of a spread, or its nominal for side None; NaN if not known."""
    held = UNKNOWN_SPREAD if spread is None else spread
    if side is None:
        return held.nominal
    return held.high if side else held.low


def _known(value: float | None) -> float:
    """Return the figure, NaN for a missing one."""
    return NOT_KNOWN if value is None else value


def dry_leak_ohm(chain: Chain) -> float:
    """Return the leakage of the dry cable, its insulation over its length; infinite where not stated. [ohm]"""
    insulation, length = chain.cable.insulation_mohm_km, chain.length_m
    if insulation is None or length is None or length == 0.0:
        return math.inf
    return insulation * 1e6 / (length / 1000.0)


def circuit_at(chain: Chain, *, corner: Corner | None = None) -> Circuit:
    """Return the circuit of a chain at a corner; at nominal figures, 20 C and dry for ``corner=None``.

    Parameters
    ----------
    chain : Chain
        Output, cable and input.
    corner : Corner or None
        One of ``CORNERS``.

    Returns
    -------
    Circuit
        All element values, ready for a circuit simulator. NaN where a figure is missing.

    Raises
    ------
    Never raises.

    Source
    ------
    Kirchhoff; cable resistance by ``IEC-60028``.
    """
    sides: tuple[int | None, ...] = (None,) * 6 if corner is None else corner.sides
    supply, pull, temperature, contact, threshold, leakage = sides
    output, entry, cable, settings = chain.output, chain.input, chain.cable, chain.settings
    source_v = _end(entry.supply_v, supply)
    pull_ohm = math.inf if entry.kind == "voltage" else _end(entry.pull_up_ohm, pull)
    celsius = 20.0 if temperature is None else (settings.hot_c if temperature else settings.cold_c)
    factor = temperature_factor(celsius, cable.per_k)
    loop = loop_ohm(_known(cable.ohm_per_km), _known(chain.length_m), factor)
    dry = dry_leak_ohm(chain)
    leak = dry
    if leakage == 1 and chain.leakage_ohm is not None and chain.leakage_ohm < dry:
        leak = chain.leakage_ohm
    capacitance_pf = _known(cable.capacitance_pf_per_m) * _known(chain.length_m) + _known(entry.capacitance_pf)
    shift = 0.0 if threshold is None else (entry.threshold_spread_v if threshold else -entry.threshold_spread_v)
    closed_ohm = _end(output.closed_ohm, contact) + loop
    closed_ohm = LEAST_BRANCH_OHM if closed_ohm < LEAST_BRANCH_OHM else closed_ohm
    leakage_a = entry.leakage_ua * 1e-6
    open_v, open_ohm, open_sink_a = 0.0, math.inf, leakage_a
    if output.kind == "push_pull":
        open_v, open_ohm = _end(output.high_v, supply), closed_ohm
    elif output.kind == "current_sensor":
        open_ohm = _end(output.open_ohm, contact) + loop
    else:
        open_sink_a = _known(output.off_leak_ua) * 1e-6 + leakage_a
        if output.open_ohm is not None:
            open_ohm = _end(output.open_ohm, contact) + loop
    return Circuit(
        source_v=source_v,
        pull_ohm=pull_ohm,
        leak_ohm=leak,
        capacitance_f=capacitance_pf * 1e-12,
        loop_ohm=loop,
        closed_v=output.saturation_v,
        closed_ohm=closed_ohm,
        closed_sink_a=-leakage_a,
        open_v=open_v,
        open_ohm=open_ohm,
        open_sink_a=open_sink_a,
        closed_below_v=_threshold(entry.threshold_unit, _known(entry.closed_below), source_v, pull_ohm, shift),
        open_above_v=_threshold(entry.threshold_unit, _known(entry.open_above), source_v, pull_ohm, shift),
        held_by_diode=output.kind != "push_pull",
    )


def _threshold(unit: str, value: float, source_v: float, pull_ohm: float, shift: float) -> float:
    """Return a threshold as a voltage at the terminals; a current threshold drops over the source resistance."""
    if unit == "mA":
        return source_v - value / 1000.0 * pull_ohm + shift
    if unit == "share":
        return value * source_v + shift
    return value + shift


def closed_level_v(circuit: Circuit) -> float:
    """Return the level while the output is closed.

    Parameters
    ----------
    circuit : Circuit
        At any corner.

    Returns
    -------
    float
        [V]; NaN if a figure is missing.

    Raises
    ------
    Never raises.

    Notes
    -----
    (V/R_pull + E/R_branch - I) / (1/R_pull + 1/R_leak + 1/R_branch); with E = 0, I = 0 and no leakage it is
    V (R_on + R_loop) / (R_pull + R_on + R_loop). A contact or transistor cannot lift the line.

    Source
    ------
    Kirchhoff.
    """
    conductance = 1.0 / circuit.pull_ohm + 1.0 / circuit.leak_ohm + 1.0 / circuit.closed_ohm
    fed = circuit.source_v / circuit.pull_ohm + circuit.closed_v / circuit.closed_ohm - circuit.closed_sink_a
    level = fed / conductance
    if circuit.held_by_diode:
        idle = 1.0 / circuit.pull_ohm + 1.0 / circuit.leak_ohm
        unloaded = (circuit.source_v / circuit.pull_ohm - circuit.closed_sink_a) / idle if idle > 0.0 else NOT_KNOWN
        if unloaded < level:
            level = unloaded
    return 0.0 if level < 0.0 else level


def open_level_v(circuit: Circuit) -> float:
    """Return the level while the output is open.

    Parameters
    ----------
    circuit : Circuit
        At any corner.

    Returns
    -------
    float
        [V, >= 0]; NaN if a figure is missing.

    Raises
    ------
    Never raises.

    Notes
    -----
    V R_leak / (R_pull + R_leak) - I (R_pull R_leak / (R_pull + R_leak)); one branch more where the output has one.

    Source
    ------
    Kirchhoff.
    """
    conductance = open_conductance_s(circuit)
    fed = circuit.source_v / circuit.pull_ohm + circuit.open_v / circuit.open_ohm - circuit.open_sink_a
    level = fed / conductance if conductance > 0.0 else NOT_KNOWN
    return 0.0 if level < 0.0 else level


def open_conductance_s(circuit: Circuit) -> float:
    """Return the conductance of the node while open. [S]"""
    return 1.0 / circuit.pull_ohm + 1.0 / circuit.leak_ohm + 1.0 / circuit.open_ohm


def closed_tau_ms(circuit: Circuit) -> float:
    """Return the time constant while closed. [ms] Source: Kirchhoff, C over the node's conductance."""
    conductance = 1.0 / circuit.pull_ohm + 1.0 / circuit.leak_ohm + 1.0 / circuit.closed_ohm
    return circuit.capacitance_f / conductance * 1000.0


def open_tau_ms(circuit: Circuit) -> float:
    """Return the time constant while open. [ms] Source: Kirchhoff, C over the node's conductance."""
    conductance = open_conductance_s(circuit)
    return circuit.capacitance_f / conductance * 1000.0 if conductance > 0.0 else NOT_KNOWN


def crossing_ms(start_v: float, final_v: float, threshold_v: float, tau_ms: float) -> float:
    """Return the time an exponential takes from its start to a threshold.

    Parameters
    ----------
    start_v, final_v : float
        Level at time zero and level approached. [V]
    threshold_v : float
        [V]
    tau_ms : float
        Time constant. [ms]

    Returns
    -------
    float
        0 if the start is already beyond, infinite if the threshold is never reached, NaN if a figure is missing. [ms]

    Raises
    ------
    Never raises.

    Notes
    -----
    t = tau ln((final - start) / (final - threshold)).

    Source
    ------
    First-order circuit.

    Examples
    --------
    >>> round(crossing_ms(0.0, 3.0, 2.1, 10.0), 2)
    12.04
    """
    if not (start_v == start_v and final_v == final_v and threshold_v == threshold_v and tau_ms == tau_ms):
        return NOT_KNOWN
    if final_v >= start_v:
        if start_v >= threshold_v:
            return 0.0
        if final_v <= threshold_v:
            return math.inf
    else:
        if start_v <= threshold_v:
            return 0.0
        if final_v >= threshold_v:
            return math.inf
    return tau_ms * math.log((final_v - start_v) / (final_v - threshold_v))


def rise_ms(circuit: Circuit) -> float:
    """Return the time from opening until the line reads open for certain. [ms] Source: :func:`crossing_ms`."""
    return crossing_ms(closed_level_v(circuit), open_level_v(circuit), circuit.open_above_v, open_tau_ms(circuit))


def fall_ms(circuit: Circuit) -> float:
    """Return the time from closing until the line reads closed for certain. [ms] Source: :func:`crossing_ms`."""
    return crossing_ms(open_level_v(circuit), closed_level_v(circuit), circuit.closed_below_v, closed_tau_ms(circuit))


def dwell_ms(circuit: Circuit) -> float:
    """Return the time the rising line spends between the two thresholds. [ms] Source: :func:`crossing_ms`."""
    low = circuit.closed_below_v
    start = closed_level_v(circuit)
    start = low if start < low else start
    return crossing_ms(start, open_level_v(circuit), circuit.open_above_v, open_tau_ms(circuit))


def strobe_rise_ms(circuit: Circuit) -> float:
    """Return the time from switching the pull-up on, line empty, until it reads open. [ms]"""
    return crossing_ms(0.0, open_level_v(circuit), circuit.open_above_v, open_tau_ms(circuit))


def leak_for_level_ohm(circuit: Circuit, level_v: float) -> float:
    """Return the leakage resistance that holds the open line at a level.

    Parameters
    ----------
    circuit : Circuit
        Its own leakage is left out.
    level_v : float
        [V, > 0]

    Returns
    -------
    float
        Any more leakage (fewer ohms) and the line is lower. Infinite where the line does not reach the level even dry,
        NaN if a figure is missing. [ohm]

    Raises
    ------
    Never raises.

    Source
    ------
    The open level solved for the leakage.
    """
    if level_v <= 0.0:
        return 0.0
    fed = circuit.source_v / circuit.pull_ohm + circuit.open_v / circuit.open_ohm - circuit.open_sink_a
    spare = fed / level_v - 1.0 / circuit.pull_ohm - 1.0 / circuit.open_ohm
    if spare <= 0.0:
        return math.inf
    return 1.0 / spare


def line_reads(circuit: Circuit, level_v: float) -> str:
    """Say how the input reads a level: ``closed``, ``open`` or ``between`` the thresholds, where it may read either."""
    if level_v <= circuit.closed_below_v:
        return "closed"
    return "open" if level_v >= circuit.open_above_v else "between"
