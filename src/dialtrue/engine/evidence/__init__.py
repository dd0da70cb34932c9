"""Blocks of evidence, one file each; ``gather_evidence`` runs them in turn.

To add a block: write a module with ``weigh(case) -> Block`` and name it in ``gather_evidence``.
"""

from __future__ import annotations

from dialtrue.engine.evidence import (
    clock,
    delivery,
    excess,
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
    """Run every block. The neighbours come last, for an exchange is weighed against what the others find likely.

    Returns
    -------
    list of Block
        Independent given the fault and its onset; their log-likelihoods add up.
    """
    pairs = pair_shape.weigh(case, onsets)
    pairs.fold(case)
    blocks = [pairs]
    for block in (
        records.weigh(case), granularity.weigh(case, onsets), possibility.weigh(case), silence.weigh(case, onsets),
        night_floor.weigh(case, onsets), history.weigh(case, onsets), rain.weigh(case, onsets),
        level_change.weigh(case, onsets), excess.weigh(case), delivery.weigh(case), clock.weigh(case, onsets),
    ):  # fmt: skip
        block.fold(case)
        blocks.append(block)
    neighbour = neighbours.weigh(case, blocks)
    neighbour.fold(case)
    return [*blocks, neighbour]
