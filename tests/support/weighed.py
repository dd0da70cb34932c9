"""One port's pairs weighed by the compiled likelihood, with the spans of its onset."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dialtrue.domain.faults import COLUMN
from dialtrue.engine.evidence import pair_shape
from dialtrue.engine.evidence.frame import FLOOR, N_FAULTS
from dialtrue.engine.onset_prior import onset_log_prior, over_onsets
from dialtrue.engine.onsets import SPANS
from dialtrue.engine.ratios import DECADE_RATIOS, UNIT_RATIOS
from tests.support.fleets import HOUR_US, START_US
from tests.support.looks import Looks

DAY_US = 24 * HOUR_US
END_DAYS = 96.0


@dataclass(frozen=True)
class Weighed:
    """``at_onset`` by fault code (1 + SPANS,), ``best`` the figure that fits best; ``static`` (n_faults,)."""

    at_onset: dict[str, np.ndarray]
    best: dict[str, float]
    static: np.ndarray

    def told(self, code: str) -> float:
        """Return what the pairs say for a fault against a true count, the onset averaged over [nat]."""
        value = float(self.static[COLUMN[code]])
        return value + (float(over_onsets(self.at_onset[code][None, :], code)[0]) if code in self.at_onset else 0.0)


def weighed(
    given: Looks, *, at_days: np.ndarray, use_l_day: float = 500.0, scale: float = 1.0, shift_us: int = 0,
    falls: bool = False, slip: np.ndarray | None = None, fallen: np.ndarray | None = None, span_fallen: int = -1,
) -> Weighed:  # fmt: skip
    """Weigh the looks of one port whose index rises evenly over ``END_DAYS``; ``scale`` multiplies every volume."""
    n = len(given.d)
    names = pair_shape.TIMED
    one = np.ones(1)
    shares = np.arange(SPANS + 1) / SPANS
    edge_us = START_US + shift_us + np.round(shares * END_DAYS * DAY_US).astype(np.int64)
    edge_l = scale * use_l_day * END_DAYS * shares
    loglik, parameter = np.zeros((1, N_FAULTS)), np.full((1, N_FAULTS), np.nan)
    at_onset = np.zeros((len(names), 1, SPANS + 1), np.float32)
    best_at = np.full((len(names), 1), np.nan)
    log_prior = np.maximum(np.stack([onset_log_prior(code, SPANS) for code in names]), 5 * FLOOR)
    t_us = START_US + shift_us + np.round(np.asarray(at_days) * DAY_US).astype(np.int64)
    pair_shape.weigh_all(
        np.array([0, n]), given.d * scale, given.x * scale, t_us, given.bridge * scale, given.misread,
        np.zeros(n) if slip is None else slip / scale, (given.d + 1e5) * scale,
        np.zeros(n) if fallen is None else fallen * scale, np.array([span_fallen]), np.array([falls], np.int8),
        23.7 * scale * one, use_l_day * scale * one, np.ones(n, np.int8), np.full(n, -1.0),
        np.full((1, SPANS + 1), -1.0),
        given.qd * scale * one, given.w * scale * one, given.qe * scale * one, 1e6 * scale * one, 1e6 * scale * one,
        edge_us[None, :], edge_l[None, :], DECADE_RATIOS[0], np.exp(DECADE_RATIOS[1]), UNIT_RATIOS[0],
        np.exp(UNIT_RATIOS[1]), loglik, parameter, at_onset, best_at, log_prior, np.zeros(1, np.int64), 0, 1,
    )  # fmt: skip
    told = at_onset[:, 0].astype(float)
    return Weighed(
        dict(zip(names, told, strict=True)), dict(zip(names, best_at[:, 0].tolist(), strict=True)), loglik[0]
    )
