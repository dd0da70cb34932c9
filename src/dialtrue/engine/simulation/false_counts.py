"""Counts without pulses: damp that makes and breaks contact, radio bursts, mains hum.

Each function takes a port that has counted rightly and a random source, and adds to ``counts`` from the onset on.
Shapes follow from the chain itself; how often and how strongly is our assumption, drawn from the severity.
"""

from __future__ import annotations

from itertools import accumulate

import numpy as np

from dialtrue.engine.simulation.port import Port
from dialtrue.engine.simulation.sky import DAY_S, HOUR_S

_FULL_MM = 12.0
"""Wetness at which a splice or a pit takes no more. [mm of rain; our assumption]"""
_WET_MM = 1.0
_REACHED_MM = 20.0
"""Rain after the onset without which a damp fault would show nothing. [mm; our assumption]"""


def wetness_mm(port: Port, *, drying_h: float, lag_h: int) -> np.ndarray:
    """Return how wet a splice is in each hour of the sky: rain, ``lag_h`` later, fading with its drying time. [mm]"""
    keep = float(np.exp(-1 / drying_h))
    rain = np.concatenate((np.zeros(lag_h), port.sky.rain_mm))[: len(port.sky.rain_mm)].tolist()
    wet = accumulate(rain, lambda held, fallen: min(held * keep + fallen, _FULL_MM))
    return np.fromiter(wet, float, len(rain))


def onset_with_rain(port: Port) -> int:
    """Return when a damp fault begins [s since 1970]: from the fitting, if hardly any rain would reach it later."""
    later = (port.sky.hour_s >= port.fate.onset_s) & (port.sky.hour_s < port.end_s)
    if port.sky.rain_mm[later].sum() < _REACHED_MM:
        port.since_s = port.fitted_s
        return port.fitted_s
    return port.fate.onset_s


def wet_counts(port: Port, rng: np.random.Generator) -> None:
    """False counts that come with rain and fade as it dries; clumped within the hour, and from one rain to the next."""
    drying_h = 6 + 66 * rng.random() ** 2
    lag_h = int(rng.integers(4, 40)) if rng.random() < 0.35 else 0
    onset_s = onset_with_rain(port)
    hour_s = port.sky.hour_s
    wet = wetness_mm(port, drying_h=drying_h, lag_h=lag_h)
    rate = np.where((wet > _WET_MM) & (hour_s >= onset_s), wet / 4, 0.0) * (0.3 + 6 * port.fate.severity)
    rate *= 10 ** rng.uniform(-0.3, 0.6)
    # Each wet spell has a strength of its own: one storm finds the crack, the next one does not.
    spell = np.cumsum(np.diff((wet > _WET_MM).astype(int), prepend=0) > 0)
    strength = rng.gamma(0.8, 1.25, int(spell[-1]) + 1)[spell]
    false = np.cumsum(rng.poisson(rate * strength * rng.gamma(0.5, 2.0, len(hour_s))))
    port.counts = port.counts + add_by_hour(port, hour_s, false)
    wet_hours = int(((rate > 0) & (hour_s < port.end_s)).sum())
    port.variant = f"drying_{drying_h:.0f}h" + (f"_after_{lag_h}h" if lag_h else "")
    gained = int(port.counts[-1] - port.pulses(port.marks_s[-1:])[0]) if len(port.marks_s) else 0
    port.parameter = round(gained / wet_hours, 4) if wet_hours else 0.0


def steady_counts(port: Port, rng: np.random.Generator) -> None:
    """False counts without water: one a transmission, a constant trickle, or hum while a machine runs."""
    kind = rng.random()
    if kind < 0.35:
        _transmission(port, rng)
        return
    use_rate = max(port.spec.mean_l_day, 300.0) / float(port.spec.face.weight_l) / 24
    per_hour = float(use_rate * (0.3 + 4 * port.fate.severity))
    if kind < 0.65:
        port.variant = "constant"
        late_s = np.maximum(port.marks_s - port.fate.onset_s, 0)
        port.counts = port.counts + np.floor(late_s * per_hour / HOUR_S).astype(np.int64)
    else:
        per_hour = _machine(port, rng, 3 * per_hour, mains=kind > 0.9)
    port.parameter = round(per_hour, 4)


def _transmission(port: Port, rng: np.random.Generator) -> None:
    """Every burst of the radio is counted: once a read, or hourly or four-hourly whatever is delivered."""
    step_s = int(np.diff(port.marks_s).min()) if len(port.marks_s) > 1 else HOUR_S
    every_s = int(rng.choice((min(step_s, DAY_S), HOUR_S, 4 * HOUR_S), p=(0.6, 0.25, 0.15)))
    first_s = max(port.fate.onset_s, port.fitted_s)
    port.variant = "transmission"
    # A burst at the very moment of a read is counted after the index was latched into it.
    sent = np.where(port.marks_s >= first_s, (port.marks_s - first_s) // every_s + 1, 0)
    port.counts = port.counts + sent.astype(np.int64)
    port.parameter = round(HOUR_S / every_s, 6)


def _machine(port: Port, rng: np.random.Generator, per_hour: float, *, mains: bool) -> float:
    """Add hum with the hours of a machine; where the mains couples in whole, far more than water could be. [1/h]"""
    first, length = int(rng.integers(5, 10)), int(rng.integers(6, 11))
    hour_s = port.sky.hour_s
    # The machine keeps its own shift, set by UTC - 6 h whatever the town's clock: our assumption.
    local = (hour_s // HOUR_S - 6) % 24
    weekday = (hour_s // DAY_S + 3) % 7 < 5
    on = (local >= first) & (local < first + length) & weekday & (hour_s >= port.fate.onset_s)
    port.variant = "machine_hours"
    rate = on * per_hour
    if mains:
        # 60 counts a second for some minutes of an hour; never so many that the index turns between two reads.
        port.variant = "mains_hum"
        step_h = max(float(np.diff(port.marks_s).max()) / HOUR_S, 1.0) if len(port.marks_s) > 1 else 1.0
        most = 0.2 * port.actual.capacity * float(port.actual.resolution_l / port.actual.weight_l) / step_h
        rate = on * np.minimum(60 * 60 * rng.uniform(0.5, 6.0, len(hour_s)), most)
        per_hour = float(rate[on].mean()) if on.any() else 0.0
    port.counts = port.counts + add_by_hour(port, hour_s, np.floor(np.cumsum(rate)).astype(np.int64))
    return per_hour


def add_by_hour(port: Port, hour_s: np.ndarray, false: np.ndarray) -> np.ndarray:
    """Return the false counts of the whole hours past at each mark, since the fitting."""
    start = np.searchsorted(hour_s, port.fitted_s, side="right") - 1
    row = np.clip(np.searchsorted(hour_s + HOUR_S, port.marks_s, side="right") - 1, -1, len(false) - 1)
    total = np.concatenate(([0], false))
    return np.maximum(total[row + 1] - total[start + 1], 0)
