"""What to do about a posterior: nothing, a remote check, or a visit, by the cost expected of each.

One step ahead and no further: leave the port, look first and then leave or go, or go at once. A look is worth what it
changes: for every outcome the cheapest act after it is priced, and the outcomes are weighed by their chance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dialtrue.domain.faults import CATALOGUE, FAULTS
from dialtrue.domain.watch_settings import Costs
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.observations import CHANCE, SHARES, photo_power

Flags = NDArray[np.bool_]
ACTIONS = ("none", "remote_check", "visit")
UNPAIRED_MOST = 0.95
"""No fault is stated surer than this without a dial read, unless arithmetic shows it. Our assumption, from field
practice: a dial photograph removes more doubt than any statistic."""
ARITHMETIC = 5.0
"""What a block of arithmetic (records, falls, divisors) must say for a fault to be stated surer than that [nat]."""
NOTICED = 2.0
"""A bill wrong by more than this many times the use is noticed by whoever prints it, so more adds no cost. Our
assumption. [-]"""
LEAST_USE_L_DAY = 100.0
"""Use below which an error is priced as at this use: nobody stays so low for good. Our assumption. [L/day]"""
CALLED_FOR = 2.0
"""A port's own evidence calls for a check where it raises the odds of a fault by this factor. Our assumption: less is
what sound ports differ by among themselves."""
ONE_CODE, LEAST_SIGN = 5.0, 0.03
"""So does evidence that raises one fault to five times its share, and to three in a hundred. Our assumption."""
WORTH_ASKING = 2.0
"""A check is also called for where it gains this many times its price. Our assumption: a large user is worth a look."""
BATCH = 8192
"""Ports weighed at a time: the arrays of a batch stay in the processor's cache."""
LOOKED_AT = ("photo", "plate", "fresh_read", "desk")
"""What the action ``remote_check`` may ask for."""

_KIND = np.array([CATALOGUE[code].kind for code in FAULTS])
_OPEN = FAULTS.index("not_listed")
_WELL = np.isin(_KIND, ("sound", "innocent"))
_DATA = _KIND == "data"
_ONCE = np.isin(FAULTS, ("start_slip", "index_reset", "digit_slip", "meter_exchanged", "stale_index"))
_RECORD_ONLY = np.isin(FAULTS, ("clock_shift", "stale_index", "meter_exchanged", "duplicate_serial"))
_PASSING = np.array([code == "stale_index" for code in FAULTS])
PASSED = 0.1
"""What is left of a wrong record's cost once late reads have caught up by themselves. Our assumption: they are marked,
no more; what an index that still stands costs is in its volume."""
_BY_DESK = {
    "stale_index": 0.9, "clock_shift": 0.9, "duplicate_serial": 0.8, "meter_exchanged": 0.85, "start_slip": 0.85,
    "digit_slip": 0.6, "crossed": 0.2, "ports_swapped": 0.2, "weight_decade": 0.2, "unit_slip": 0.2,
}  # fmt: skip
"""Share of cases that are put right at the desk, once known. Our assumption."""
_DESK = np.array([_BY_DESK.get(code, 0.0) for code in FAULTS])
_BY_VISIT = {"not_listed": 0.5, "stale_index": 0.3, "clock_shift": 0.3}
"""Share of cases that a visit puts right; all of them where not said. Our assumption."""
_VISIT = np.array([0.0 if well else _BY_VISIT.get(code, 0.97) for code, well in zip(FAULTS, _WELL, strict=True)])


@dataclass(slots=True)
class Stakes:
    """What is at stake at each port, shapes (n,). nan is not known.

    ``code`` column of the named fault; ``error_l`` its volume error so far [L]; ``days`` since its onset [day];
    ``use_l_day``; ``volume_l`` passed since dial and index last agreed [L]; ``grain_l`` one pulse and one step of dial
    and index [L]; ``looked_at`` a dial read stands beside the index since the fitting.
    """

    code: Ints
    error_l: Floats
    days: Floats
    use_l_day: Floats
    volume_l: Floats
    grain_l: Floats
    looked_at: Flags


@dataclass(slots=True)
class Decision:
    """Shapes (n,).

    ``action`` index into ``ACTIONS``; ``priority`` expected cost of waiting [visits]; ``gain`` what the best remote
    check saves less its price, an upper bound where waiting costs less than any look [visits]; ``look`` index into
    ``LOOKED_AT``; ``routine`` a check for its own sake, from the month's budget.
    """

    action: Ints
    priority: Floats
    gain: Floats
    look: Ints
    routine: Flags


def temper(probability: Floats, looked_at: Flags, arithmetic: Flags) -> Floats:
    """Return the posterior with no fault above 0.95 where no dial read and no arithmetic stands behind it.

    Parameters
    ----------
    probability : float64, shape (n, n_faults)
        Rows sum to 1. [-]
    looked_at, arithmetic : bool, shape (n,)
        A dial read stands beside the index; records, falls or divisors show the leading fault by themselves.

    Returns
    -------
    float64, shape (n, n_faults)
        Rows sum to 1; what is taken goes to the others in proportion, and to *counts true* where there is no other.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption: see ``UNPAIRED_MOST``.
    """
    rows = np.flatnonzero(~looked_at & ~arithmetic)
    if not len(rows):
        return probability
    part = probability[rows]
    top = np.argmax(part, axis=1)
    high = part[np.arange(len(rows)), top]
    over = (high > UNPAIRED_MOST) & (top != FAULTS.index("sound"))
    if not over.any():
        return probability
    out = probability.copy()
    part, top, high = part[over], top[over], high[over]
    at = np.arange(len(part))
    others = part.copy()
    others[at, top] = 0.0
    # Added up, not taken from one: beside a cause that is all but certain the difference would be rounding.
    rest = others.sum(axis=1)
    spread = np.where(rest > 0, (1.0 - UNPAIRED_MOST) / np.maximum(rest, 1e-300), 0.0)
    tempered = part * spread[:, None]
    tempered[at, top] = UNPAIRED_MOST
    tempered[:, FAULTS.index("sound")] += np.maximum(1.0 - tempered.sum(axis=1), 0.0)
    out[rows[over]] = tempered
    return out


def leaving_costs(stakes: Stakes, costs: Costs) -> tuple[Floats, Floats]:
    """Return what it costs to leave each fault alone, and the part of it that grows with every day.

    Parameters
    ----------
    stakes : Stakes
    costs : Costs

    Returns
    -------
    leaving, growing : float64, shape (n, n_faults)
        In the programme's currency; zero for what is no fault.

    Raises
    ------
    Never raises.

    Source
    ------
    Volume error a day times price times the days that it stays; prices are our assumption, see ``Costs``.
    """
    n = len(stakes.code)
    row = np.arange(n)
    use = np.clip(np.nan_to_num(stakes.use_l_day, nan=400.0), 0.0, None)
    rate = use[:, None] * SHARES[None, :]
    error = np.nan_to_num(stakes.error_l)
    once = np.zeros((n, len(FAULTS)))
    named_once = _ONCE[stakes.code]
    own = error / np.maximum(np.nan_to_num(stakes.days, nan=30.0), 7.0)
    known = np.isfinite(stakes.error_l) & ~named_once & ~_WELL[stakes.code]
    rate[row[known], stakes.code[known]] = own[known]
    most = NOTICED * np.maximum(use, LEAST_USE_L_DAY) * costs.wait_days / 1000.0
    once[row[named_once], stakes.code[named_once]] = np.minimum(np.abs(error) / 1000.0, most)[named_once]
    price = np.where(rate >= 0, costs.over_per_m3, costs.under_per_m3)
    growing = price * np.minimum(np.abs(rate) * costs.wait_days / 1000.0, most[:, None])
    price_once = np.where(error >= 0, costs.over_per_m3, costs.under_per_m3)[:, None]
    fixed = np.where(_WELL, 0.0, np.where(_RECORD_ONLY, costs.wrong_record, costs.wrong_bill))
    fixed = np.where(_PASSING, PASSED * fixed, fixed)
    growing = growing * ~_WELL
    return growing + once * price_once + fixed, growing


def decide(
    probability: Floats,
    stakes: Stakes,
    *,
    costs: Costs | None = None,
    prior: Floats | None = None,
    remote_checks_per_1000: float = 20.0,
    settled: Flags | None = None,
) -> Decision:
    """Choose the cheapest action in expectation, then spend the month's budget of looks where nobody has looked.

    Parameters
    ----------
    probability : float64, shape (n, n_faults)
        Posterior. [-]
    stakes : Stakes
    costs : Costs, optional
        Prices; the shipped ones if not given.
    prior : float64, shape (n_faults,) or (n, n_faults), optional
        Shares before a read was seen. At a port never looked at, a check is *called for* where its own evidence has
        doubled the odds of a fault, has raised one fault to five times its share, or where the look gains well over its
        price; else it has to come from the budget. Without a prior every check that pays is called for.
    remote_checks_per_1000 : float
        Looks for each thousand ports that go to ports never looked at, the largest gain per cost first. [0 to 1000]
    settled : bool, shape (n,), optional
        Ports whose fault was found and put right: nothing is asked of them.

    Returns
    -------
    Decision

    Raises
    ------
    Never raises.

    Notes
    -----
    Leaving costs sum_f p_f leave_f. A visit costs its price, plus a wasted visit's where nothing was wrong on site,
    plus what stays wrong until it is made. A look j costs its price, what stays wrong until it is back, and
    sum_o min(leave, visit, desk, look again and go where need be | outcome o), where p(o | f) is ``CHANCE[j]``.

    Source
    ------
    Expected value of sample information (Bayes' rule). Prices and chances are our assumptions: see ``Costs`` and
    ``observations``; that a wasted visit is dear follows from rare faults (``AUDIT-9011``: 0.64 % needed a correction).
    """
    c = costs or Costs()
    n = len(probability)
    if n == 0:
        none = np.zeros(0)
        return Decision(np.zeros(0, np.int64), none, none.copy(), np.zeros(0, np.int64), np.zeros(0, bool))
    leave, growing = leaving_costs(stakes, c)
    loss = probability * leave
    leaving = loss.sum(axis=1)
    power = photo_power(np.nan_to_num(stakes.volume_l), np.nan_to_num(stakes.grain_l, nan=1.0))
    # What waiting costs less than any look costs is left alone; only the rest is weighed.
    least = min(c.desk_check, c.remote_check)
    best, visiting, look = leaving + least, np.full(n, c.visit), np.zeros(n, np.int64)
    weighed = np.flatnonzero(leaving > least)
    for first in range(0, len(weighed), BATCH):
        rows = weighed[first : first + BATCH]
        part = (probability[rows], loss[rows], growing[rows], power[rows])
        best[rows], visiting[rows], look[rows] = _price(*part, c)
    gain = leaving - best
    action = np.argmin(np.stack([leaving, best, visiting]), axis=0)
    action[leaving <= least] = 0
    # Where nothing listed settles it, a fresh pair tells more than a technician who does not know what to look for.
    action = np.where((action == 2) & (stakes.code == _OPEN), 1, action)
    needs = np.clip(probability[:, ~_WELL].sum(axis=1), 0.0, 1.0 - 1e-12)
    if prior is not None:
        before = np.clip((prior[..., ~_WELL].sum(axis=-1) / prior.sum(axis=-1)), 1e-9, 1.0 - 1e-9)
        called = stakes.looked_at | (needs / (1 - needs) >= CALLED_FOR * before / (1 - before))
        called |= gain >= WORTH_ASKING * c.remote_check
        raised = probability >= ONE_CODE * prior / prior.sum(axis=-1, keepdims=True)
        called |= (raised & (probability >= LEAST_SIGN) & ~_WELL).any(axis=1)
        action = np.where((action == 1) & ~called, 0, action)
    if settled is not None:
        action = np.where(settled, 0, action)
    shows = (loss * power).sum(axis=1)
    routine = _routine(action, shows, stakes, settled, n, remote_checks_per_1000)
    action = np.where(routine, 1, action)
    look = np.where(routine, LOOKED_AT.index("photo"), look)
    return Decision(action.astype(np.int64), leaving / c.visit, gain / c.visit, look.astype(np.int64), routine)


def _price(probability: Floats, loss: Floats, growing: Floats, power: Floats, c: Costs) -> tuple[Floats, Floats, Ints]:
    """Return the cost of the best look, of a visit, and which look is best; shapes (rows,)."""
    going = c.visit + c.wasted_visit * (_WELL | _DATA) + 0.3 * c.wasted_visit * np.where(_DATA, 0.0, _DESK)
    a_day = probability * growing / c.wait_days
    going_f = probability * going + loss * (1.0 - _VISIT) + a_day * c.visit_days
    filing_f = probability * c.desk_check + loss * (1.0 - _DESK) + a_day
    delay = a_day.sum(axis=1)
    # What looks bad on a photograph is looked at again before somebody goes; the second look is taken as sure.
    again_f = np.where(_WELL, probability * c.remote_check, going_f + probability * c.remote_check)
    again_f = again_f + a_day * c.check_days
    after_f = np.stack([loss, going_f, filing_f, again_f])
    price = {"photo": c.remote_check, "plate": c.remote_check, "fresh_read": c.remote_check, "desk": c.desk_check}
    wait = {"photo": c.check_days, "plate": c.check_days, "fresh_read": c.check_days / 2, "desk": 1.0}
    checking = np.stack(
        [_after(after_f, name, power) + price[name] + delay * wait[name] for name in LOOKED_AT] + [filing_f.sum(axis=1)]
    )
    look = np.argmin(checking, axis=0)
    best = checking[look, np.arange(len(look))]
    return best, going_f.sum(axis=1), np.where(look == len(LOOKED_AT), LOOKED_AT.index("desk"), look)


def _after(after_f: Floats, name: str, power: Floats) -> Floats:
    """Return the expected cost of the cheapest act after a look, before its own price; shape (n,)."""
    chance = CHANCE[name]
    if name == "photo":
        # Where too little has passed for the error to show, the dial looks as at a port that counts true.
        shown = (after_f * power) @ chance
        hidden = (after_f * (1.0 - power)).sum(axis=2)
        return (shown + hidden[:, :, None] * chance[0]).min(axis=0).sum(axis=1)
    return (after_f[:3] @ chance).min(axis=0).sum(axis=1)


def _routine(action: Ints, shows: Floats, stakes: Stakes, settled: Flags | None, n: int, per_1000: float) -> Flags:
    """Pick the ports that are looked at for the look's own sake: never seen since the fitting, most to show first.

    ``shows`` is the expected cost of waiting that a photograph would bring to light now.
    """
    chosen = np.zeros(n, bool)
    open_ = (action == 0) & ~stakes.looked_at & np.isfinite(stakes.volume_l) & (stakes.volume_l > 3 * stakes.grain_l)
    if settled is not None:
        open_ &= ~settled
    rows = np.flatnonzero(open_)
    most = int(per_1000 * n / 1000.0)
    if not len(rows) or not most:
        return chosen
    order = rows[np.argsort(-shows[rows], kind="stable")]
    chosen[order[:most]] = True
    return chosen
