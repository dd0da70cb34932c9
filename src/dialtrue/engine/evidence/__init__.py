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
from dialtrue.engine.parts import side_by_side

__all__ = ["Block", "Case", "gather_evidence"]


def gather_evidence(case: Case, onsets: Onsets) -> list[Block]:
    """Run every block, several at once; the neighbours last, for an exchange is weighed against all that is said.

    Returns
    -------
    list of Block
        Independent given the fault and its onset; their log-likelihoods add up.
    """
    blocks = []
    for block in side_by_side((
        lambda: pair_shape.weigh(case, onsets), lambda: records.weigh(case), lambda: granularity.weigh(case, onsets),
        lambda: possibility.weigh(case), lambda: silence.weigh(case, onsets), lambda: night_floor.weigh(case, onsets),
        lambda: history.weigh(case, onsets), lambda: rain.weigh(case, onsets),
        lambda: level_change.weigh(case, onsets), lambda: delivery.weigh(case),
        lambda: clock.weigh(case, onsets),
    ), case.fleet.size):  # fmt: skip
        block.fold(case)
        blocks.append(block)
    # What the night floor has said is not said again: it must have spoken.
    surplus = excess.weigh(case)
    surplus.fold(case)
    blocks.append(surplus)
    neighbour = neighbours.weigh(case, blocks)
    neighbour.fold(case)
    return [*blocks, neighbour]
