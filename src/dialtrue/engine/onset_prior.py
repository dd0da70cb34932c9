"""How likely a fault begins at the fitting or in each later span of time, before a read is seen."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from dialtrue.engine.fleet import Floats
from dialtrue.engine.parts import over_parts

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
    averaged: Floats = np.empty(len(value))
    prior = onset_log_prior(code, value.shape[1] - 1)
    over_parts(len(value), lambda begin, end: _average(value, prior, averaged, begin, end))
    return averaged


@njit(cache=True, nogil=True)
def _average(value, log_prior, out, begin, end):
    """Fill ``out`` (n,) with the log of the mean of exp(``value``) under the prior; from ``begin`` to ``end``."""
    for f in range(begin, end):
        top = -np.inf
        for k in range(value.shape[1]):
            top = max(top, value[f, k] + log_prior[k])
        if top == -np.inf:
            out[f] = top
            continue
        total = 0.0
        for k in range(value.shape[1]):
            part = value[f, k] + log_prior[k]
            # What is less than the last digit of the sum is left out.
            if part > top - 45.0:
                total += math.exp(part - top)
        out[f] = top + math.log(total)
