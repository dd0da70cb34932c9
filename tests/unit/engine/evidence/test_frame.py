"""What blocks say of a beginning in time adds up over the blocks before the onset is averaged over."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from dialtrue.domain.faults import COLUMN, FAULTS
from dialtrue.engine.evidence.frame import Block, Notes
from dialtrue.engine.onset_prior import LATE_SHARE
from dialtrue.engine.onsets import SPANS
from dialtrue.engine.posterior import CANDOUR, PRIOR, combine

PORTS = 3
DEAD, SOUND = COLUMN["dead_input"], COLUMN["sound"]


def case() -> SimpleNamespace:
    return SimpleNamespace(fleet=SimpleNamespace(size=PORTS), notes=Notes())


def timed(seed: int, *codes: str) -> Block:
    """Return a block that speaks of the onset of some faults, and of two without one."""
    random = np.random.default_rng(seed)
    block = Block.blank("timed", PORTS, lambda row, column: ("", {}))
    block.loglik[:] = random.normal(0, 1, block.loglik.shape)
    for code in codes:
        block.at_onset[code] = random.normal(0, 3, (PORTS, 1 + SPANS)).astype(np.float32)
    return block


def test_the_posterior_is_the_sum_over_every_fault_and_onset_taken_one_by_one() -> None:
    blocks = [timed(1, "dead_input", "double_count"), timed(2, "dead_input"), timed(3)]
    said = [{code: value.copy() for code, value in block.at_onset.items()} for block in blocks]
    given = case()
    for block in blocks:
        block.fold(given)
    got = combine(blocks, given.notes.onset_sum, learn=False).probability
    total = sum(PRIOR.values())
    for row in range(PORTS):
        weight = {}
        for code in FAULTS:
            late = LATE_SHARE.get(code, 0.0)
            weight[code] = 0.0
            for k in range(1 + SPANS):
                p = PRIOR[code] / total * ((1 - late) if k == 0 else late / SPANS)
                nats = sum(block.loglik[row, COLUMN[code]] for block in blocks)
                nats += sum(float(each[code][row, k]) for each in said if code in each)
                weight[code] += p * np.exp(CANDOUR * nats)
        whole = sum(weight.values())
        for code in FAULTS:
            assert got[row, COLUMN[code]] == pytest.approx(weight[code] / whole, rel=1e-5)


def test_blocks_that_name_the_same_span_say_more_than_blocks_that_differ() -> None:
    def posterior(spans: tuple[int, int]) -> float:
        given, blocks = case(), []
        for k in spans:
            block = Block.blank("sharp", PORTS, lambda row, column: ("", {}))
            block.at_onset["dead_input"] = np.full((PORTS, 1 + SPANS), -3.0, np.float32)
            block.at_onset["dead_input"][:, k] = 6.0
            block.fold(given)
            blocks.append(block)
        return float(combine(blocks, given.notes.onset_sum, learn=False).probability[0, DEAD])

    assert posterior((7, 7)) > 0.5
    assert posterior((7, 19)) < 0.02


def test_what_was_told_at_onsets_is_kept_as_one_weight() -> None:
    block = timed(4, "dead_input")
    at_onset = block.at_onset["dead_input"][1].astype(float)
    given = case()
    block.fold(given)
    late = LATE_SHARE["dead_input"]
    averaged = np.log((1 - late) * np.exp(at_onset[0]) + late * np.exp(at_onset[1:]).mean())
    want = averaged + block.loglik[1, DEAD] - block.loglik[1, SOUND]
    assert block.weight(1, DEAD, SOUND) == pytest.approx(want, abs=1e-5)
    assert not block.at_onset


def test_folding_twice_counts_once() -> None:
    block, given = timed(5, "dead_input"), case()
    block.fold(given)
    once = given.notes.onset_sum["dead_input"].copy()
    block.fold(given)
    assert np.array_equal(given.notes.onset_sum["dead_input"], once)


def test_a_block_without_onsets_weighs_by_its_row() -> None:
    block = timed(6)
    assert block.weight(2, DEAD, SOUND) == pytest.approx(block.loglik[2, DEAD] - block.loglik[2, SOUND])


def test_adding_to_all_but_some_leaves_those_alone() -> None:
    block = Block.blank("row", PORTS, lambda row, column: ("", {}))
    block.add_all_but(("sound", "dead_input"), np.array([True, False, True]), 2.0)
    assert block.loglik[0, SOUND] == block.loglik[0, DEAD] == 0.0
    assert block.loglik[0].sum() == 2.0 * (len(FAULTS) - 2)
    assert not block.loglik[1].any()
