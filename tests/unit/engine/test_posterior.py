"""The posterior: blocks add up, nothing else does."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.domain.faults import COLUMN, FAULTS
from dialtrue.engine.evidence.frame import Block
from dialtrue.engine.posterior import CANDOUR, PRIOR, combine


def block(ports: int, **says: float) -> Block:
    """Return a block that says the same of every port."""
    made = Block.blank("a block", ports, lambda row, column: ("", {}))
    for code, amount in says.items():
        made.add(code, np.ones(ports, bool), amount)
    return made


def test_every_fault_has_a_prior_share() -> None:
    assert set(PRIOR) == set(FAULTS)
    assert min(PRIOR.values()) > 0


def test_without_evidence_the_posterior_is_the_prior() -> None:
    p = combine([block(3)], learn=False).probability
    total = sum(PRIOR.values())
    assert p == pytest.approx(np.tile([PRIOR[code] / total for code in FAULTS], (3, 1)))


def test_evidence_moves_the_odds_by_its_nats() -> None:
    before = combine([block(1)], learn=False).probability[0]
    after = combine([block(1, dead_input=3.0), block(1, sound=-1.0)], learn=False).probability[0]
    dead, sound = COLUMN["dead_input"], COLUMN["sound"]
    moved = np.log(after[dead] / after[sound]) - np.log(before[dead] / before[sound])
    assert moved == pytest.approx(CANDOUR * 4.0)


def test_shares_are_kept_where_learning_is_off() -> None:
    loud = block(400, lost_counts=12.0)
    total = sum(PRIOR.values())
    kept = combine([loud], learn=False).shares
    assert kept == pytest.approx([PRIOR[code] / total for code in FAULTS])
    learned = combine([loud]).shares
    assert learned[COLUMN["lost_counts"]] > 10 * kept[COLUMN["lost_counts"]]


def test_what_nothing_explains_is_not_learned() -> None:
    odd = combine([block(400, not_listed=12.0)])
    assert odd.shares[COLUMN["not_listed"]] < 3 * PRIOR["not_listed"]


def test_a_share_of_ones_own_replaces_the_shipped_one() -> None:
    usual = combine([block(1)], learn=False).probability[0, COLUMN["wet_counts"]]
    damp = combine([block(1)], prior={"wet_counts": 0.1}, learn=False).probability[0, COLUMN["wet_counts"]]
    assert damp > 20 * usual
