"""Blocks of evidence, one file each; ``gather_evidence`` runs them in turn.

To add a block: write a module with ``weigh(case) -> Block`` and name it in ``gather_evidence``.
"""

from __future__ import annotations

import numpy as np

from dialtrue.domain.faults import COLUMN
from dialtrue.engine.evidence import (
    delivery,
    granularity,
    history,
    level_change,
    neighbours,
    night_floor,
    pair_shape,
    possibility,
    rain,
    records,
    silence,
)
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.onsets import Onsets

__all__ = ["Block", "Case", "gather_evidence"]


def gather_evidence(case: Case, onsets: Onsets) -> list[Block]:
    """Run every block. The neighbours come last, for they look only at ports that the others find odd.

    Returns
    -------
    list of Block
        Independent given the fault; their log-likelihoods add up.
    """
    pairs = pair_shape.weigh(case, onsets)
    blocks = [
        records.weigh(case),
        pairs,
        granularity.weigh(case),
        possibility.weigh(case),
        silence.weigh(case, onsets),
        night_floor.weigh(case),
        history.weigh(case, onsets),
        rain.weigh(case),
        level_change.weigh(case, onsets),
        delivery.weigh(case),
    ]
    used = case.notes.pairs_used
    sound = pairs.loglik[:, COLUMN["sound"]]
    suspicion = np.where(used > 0, pairs.loglik.max(axis=1) - sound, 0.0)
    blocks.append(neighbours.weigh(case, onsets, suspicion))
    return blocks
