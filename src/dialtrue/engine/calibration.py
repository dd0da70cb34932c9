"""One last honest step: what a stated probability turned out to be worth on simulated towns whose causes are known.

The blocks are not quite independent and the causes not quite what the model takes them for, so a probability between
the extremes is stated too high. The map below says by how much. It was fitted once, on training towns, and held on
towns of another generator that had no part in it; see ``KNOTS``.
"""

from __future__ import annotations

import numpy as np

from dialtrue.domain.faults import FAULTS
from dialtrue.engine.fleet import Floats

KNOTS = (
    (0.0, 0.0), (0.43, 0.35), (0.55, 0.44), (0.65, 0.545), (0.75, 0.605), (0.86, 0.74), (0.93, 0.89), (0.97, 0.966),
    (1.0, 1.0),
)  # fmt: skip
"""Stated probability of the likeliest cause, and the share of such findings that were right. Source: 18 training towns
(seeds 12400 to 12411 and 16159 to 16164 of ``benchmarks/seeds.toml``), 19,437 findings, binned and drawn monotone. On
nine towns of an independent generator, 13,612 findings, bins about 0.42, 0.55, 0.66, 0.75, 0.86, 0.93 and 0.97 were
right in 0.33, 0.46, 0.44, 0.52, 0.71, 0.84 and 0.97. To be fitted anew where ``posterior.CANDOUR`` is changed."""
SUREST_FAULT = 0.97
"""No fault is stated surer than this. Source: of the same findings, faults stated at 0.995 and more were right in 0.96;
on the other generator in 0.955."""
_SOUND = FAULTS.index("sound")


def calibrate(probability: Floats) -> Floats:
    """Return the posterior with its likeliest cause stated as such statements turned out.

    Parameters
    ----------
    probability : float64, shape (n, n_faults)
        Rows sum to 1. [-]

    Returns
    -------
    float64, shape (n, n_faults)
        Rows sum to 1; the order of the causes in a row is kept. What is taken goes to the others in proportion, and to
        *counts true* where there is no other.

    Raises
    ------
    Never raises.

    Source
    ------
    ``KNOTS`` and ``SUREST_FAULT``, measured.

    Examples
    --------
    >>> row = np.zeros((1, len(FAULTS)))
    >>> row[0, :2] = 0.25, 0.75
    >>> calibrate(row)[0, :2].round(3).tolist()
    [0.395, 0.605]
    """
    if not len(probability):
        return probability
    at = np.arange(len(probability))
    top = np.argmax(probability, axis=1)
    stated = probability[at, top]
    stated_as, worth = np.array(KNOTS).T
    # A row of many small causes keeps its order: the likeliest stays above the second.
    second = np.partition(probability, -2, axis=1)[:, -2]
    told = np.interp(stated, stated_as, worth)
    told = np.where(top != _SOUND, np.minimum(told, SUREST_FAULT), told)
    others = probability.copy()
    others[at, top] = 0.0
    # Added up, not taken from one: beside a cause that is all but certain the difference would be rounding.
    rest = others.sum(axis=1)
    grown = (1.0 - told) / np.maximum(rest, 1e-300)
    told = np.where(second * grown > told, stated, told)
    grown = np.where(rest > 0.0, (1.0 - told) / np.maximum(rest, 1e-300), 0.0)
    out: Floats = probability * grown[:, None]
    out[at, top] = told
    out[at, _SOUND] += np.maximum(1.0 - out.sum(axis=1), 0.0)
    return out
