"""Upsets in the middle of the life of a port: resets of the counter, meters exchanged behind the record's back."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from dialtrue.domain.quantity import LITRES_PER_UNIT
from dialtrue.engine.simulation.meters import shifted
from dialtrue.engine.simulation.port import Port
from dialtrue.engine.simulation.sky import DAY_S
from dialtrue.engine.simulation.train import UL_PER_L, floor_scaled, pulses_at


def meter_exchanged(port: Port, rng: np.random.Generator) -> None:
    """The meter is replaced without a record: the dial starts anew, the count goes on, the weight may differ."""
    at = port.fate.onset_s
    new_ul = int(rng.choice((0.0, rng.uniform(0, 2_000.0)))) * UL_PER_L
    port.new_dial = (at, new_ul)
    port.variant, port.parameter = "same_weight", 1.0
    if rng.random() < 0.3:
        power = 1 if rng.random() < 0.5 else -1
        weight_l = port.spec.face.weight_l * (10 if power > 0 else 1) / (1 if power > 0 else 10)
        turned = np.maximum(port.volume_ul - port.turned_ul(np.array([at]))[0], 0)
        before = int(port.pulses(np.array([at]))[0])
        new = pulses_at(turned, phase_ul=0, weight_l=weight_l)
        port.counts = np.where(port.marks_s < at, port.counts, before + new)
        port.parameter = float(10.0**-power)
        port.variant = f"weight_{shifted(port.spec.face.pulse_weight, power)}_{port.spec.face.pulse_unit}"


def _falls_again(port: Port, rng: np.random.Generator, row: int) -> int:
    """Let a dying cell drop the count since the last saving some more times; return the units lost."""
    lost = 0
    for place in np.sort(rng.integers(row, len(port.index), int(rng.integers(1, 4)))):
        drop = int(port.index[place] - port.index[max(int(place) - max(DAY_S // _step_s(port), 1), row)])
        port.index[place:] -= drop
        lost += drop
    port.variant = "to_last_stored_again_and_again"
    return lost


def _step_s(port: Port) -> int:
    """Return the usual time between two marks. [s]"""
    return max(int(np.median(np.diff(port.marks_s))), 1) if len(port.marks_s) > 1 else DAY_S


def export_changed(port: Port) -> None:
    """From one date on, an export gives the whole index in another scale: every port of the group falls that day."""
    late = port.marks_s >= port.fate.onset_s
    share = Fraction(port.fate.export).limit_denominator(10_000)
    scaled = port.index * share.numerator // share.denominator
    port.index = np.where(late, scaled, port.index)
    port.variant, port.parameter = "export_changed", round(float(share), 6)


def index_reset(port: Port, rng: np.random.Generator) -> None:
    """The counter falls back to its start, to zero, or to the value it last saved, and counts on from there."""
    after = np.flatnonzero(port.marks_s >= port.fate.onset_s)
    if not len(after) or after[0] == 0:
        return
    row = int(after[0])
    kind = rng.random()
    if kind < 0.4:
        port.variant, base = "to_start", port.start_keyed
    elif kind < 0.65:
        port.variant, base = "to_zero", 0
    else:
        port.variant = "to_last_stored"
        stored_s = port.fate.onset_s - int((2 + 5 * port.fate.severity) * DAY_S)
        base = int(port.index[max(int(np.searchsorted(port.marks_s, stored_s)) - 1, 0)])
    lost = int(port.index[row]) - base
    onward = floor_scaled(port.counts[row:] - port.counts[row], port.actual.weight_l / port.actual.resolution_l)
    port.index = np.concatenate((port.index[:row], base + onward))
    if port.variant == "to_last_stored" and rng.random() < 0.4:
        lost += _falls_again(port, rng, row)
    port.parameter = float(-lost * port.recorded.resolution_l / LITRES_PER_UNIT[port.recorded.unit])
    if rng.random() < 0.6:
        port.alarms.append((port.fate.onset_s - int(rng.integers(0, 5)) * DAY_S, "low_battery"))
