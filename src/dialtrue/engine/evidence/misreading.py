"""How a dial is misread: one wrong figure, or two neighbours exchanged."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.pairing import look_step_l
from dialtrue.engine.parts import over_parts


def slip_density(case: Case) -> np.ndarray:
    """Return the density that a slip of the pen gives each pair's residual, (m,) [1/L].

    One wrong figure is k * 10^p, two neighbours exchanged 9 k * 10^p, in units of the dial's least digit; each of them
    is as likely as another, and the residual scatters about it with the reading noise. Never raises.

    Source
    ------
    Arithmetic of one wrong figure (k of 9 ways) and of two exchanged ones; that all are as likely is our assumption.
    """
    fleet, pairs = case.fleet, case.pairs
    f = pairs.fitting
    quantum = fleet.quantum_dial_l[f]
    digits = np.clip(np.nan_to_num(np.log10(fleet.capacity_dial_l[f] / quantum), nan=7.0), 3, 9)
    with np.errstate(divide="ignore", invalid="ignore"):
        sd = np.hypot(look_step_l(fleet)[f], pairs.bridge_l)
        residual = np.abs(pairs.index_l - case.start_lag_l[f] - pairs.dial_l)
    found = np.zeros(len(f))
    over_parts(len(f), lambda begin, end: _densities(residual, quantum, digits, sd, found, begin, end))
    return np.nan_to_num(found / (36.0 * digits))


@njit(cache=True, nogil=True, error_model="numpy")
def _densities(residual, quantum, digits, sd, out, begin, end):
    """Fill ``out`` (m,) with the sum over all such slips of the density of a residual; from ``begin`` to ``end``."""
    for j in range(begin, end):
        for places in range(min(10, math.ceil(digits[j]))):
            for factor in (1.0, 9.0):
                unit = factor * 10.0**places * quantum[j]
                k = np.rint(residual[j] / unit)
                # Where the noise is wider than the step, every residual would look like a slip of the least figure.
                if 1 <= k <= 9 and unit > 2 * sd[j]:
                    z = (residual[j] - k * unit) / sd[j]
                    out[j] += math.exp(-0.5 * min(z * z, 700.0)) / (sd[j] * 2.5066)
