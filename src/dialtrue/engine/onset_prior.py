"""How likely a fault begins at the fitting or in each later span of time, before a read is seen."""

from __future__ import annotations

import numpy as np
from scipy.special import logsumexp

from dialtrue.engine.fleet import Floats

LATE_SHARE = {
    "weight_decade": 0.15, "unit_slip": 0.15, "double_count": 0.35, "meter_reversed": 0.3, "lost_counts": 0.5,
    "extra_counts": 0.5, "dead_input": 0.7, "intermittent": 0.7, "wet_counts": 0.6, "steady_counts": 0.6,
    "backflow_counted": 0.5, "customer_leak": 0.6, "vacant": 0.7, "use_change": 0.8, "index_reset": 1.0,
    "meter_exchanged": 1.0, "stale_index": 1.0, "clock_shift": 0.6, "digit_slip": 0.02,
}  # fmt: skip
"""Share of each fault that begins after the fitting; codes that are missing begin with it. Our assumption: settings are
made at the fitting, wires age; override by another table."""


def onset_log_prior(code: str, spans: int) -> Floats:
    """Return the log-probabilities (1 + spans,) that a fault began at the fitting or in each later span; sum to 1.

    Source
    ------
    ``LATE_SHARE``; later onsets are equally likely at any time (our assumption).
    """
    late = LATE_SHARE.get(code, 0.0)
    with np.errstate(divide="ignore"):
        return np.log(np.concatenate(([1.0 - late], np.full(spans, late / spans))))


def over_onsets(value: np.ndarray, code: str) -> Floats:
    """Average a (n, 1 + spans) log-likelihood over the onset; (n,) [nat]. Never raises."""
    averaged: Floats = logsumexp(value.astype(float) + onset_log_prior(code, value.shape[1] - 1), axis=1)
    return averaged
