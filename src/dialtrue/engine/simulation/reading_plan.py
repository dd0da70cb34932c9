"""When each port's index is latched: by its own clock, or when a round passes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dialtrue.engine.simulation.dial_rounds import DialRounds
from dialtrue.engine.simulation.places import RegisterSpec
from dialtrue.engine.simulation.sky import DAY_S, HOUR_S

ROUND_FROM_S = 20 * DAY_S
"""Reads this far apart are taken on rounds, not by the endpoint's own clock. [s; our assumption]"""


@dataclass(frozen=True, slots=True)
class Window:
    """Begin and end of the reads [s since 1970], time between two reads [s], how dials are read again."""

    start_s: int
    end_s: int
    interval_s: int
    rounds: DialRounds


def latch_marks(spec: RegisterSpec, window: Window) -> np.ndarray:
    """Return the instants at which a port latches its index: by its own clock, or when the round comes by."""
    first = max(spec.fitted_s, window.start_s)
    if window.interval_s >= ROUND_FROM_S:
        return _round_marks(spec, window, first)
    step = (first - window.start_s - spec.latch_s) // window.interval_s + 1
    begin = window.start_s + spec.latch_s + step * window.interval_s
    return np.arange(begin, window.end_s, window.interval_s, dtype=np.int64)


def _round_marks(spec: RegisterSpec, window: Window, first_s: int) -> np.ndarray:
    """Return when a drive-by round passes: street after street, some days early or late, at any working hour.

    Source
    ------
    Up to four days early or late, the first round within 3 to 12 days of the fitting: our assumption.
    """
    rng = np.random.default_rng([spec.street, window.start_s % 2**31])
    rounds = np.arange(window.start_s + rng.uniform(0, 1) * window.interval_s, window.end_s, window.interval_s)
    days = np.rint(rounds / DAY_S + rng.uniform(-4, 4, len(rounds)))
    at_s = (days * DAY_S + 15 * HOUR_S + rng.uniform(0, 6) * HOUR_S).astype(np.int64) + spec.number % 42 * 40
    extra = first_s + int((3 + (spec.number * 7919 % 97) / 97 * 9) * DAY_S)
    at_s = np.unique(np.append(at_s, extra))
    return at_s[(at_s >= first_s) & (at_s < window.end_s)]
