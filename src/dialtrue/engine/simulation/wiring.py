"""Faults between contact and counter: what the input counts instead of the pulses.

Each function takes a port that has counted rightly and a random source, and rewrites ``counts`` from the onset on.
Shapes follow from the chain itself; how often and how strongly is our assumption, drawn from the severity.
"""

from __future__ import annotations

from itertools import accumulate

import numpy as np

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
    """Nothing is counted from the onset on."""
    port.counts = np.minimum(port.counts, _at_onset(port))
    port.parameter = 0.0
    from_fit = port.fate.onset_s <= port.fitted_s
    port.variant = "polarity" if from_fit else "cut"
    if not from_fit and port.spec.tamper_loop == "wired" and rng.random() < 0.85:
        port.alarms.append((port.fate.onset_s, "cut_wire"))


def lost_counts(port: Port, rng: np.random.Generator) -> None:
    """Pulses are missed: above a flow (debounce too long), or at random (weak contact)."""
    sound = port.counts
    at_s, flow = port.each_pulse()
    late = at_s >= port.fate.onset_s
    if port.spec.trade != "home" or rng.random() < 0.4:
        port.variant = "debounce"
        cut_off = float(np.quantile(flow[late], 0.8 - 0.6 * port.fate.severity)) if late.any() else 0.0
        kept = ~(late & (flow > cut_off))
    else:
        port.variant = "random"
        kept = ~(late & (rng.random(len(flow)) < 0.04 + 0.5 * port.fate.severity))
    port.counts = later_counts(kept.astype(np.int64), sound)
    port.parameter = round(1 - _share_of_counts(port, sound), 6)


def double_count(port: Port, rng: np.random.Generator) -> None:
    """Every pulse counts twice: at once by bounce, or once at each edge of the contact."""
    before = _at_onset(port)
    port.parameter = 2.0
    if rng.random() < 0.5:
        port.variant = "bounce"
        port.counts = port.counts + np.maximum(port.counts - before, 0)
        return
    port.variant = "both_edges"
    closed_share = 0.3  # duty of the contact [our assumption]
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
    if rng.random() < 0.65:
        port.variant = "chatter"
        slow = flow < np.quantile(flow, 0.35 + 0.4 * port.fate.severity) if len(flow) else late
        chance = np.where(slow, 0.25 + 0.5 * port.fate.severity, 0.0)
    else:
        port.variant = "slow_edges"
        chance = np.full(len(flow), 0.05 + 0.4 * port.fate.severity)
    hit = late & (rng.random(len(flow)) < chance)
    port.counts = later_counts(1 + hit * rng.geometric(0.65, len(flow)), sound)
    port.parameter = round(_share_of_counts(port, sound) - 1, 6)


def wet_counts(port: Port, rng: np.random.Generator) -> None:
    """False counts that come with rain and fade as the splice dries; clumped, as bursts are."""
    drying_h = 6 + 42 * rng.random()
    onset_s = port.fate.onset_s
    later = (port.sky.hour_s >= onset_s) & (port.sky.hour_s < port.end_s)
    if port.sky.rain_mm[later].sum() < 20.0:
        # A splice that no rain will reach shows nothing: let it be bad from the fitting on.
        onset_s = port.since_s = port.fitted_s
    keep = float(np.exp(-1 / drying_h))
    hour_s = port.sky.hour_s
    wetness = np.fromiter(
        accumulate(port.sky.rain_mm.tolist(), lambda wet, rain: min(wet * keep + rain, 12.0)), float, len(hour_s)
    )
    rate = np.where((wetness > 1.0) & (hour_s >= onset_s), wetness / 4, 0.0) * (0.4 + 6 * port.fate.severity)
    burst = rng.gamma(0.5, 2.0, len(hour_s))
    false = np.cumsum(rng.poisson(rate * burst))
    port.counts = port.counts + _add_by_hour(port, hour_s, false)
    wet_hours = int(((rate > 0) & (hour_s < port.end_s)).sum())
    port.variant = f"drying_{drying_h:.0f}h"
    gained = int(port.counts[-1] - port.pulses(port.marks_s[-1:])[0]) if len(port.marks_s) else 0
    port.parameter = round(gained / wet_hours, 4) if wet_hours else 0.0


def steady_counts(port: Port, rng: np.random.Generator) -> None:
    """False counts without water: one a transmission, a constant trickle, or hum while a machine runs."""
    late = port.marks_s >= port.fate.onset_s
    kind = rng.random()
    if kind < 0.35:
        port.variant = "transmission"
        port.counts = port.counts + np.cumsum(late)
        port.parameter = 1.0
        return
    use_rate = max(port.spec.mean_l_day, 300.0) / float(port.spec.face.weight_l) / 24
    per_hour = float(use_rate * (0.3 + 4 * port.fate.severity))
    if kind < 0.65:
        port.variant = "constant"
        late_s = np.maximum(port.marks_s - port.fate.onset_s, 0)
        port.counts = port.counts + np.floor(late_s * per_hour / HOUR_S).astype(np.int64)
    else:
        port.variant = "machine_hours"
        first, length = int(rng.integers(5, 10)), int(rng.integers(6, 11))
        hour_s = port.sky.hour_s
        # The machine keeps its own shift, set by UTC - 6 h whatever the town's clock: our assumption.
        local = (hour_s // HOUR_S - 6) % 24
        weekday = (hour_s // DAY_S + 3) % 7 < 5
        on = (local >= first) & (local < first + length) & weekday & (hour_s >= port.fate.onset_s)
        per_hour *= 3
        port.counts = port.counts + _add_by_hour(port, hour_s, np.floor(np.cumsum(on * per_hour)).astype(np.int64))
    port.parameter = round(per_hour, 4)


def _add_by_hour(port: Port, hour_s: np.ndarray, false: np.ndarray) -> np.ndarray:
    """Return the false counts of the whole hours past at each mark, since the fitting."""
    start = np.searchsorted(hour_s, port.fitted_s, side="right") - 1
    row = np.clip(np.searchsorted(hour_s + HOUR_S, port.marks_s, side="right") - 1, -1, len(false) - 1)
    total = np.concatenate(([0], false))
    return np.maximum(total[row + 1] - total[start + 1], 0)


def intermittent(port: Port, rng: np.random.Generator) -> None:
    """Counting stops and resumes: in the cold, at certain hours, or in stretches of hours to days."""
    sound = port.counts
    at_s, _ = port.each_pulse()
    late = at_s >= port.fate.onset_s
    share = 0.12 + 0.5 * port.fate.severity
    kind = rng.random()
    if kind < 0.5:
        port.variant = "cold"
        temp = port.sky.temp_at(at_s)
        window = port.sky.temp_at(np.arange(max(port.fate.onset_s, port.fitted_s), port.end_s, HOUR_S))
        lost = temp < np.quantile(window, share)
    elif kind < 0.7:
        port.variant = "hours"
        hit = at_s[late]
        first = int(hit[int(rng.integers(0, len(hit)))] // HOUR_S) % 24 if len(hit) else 0
        lost = ((at_s // HOUR_S).astype(np.int64) - first) % 24 < 2 + int(10 * share)
    else:
        port.variant = "stretches"
        count = 3 + int(rng.integers(0, 8))
        begin = rng.uniform(max(port.fate.onset_s, port.fitted_s), port.end_s, count)
        length = rng.uniform(4, 60, count) * HOUR_S
        lost = ((at_s[:, None] >= begin) & (at_s[:, None] < begin + length)).any(axis=1)
    port.counts = later_counts((~(late & lost)).astype(np.int64), sound)
    port.parameter = round(1 - _share_of_counts(port, sound), 6)


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
