"""Looks at a dial beside an index, as the compiled pair likelihoods take them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from scipy import integrate, stats

from dialtrue.engine.evidence import pair_kernel as pk


@dataclass(frozen=True)
class Looks:
    """``d`` dial moved, ``x`` index moved [L], ``clock`` what a drift goes by, zero at its onset.

    ``day_l`` is what the index draws in a day, by which a look at the wrong hour is off; 0 takes every hour as right.
    """

    d: np.ndarray
    x: np.ndarray
    clock: np.ndarray
    qd: float = 1.0
    w: float = 1.0
    qe: float = 1.0
    day_l: float = 0.0
    misread: np.ndarray = field(default_factory=lambda: np.zeros(0))
    bridge: np.ndarray = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        n = len(self.d)
        if not len(self.misread):
            object.__setattr__(self, "misread", np.full(n, 0.004))
        if not len(self.bridge):
            object.__setattr__(self, "bridge", np.full(n, 0.2))

    @property
    def quanta(self) -> tuple[float, float, float]:
        """Dial's step, pulse weight and index's step [L]."""
        return self.qd, self.w, self.qe

    @property
    def base(self) -> np.ndarray:
        """Each look's log density if the index counts true."""
        out = np.zeros(len(self.d))
        pk.true_logs(self.d, self.x, self.bridge, self.misread, np.zeros(len(self.d)), self.day_l, *self.quanta, out)
        return out

    def with_index(self, at: int, more_l: float) -> Looks:
        """Return the same looks with one index moved off: as if that dial had been misread."""
        x = self.x.copy()
        x[at] += more_l
        return replace(self, x=x)


def looks(d: Sequence[float], x: Sequence[float], clock: Sequence[float] | None = None, **changes: object) -> Looks:
    """Return looks from lists; the clock goes by tens of days unless given."""
    hands = np.arange(1, len(d) + 1) * 10.0 if clock is None else np.asarray(clock, float)
    return Looks(np.asarray(d, float), np.asarray(x, float), hands, **changes)  # type: ignore[arg-type]


def good_density(given: Looks, j: int, mean: float, ratio: float = 1.0) -> float:
    """Return the density of look ``j`` about ``mean``, by scipy: two rounded ends of dial, pulse and index each."""
    variance = 2 * (ratio**2 * given.qd**2 + given.w**2 + given.qe**2) / 12 + given.bridge[j] ** 2
    return float(stats.norm.pdf(given.x[j], mean, np.sqrt(variance)))


def log_integral(log_value: Callable[[float], float], low: float, high: float, at: float, width: float) -> float:
    """Return the log of the integral of exp(log_value) from ``low`` to ``high``, whose peak lies near ``at``."""
    top = log_value(at)
    points = sorted({min(max(at + k * width, low), high) for k in (-30, -8, -3, 0, 3, 8, 30)} - {low, high})
    edges = [low, *points, high]
    whole = sum(
        integrate.quad(lambda value: np.exp(log_value(value) - top), a, b, limit=200)[0] for a, b in pairwise(edges)
    )
    return top + float(np.log(whole))
