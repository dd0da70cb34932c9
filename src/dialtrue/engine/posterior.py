"""The posterior over fault codes: prior shares plus every block's log-likelihood, and shares learned from the fleet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp

from dialtrue.domain.faults import FAULTS
from dialtrue.engine.evidence.frame import Block
from dialtrue.engine.fleet import Floats

PRIOR = {
    "sound": 0.887, "dead_input": 0.008, "lost_counts": 0.006, "double_count": 0.003, "extra_counts": 0.003,
    "wet_counts": 0.003, "steady_counts": 0.002, "intermittent": 0.004, "weight_decade": 0.004, "unit_slip": 0.003,
    "digit_slip": 0.002, "start_slip": 0.006, "crossed": 0.004, "ports_swapped": 0.002, "duplicate_serial": 0.001,
    "meter_exchanged": 0.003, "stale_index": 0.004, "clock_shift": 0.001, "backflow_counted": 0.002,
    "index_reset": 0.002, "meter_reversed": 0.0005, "port_unread": 0.001, "register_mismatch": 0.0005,
    "customer_leak": 0.015, "vacant": 0.018, "use_change": 0.015, "not_listed": 0.0015,
}  # fmt: skip
"""Share of ports in each state before a read is seen. Our assumption, from the words *frequent*, *regular* and *rare*
of field practice and one audit's 0.64 % of bills in need of correction (``AUDIT-9011``); the fleet's own evidence moves
it. Override by ``[watch.prior]`` in ``programme.toml``."""
PRIOR_PORTS = 250.0
"""Weight of the prior shares against the fleet's own ports. Our assumption: as much as 250 ports."""
ROUNDS = 6
CANDOUR = 0.8
"""Power on the summed likelihood: the blocks look at the same reads and are not quite independent. Our assumption, held
against simulated towns whose causes are known; 1 would trust every block in full."""
_OPEN = FAULTS.index("not_listed")


@dataclass(slots=True)
class Posterior:
    """``probability`` (n, n_faults), rows sum to 1; ``loglik`` (n, n_faults) summed blocks; ``shares`` (n_faults,)."""

    probability: Floats
    loglik: Floats
    shares: Floats


def combine(blocks: list[Block], *, prior: dict[str, float] | None = None, learn: bool = True) -> Posterior:
    """Add the blocks and weigh them by the prior shares.

    Parameters
    ----------
    blocks : list of Block
        Each (n, n_faults) [nat]. Their order does not matter.
    prior : dict, optional
        Shares by fault code; missing codes keep the shipped share. [-, > 0]
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
    loglik = np.sum([block.loglik * (1.0 if block.apart else CANDOUR) for block in blocks], axis=0)
    base = shares.copy()
    for _ in range(ROUNDS if learn else 0):
        joint = loglik + np.log(shares)
        p = np.exp(joint - logsumexp(joint, axis=1, keepdims=True))
        shares = (base * PRIOR_PORTS + p.sum(axis=0)) / (PRIOR_PORTS + len(p))
        # What nothing explains is not learned: it would swallow whatever fits a named cause badly.
        shares[_OPEN] = base[_OPEN]
        shares /= shares.sum()
    joint = loglik + np.log(shares)
    probability = np.exp(joint - logsumexp(joint, axis=1, keepdims=True))
    return Posterior(probability, loglik, shares)
