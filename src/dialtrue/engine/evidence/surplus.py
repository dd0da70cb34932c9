"""What the looks prove: how far the index is off the dial, and how much a day that has been since it began."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.pairing import look_step_l
from dialtrue.engine.scan_kernel import DAY_US

SURE = 5.0
"""Standard errors of the looks from which a difference is taken as there. Our assumption."""


def last_difference(case: Case) -> tuple[Floats, Floats, Floats, Ints]:
    """Return index less dial at the last usable look, its standard error, the dial there, and when; (n,).

    nan and 0 where nobody has looked.
    """
    pairs, fleet = case.pairs, case.fleet
    n = fleet.size
    last = pairs.last_rows()
    seen = last >= 0
    pick = last[seen]
    difference, error, dial, at = np.full(n, np.nan), np.full(n, np.nan), np.full(n, np.nan), np.zeros(n, np.int64)
    difference[seen] = pairs.index_l[pick] - pairs.dial_l[pick] - case.start_lag_l[seen]
    error[seen] = np.hypot(pairs.bridge_l[pick], look_step_l(fleet)[seen])
    dial[seen], at[seen] = pairs.dial_l[pick], pairs.at_us[pick]
    return difference, error, dial, at


def proven(case: Case) -> NDArray[np.bool_]:
    """Mark ports whose last look proves a difference of index and dial; (n,)."""
    difference, error, dial, _ = last_difference(case)
    with np.errstate(invalid="ignore"):
        odd = np.abs(difference) > SURE * error + 0.004 * np.abs(dial)
    marked: NDArray[np.bool_] = odd & (case.pairs.anchored == 1)
    return marked


def surplus_a_day(case: Case, rows: Ints) -> tuple[Floats, Floats]:
    """Return how much was counted too much a day since it began, (m,) [L/day], and the share of the watch since then.

    It began between the last look that agreed and the first that did not, where the later looks' rate leads back to.
    """
    pairs, fleet, figures = case.pairs, case.fleet, case.scan.figures
    rate, active = np.zeros(len(rows)), np.ones(len(rows))
    for k, row in enumerate(rows):
        looks = pairs.rows_of(int(row))
        looks = looks[pairs.usable[looks] == 1]
        if not len(looks):
            continue
        apart = pairs.index_l[looks] - pairs.dial_l[looks] - case.start_lag_l[row]
        noise = 3 * np.hypot(pairs.bridge_l[looks], fleet.weight_set_l[row] + fleet.quantum_dial_l[row])
        at = pairs.at_us[looks].astype(float)
        agreed = np.flatnonzero(np.abs(apart) <= noise)
        first = agreed[-1] + 1 if len(agreed) else 0
        begin = float(at[first - 1]) if first else float(fleet.fit_us[row])
        if first >= len(looks):
            continue
        if len(looks) - first >= 2:
            slope = (apart[-1] - apart[first]) / max(at[-1] - at[first], 1.0)
            onset = at[first] - apart[first] / slope if slope > 0 else begin
            # One that was there all along leads back to about the fitting.
            onset = float(np.clip(onset, begin, at[first]))
        else:
            onset = begin if not first else 0.5 * (begin + at[first])
        days = max((at[-1] - onset) / DAY_US, 0.5)
        rate[k] = apart[-1] / days
        heard = max(float(figures["last_us"][row] - figures["first_us"][row]), 1.0)
        active[k] = np.clip((figures["last_us"][row] - onset) / heard, 0.05, 1.0)
    return rate, active


def agreed_until(case: Case, rows: Ints) -> Ints:
    """Return when dial and index were last seen to agree, the fitting where no look did; (m,)."""
    pairs, fleet = case.pairs, case.fleet
    until = fleet.fit_us[rows].copy()
    for k, row in enumerate(rows):
        looks = pairs.rows_of(int(row))
        looks = looks[pairs.usable[looks] == 1]
        apart = pairs.index_l[looks] - pairs.dial_l[looks] - case.start_lag_l[row]
        noise = 3 * np.hypot(pairs.bridge_l[looks], fleet.weight_set_l[row] + fleet.quantum_dial_l[row])
        agreed = np.flatnonzero(np.abs(apart) <= noise)
        if len(agreed):
            until[k] = pairs.at_us[looks[agreed[-1]]]
    return until
