"""The posterior over fault codes: prior shares plus every block's log-likelihood, and shares learned from the fleet."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.special import logsumexp

from dialtrue.domain.faults import COLUMN, FAULTS, INNOCENT
from dialtrue.engine.evidence.frame import Block
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.onset_prior import onset_log_prior, over_onsets
from dialtrue.engine.onsets import Onsets
from dialtrue.engine.parts import over_parts

PRIOR = {
    "sound": 0.855, "dead_input": 0.008, "lost_counts": 0.006, "double_count": 0.003, "extra_counts": 0.003,
    "wet_counts": 0.003, "steady_counts": 0.002, "intermittent": 0.004, "weight_decade": 0.004, "unit_slip": 0.003,
    "digit_slip": 0.002, "start_slip": 0.006, "crossed": 0.004, "ports_swapped": 0.002, "duplicate_serial": 0.001,
    "meter_exchanged": 0.003, "stale_index": 0.004, "clock_shift": 0.001, "backflow_counted": 0.002,
    "index_reset": 0.002, "meter_reversed": 0.0005, "port_unread": 0.001, "register_mismatch": 0.0015,
    "customer_leak": 0.027, "vacant": 0.027, "use_change": 0.027, "not_listed": 0.0015,
}  # fmt: skip
"""Share of ports in each state before a read is seen. Our assumption, from the words *frequent*, *regular* and *rare*
of field practice and one audit's 0.64 % of bills in need of correction (``AUDIT-9011``); the fleet's own evidence moves
it. Override by ``[watch.prior]`` in ``programme.toml``."""
PRIOR_PORTS = 250.0
"""Weight of the prior shares against the fleet's own ports. Our assumption: as much as 250 ports."""
ROUNDS = 6
CANDOUR = 0.9
"""Power on the summed likelihood: the blocks look at the same reads and are not quite independent. Our assumption, held
against simulated towns whose causes are known; 1 would trust every block in full."""
_OPEN = FAULTS.index("not_listed")
_HARMLESS = np.array([code in INNOCENT for code in FAULTS])
_FAULTY = np.array([code not in ("sound", "not_listed", *INNOCENT) for code in FAULTS])


@dataclass(slots=True)
class Posterior:
    """``probability`` (n, n_faults), rows sum to 1; ``loglik`` (n, n_faults) summed blocks; ``shares`` (n_faults,)."""

    probability: Floats
    loglik: Floats
    shares: Floats


def combine(
    blocks: list[Block],
    onset_sum: Mapping[str, NDArray[np.float32]] | None = None,
    *,
    prior: Mapping[str, float] | None = None,
    group_log_factor: Floats | None = None,
    learn: bool = True,
) -> Posterior:
    """Add the blocks and weigh them by the prior shares.

    Parameters
    ----------
    blocks : list of Block
        Each (n, n_faults) [nat]. Their order does not matter.
    onset_sum : mapping of code to float32, shape (n, 1 + spans), optional
        What the blocks say together of a beginning in each span [nat]; the onset is averaged over.
    prior : mapping, optional
        Shares by fault code; missing codes keep the shipped share. [-, > 0]
    group_log_factor : float64, shape (n, n_faults), optional
        What crew, cable lot and hardware add to the prior of each port [nat].
    learn : bool
        Let the fleet's own posterior move the shares (a few rounds of expectation and maximisation).

    Returns
    -------
    Posterior

    Raises
    ------
    Never raises.

    Source
    ------
    Bayes' rule; expectation-maximisation for the shares with the prior as pseudo-counts.
    """
    shares = np.array([{**PRIOR, **(prior or {})}[code] for code in FAULTS])
    shares /= shares.sum()
    total = np.zeros(blocks[0].loglik.shape, order="F")
    for block in blocks:
        total += block.loglik if block.apart else block.loglik * CANDOUR
    loglik: Floats = np.ascontiguousarray(total)
    for code, value in (onset_sum or {}).items():
        loglik[:, COLUMN[code]] += over_onsets(CANDOUR * value, code)
    fixed = loglik if group_log_factor is None else loglik + group_log_factor
    base = shares.copy()
    probability: Floats = np.empty(fixed.shape)

    def weigh() -> None:
        log_shares = np.log(shares)
        over_parts(len(fixed), lambda begin, end: _bayes(fixed, log_shares, probability, begin, end))

    for _ in range(ROUNDS if learn else 0):
        weigh()
        shares = (base * PRIOR_PORTS + probability.sum(axis=0)) / (PRIOR_PORTS + len(probability))
        # How many faults there are is learned; which they are is not: causes that look alike would draw each other's
        # ports to whichever of them is ahead, and all would be stated too surely.
        for alike in (_FAULTY, _HARMLESS):
            shares[alike] = shares[alike].sum() * base[alike] / base[alike].sum()
        # What nothing explains is not learned: it would swallow whatever fits a named cause badly.
        shares[_OPEN] = base[_OPEN]
        shares /= shares.sum()
    weigh()
    return Posterior(probability, loglik, shares)


@njit(cache=True, nogil=True)
def _bayes(loglik, log_prior, out, begin, end):
    """Fill ``out`` (n, faults), each row summing to 1, for the rows from ``begin`` to before ``end``."""
    for f in range(begin, end):
        top = -np.inf
        for c in range(log_prior.shape[0]):
            top = max(top, loglik[f, c] + log_prior[c])
        total = 0.0
        for c in range(log_prior.shape[0]):
            out[f, c] = math.exp(loglik[f, c] + log_prior[c] - top)
            total += out[f, c]
        for c in range(log_prior.shape[0]):
            out[f, c] /= total


def onset_interval(
    onset_sum: Mapping[str, NDArray[np.float32]], onsets: Onsets, code: Ints, exact_us: Ints
) -> tuple[Ints, Ints, Ints]:
    """Return the likeliest onset of each port's fault and the 90 % interval it lies in.

    Parameters
    ----------
    onset_sum : mapping of code to float32, shape (n, 1 + spans)
        What the blocks say together of a beginning in each span [nat].
    onsets : Onsets
    code : int64, shape (n,)
        Column of the fault.
    exact_us : int64, shape (n,)
        The moment that a block names, 0 where none does. Taken where it lies in a likely span.

    Returns
    -------
    since_us, low_us, high_us : int64, shape (n,)

    Raises
    ------
    Never raises.

    Source
    ------
    Bayes' rule over the spans of ``Onsets``.
    """
    spans = onsets.edge_us.shape[1] - 1
    begin, end = onsets.edge_us[:, 0], onsets.edge_us[:, -1]
    since, low, high = begin.copy(), begin.copy(), begin.copy()
    for column in np.unique(code):
        name, rows = FAULTS[int(column)], np.flatnonzero(code == column)
        prior = onset_log_prior(name, spans)
        # Where no block says when, all rows share the prior.
        told = CANDOUR * onset_sum[name][rows].astype(float) if name in onset_sum else np.zeros((1, spans + 1))
        joint = told + prior
        p = np.exp(joint - logsumexp(joint, axis=1, keepdims=True))
        total = np.cumsum(p, axis=1)
        each = np.zeros(len(rows), np.int64)
        best = np.argmax(p, axis=1) + each
        first = np.argmax(total >= 0.05, axis=1) + each
        last = np.argmax(total >= 0.95 - 1e-12, axis=1) + each
        edge = onsets.edge_us[rows]
        at = np.arange(len(rows))
        length = np.maximum(edge[:, 1] - edge[:, 0], 1)
        middle = np.where(best == 0, edge[:, 0], (edge[at, np.maximum(best, 1) - 1] + edge[at, best]) // 2)
        lower = np.where(first == 0, edge[:, 0], edge[at, np.maximum(first, 1) - 1])
        upper = edge[at, last]
        exact = exact_us[rows]
        # A block's own moment is sharper than the span, but only where the spans agree with it.
        agrees = (exact > 0) & (exact >= lower - length) & (exact <= upper + length)
        if name not in onset_sum:
            agrees = exact > 0
            lower, upper = np.where(agrees, exact, edge[:, 0]), np.where(agrees, exact, edge[:, 0])
        since[rows] = np.where(agrees, exact, middle)
        low[rows] = np.minimum(np.where(agrees, np.maximum(lower, exact - 2 * length), lower), since[rows])
        high[rows] = np.maximum(np.where(agrees, np.minimum(upper, exact + 2 * length), upper), since[rows])
    return since, np.minimum(low, np.minimum(since, end)), high
