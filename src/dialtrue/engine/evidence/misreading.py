"""How a dial is misread: one wrong figure, or two neighbours exchanged."""

from __future__ import annotations

import numpy as np

from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.pairing import look_step_l


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
        for places in range(10):
            for factor in (1.0, 9.0):
                unit = factor * 10.0**places * quantum
                k = np.round(residual / unit)
                z = (residual - k * unit) / sd
                # Where the noise is wider than the step, every residual would look like a slip of the least figure.
                fits = (k >= 1) & (k <= 9) & (places < digits) & (unit > 2 * sd)
                found += np.where(fits, np.exp(-0.5 * np.minimum(z * z, 700)) / (sd * 2.5066), 0.0)
    return np.nan_to_num(found / (36.0 * digits))
