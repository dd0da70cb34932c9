"""Faults between contact and counter: what the input makes of the pulses that the meter gives.

Each function takes a port that has counted rightly and a random source, and rewrites ``counts`` from the onset on.
Shapes follow from the chain itself; how often and how strongly is our assumption, drawn from the severity.
"""

from __future__ import annotations

import numpy as np

from dialtrue.engine.simulation.false_counts import onset_with_rain, wetness_mm
from dialtrue.engine.simulation.port import Port, later_counts
from dialtrue.engine.simulation.sky import DAY_S, HOUR_S


def _at_onset(port: Port) -> int:
    """Return the pulses given before the fault began."""
    return int(port.pulses(np.array([max(port.fate.onset_s, port.fitted_s)]))[0])


def _share_of_counts(port: Port, sound: np.ndarray) -> float:
    """Return the final counts over the sound counts since the onset, for the label."""
    before = _at_onset(port)
    passed = int(sound[-1]) - before
    return round((int(port.counts[-1]) - before) / passed, 6) if passed > 0 else 1.0


def dead_input(port: Port, rng: np.random.Generator) -> None:
    """Nothing is counted from the onset on: never was, or the wire is cut, or the contact sticks closed."""
    port.counts = np.minimum(port.counts, _at_onset(port))
    port.parameter = 0.0
    kind = rng.random()
    if port.fate.onset_s <= port.fitted_s:
        port.variant = "loop_taken_for_pulse" if kind < 0.25 else "polarity"
        if kind < 0.25 and port.spec.tamper_loop != "absent":
            port.alarms += [(port.fitted_s + day * DAY_S, "cut_wire") for day in range(1, 60)]
        return
    port.variant = "stuck_closed" if kind < 0.25 else "cut"
    if kind < 0.25:
        # The pull-up feeds the closed contact day and night: the cell complains years early.
        port.alarms.append((port.fate.onset_s + int(rng.uniform(20, 120) * DAY_S), "low_battery"))
    elif port.spec.tamper_loop == "wired" and rng.random() < 0.85:
        port.alarms.append((port.fate.onset_s, "cut_wire"))


def lost_counts(port: Port, rng: np.random.Generator) -> None:
    """Pulses are missed: above a flow (debounce), at random, more in the cold, ever more, or beside another device."""
    sound = port.counts
    at_s, flow = port.each_pulse()
    late = at_s >= port.fate.onset_s
    share = 0.04 + 0.5 * port.fate.severity
    kind = rng.random()
    if port.spec.trade != "home" or kind < 0.35:
        if kind > 0.7:
            port.variant = "second_device"
            lost = _in_turns(port, rng, at_s) & (rng.random(len(flow)) < 0.3 + 0.6 * port.fate.severity)
        else:
            port.variant = "debounce"
            lost = flow > (float(np.quantile(flow[late], 0.8 - 0.6 * port.fate.severity)) if late.any() else 0.0)
    elif kind < 0.7:
        port.variant = "random"
        lost = rng.random(len(flow)) < share
    elif kind < 0.87:
        port.variant = "random_in_the_cold"
        temp = port.sky.temp_at(at_s)
        middle = float(np.median(temp[late])) if late.any() else 0.0
        lost = rng.random(len(flow)) < np.clip(share * (1 - (temp - middle) / 8), 0.0, 0.95)
    else:
        port.variant = "ageing"
        life = (at_s - port.fate.onset_s) / max(port.end_s - port.fate.onset_s, DAY_S)
        lost = rng.random(len(flow)) < np.clip(1.6 * share * life, 0.0, 0.95)
    port.counts = later_counts((~(late & lost)).astype(np.int64), sound)
    port.parameter = round(1 - _share_of_counts(port, sound), 6)


def _in_turns(port: Port, rng: np.random.Generator, at_s: np.ndarray) -> np.ndarray:
    """Return which pulses fall into the weeks in which another device hangs on the same output."""
    span_s = float(rng.uniform(8, 25)) * DAY_S
    return ((at_s - port.fate.onset_s) // span_s).astype(np.int64) % 2 == 0


def double_count(port: Port, rng: np.random.Generator) -> None:
    """Every pulse counts twice: at once by bounce, or once at each edge of the contact."""
    before = _at_onset(port)
    port.parameter = 2.0
    if rng.random() < 0.5:
        port.variant = "bounce"
        port.counts = port.counts + np.maximum(port.counts - before, 0)
        return
    port.variant = "both_edges"
    closed_share = float(rng.uniform(0.15, 0.5))  # duty of the contact [our assumption]
    weight_ul = float(port.spec.face.weight_l) * 1e6
    base = port.curve.volume_ul(np.array([max(port.fate.onset_s, port.fitted_s)]))[0]
    base -= port.curve.volume_ul(np.array([port.fitted_s]))[0]
    place = np.array([base, *port.volume_ul]) + port.spec.phase_ul
    edges = np.floor(place / weight_ul - closed_share).astype(np.int64)
    port.counts = port.counts + np.maximum(edges[1:] - edges[0], 0)


def extra_counts(port: Port, rng: np.random.Generator) -> None:
    """Some pulses count more than once: chatter at low flow, or slow edges on a long cable at any flow."""
    sound = port.counts
    at_s, flow = port.each_pulse()
    late = at_s >= port.fate.onset_s
    kind = rng.random()
    if kind < 0.55:
        port.variant = "chatter"
        slow = flow < np.quantile(flow, 0.35 + 0.4 * port.fate.severity) if len(flow) else late
        chance = np.where(slow, 0.25 + 0.5 * port.fate.severity, 0.0)
    else:
        port.variant = "slow_edges"
        chance = np.full(len(flow), 0.05 + 0.4 * port.fate.severity)
        if kind > 0.85:
            port.variant = "ageing"
            life = (at_s - port.fate.onset_s) / max(port.end_s - port.fate.onset_s, DAY_S)
            chance = np.clip(1.6 * chance * life, 0.0, 0.95)
    hit = late & (rng.random(len(flow)) < chance)
    port.counts = later_counts(1 + hit * rng.geometric(0.65, len(flow)), sound)
    port.parameter = round(_share_of_counts(port, sound) - 1, 6)


def intermittent(port: Port, rng: np.random.Generator) -> None:
    """Counting stops and resumes: in the cold, at certain hours, in stretches, in the wet, or under a magnet."""
    sound = port.counts
    at_s, _ = port.each_pulse()
    late = at_s >= port.fate.onset_s
    share = 0.12 + 0.5 * port.fate.severity
    kind = rng.random()
    if kind < 0.35:
        port.variant = "cold"
        temp = port.sky.temp_at(at_s)
        window = port.sky.temp_at(np.arange(max(port.fate.onset_s, port.fitted_s), port.end_s, HOUR_S))
        lost = temp < np.quantile(window, share)
    elif kind < 0.5:
        port.variant = "hours"
        hit = at_s[late]
        first = int(hit[int(rng.integers(0, len(hit)))] // HOUR_S) % 24 if len(hit) else 0
        lost = ((at_s // HOUR_S).astype(np.int64) - first) % 24 < 2 + int(10 * share)
    elif kind < 0.75:
        port.variant = "stretches"
        count = 3 + int(rng.integers(0, 8))
        begin = rng.uniform(max(port.fate.onset_s, port.fitted_s), port.end_s, count)
        length = rng.uniform(4, 60, count) * HOUR_S
        lost = ((at_s[:, None] >= begin) & (at_s[:, None] < begin + length)).any(axis=1)
    elif kind < 0.9 and port.spec.mount == "pit":
        late = at_s >= onset_with_rain(port)
        lost = _held_closed(port, rng, at_s)
    else:
        port.variant = "magnet"
        day = (at_s // DAY_S).astype(np.int64)
        away = rng.random(int(day.max() - day.min()) + 1 if len(day) else 1) < share
        hour = (at_s // HOUR_S).astype(np.int64) % 24
        lost = away[day - day.min()] & ((hour >= 22) | (hour < 12)) if len(day) else late
    port.counts = later_counts((~(late & lost)).astype(np.int64), sound)
    port.parameter = round(1 - _share_of_counts(port, sound), 6)


def _held_closed(port: Port, rng: np.random.Generator, at_s: np.ndarray) -> np.ndarray:
    """Return the pulses lost while a wet splice holds the input closed: after rain, until it has dried."""
    drying_h = 12 + 84 * rng.random()
    wet = wetness_mm(port, drying_h=drying_h, lag_h=int(rng.integers(0, 12)))
    port.variant = f"held_closed_when_wet_{drying_h:.0f}h"
    row = np.clip((at_s - port.sky.hour_s[0]) // HOUR_S, 0, len(wet) - 1).astype(np.int64)
    return wet[row] > 1.0 + 2 * (1 - port.fate.severity)


def backflow_counted(port: Port, rng: np.random.Generator) -> None:
    """A plain contact counts each pass, whichever way the water runs."""
    sound = port.counts
    port.counts = port.pulse_passes(port.marks_s)
    port.variant = "no_check_valve"
    port.parameter = round(_share_of_counts(port, sound) - 1, 6)
    if rng.random() < 0.25:
        port.alarms.append((port.fate.onset_s + DAY_S, "reverse_flow"))


def meter_reversed(port: Port, rng: np.random.Generator) -> None:
    """The meter is turned (the dial falls as the index rises) or its direction signal is (the index falls)."""
    port.parameter = -1.0
    if rng.random() < 0.5:
        port.variant = "meter_turned"
        port.dial_turns = -1
    else:
        port.variant = "signal_turned"
        port.counts = -port.counts
    if rng.random() < 0.6:
        port.alarms.append((port.fitted_s + DAY_S, "reverse_flow"))
