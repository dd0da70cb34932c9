"""What to do about a posterior: nothing, a remote check, or a visit, by the cost expected of each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dialtrue.domain.faults import CATALOGUE, FAULTS
from dialtrue.engine.fleet import Floats

ACTIONS = ("none", "remote_check", "visit")


@dataclass(frozen=True, slots=True)
class Costs:
    """Costs in units of one technician visit. Our assumption throughout; override by ``[watch.costs]``.

    ``wasted_visit`` is more than a visit: it costs the crew's trust in the next alarm. ``remote_check`` is a dial
    photograph or a fresh read asked for; ``remote_helps`` is how much of the waiting it saves, ``follow_up`` the share
    of true faults that need the visit all the same, now or later. ``wait`` is a month more of a wrong count of one
    household's use, ``wait_record`` of a wrong record.
    """

    visit: float = 1.0
    wasted_visit: float = 2.5
    remote_check: float = 0.12
    remote_helps: float = 0.85
    follow_up: float = 0.8
    wait: float = 1.6
    wait_record: float = 1.2


@dataclass(slots=True)
class Decision:
    """``action`` (n,) index into ``ACTIONS``; ``priority`` (n,) expected cost of waiting [visits]."""

    action: np.ndarray
    priority: Floats


_WIRING = np.array([CATALOGUE[code].kind in ("wiring", "metering", "setting", "record", "open") for code in FAULTS])
_DATA = np.array([CATALOGUE[code].kind == "data" for code in FAULTS])
_NO_VISIT = np.array([CATALOGUE[code].kind in ("sound", "innocent", "data") for code in FAULTS])
_AT_DESK = np.isin(FAULTS, ("duplicate_serial", "meter_exchanged", "start_slip", "not_listed"))


def decide(probability: Floats, error_l: Floats, use_l_day: Floats, *, costs: Costs | None = None) -> Decision:
    """Choose the cheapest action in expectation.

    Parameters
    ----------
    probability : float64, shape (n, n_faults)
        Posterior. [-]
    error_l, use_l_day : float64, shape (n,)
        Volume error so far and use [L, L/day]; a larger error in months of use makes waiting dearer.
    costs : Costs, optional
        Prices in visits.

    Returns
    -------
    Decision

    Raises
    ------
    Never raises.

    Source
    ------
    Expected cost, one step ahead. Prices are our assumption: see ``Costs``; that a wasted visit is dear follows from
    rare faults (``AUDIT-9011``: 0.64 % needed a correction).
    """
    c = costs or Costs()
    needs = probability[:, _WIRING].sum(axis=1)
    data = probability[:, _DATA].sum(axis=1)
    months = np.abs(np.nan_to_num(error_l)) / np.maximum(np.nan_to_num(use_l_day, nan=300.0) * 30.0, 500.0)
    stake = np.clip(0.6 + 0.4 * months, 0.6, 4.0)
    waiting = (needs * c.wait + data * 0.6 * c.wait_record) * stake
    innocent = probability[:, _NO_VISIT].sum(axis=1)
    visiting = c.visit + innocent * c.wasted_visit
    later = needs * c.follow_up * c.visit
    checking = c.remote_check + (1 - c.remote_helps) * waiting + later
    at_desk = probability[:, _AT_DESK].sum(axis=1)
    visiting = visiting + at_desk * 0.6
    action = np.argmin(np.stack([waiting + later, checking, visiting]), axis=0)
    return Decision(action, waiting)
