"""Scalar and fleet forms of the fit check agree to the last bit."""

from __future__ import annotations

import math
import struct

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.counting import cut_off_flow_lpm, first_loss_flow_lpm
from dialtrue.domain.pulse_chain.rules import RULE_IDS
from dialtrue.domain.pulse_chain.verdict import OUTCOMES, STATUSES, judge
from dialtrue.engine.fleet_chains import fleet_of
from dialtrue.engine.fleet_fit import BLOCK_ROWS, FleetFit, judge_fleet
from tests.support.chains import chain_of, chains


def bits(value: float | None) -> bytes:
    """The bits of a float; every NaN and None alike."""
    if value is None or math.isnan(value):
        return b"not known"
    return struct.pack("<d", value)


def assert_same(chain: Chain, fit: FleetFit, row: int) -> None:
    verdict = judge(chain)
    assert OUTCOMES[fit.outcome[row]] == verdict.outcome
    assert RULE_IDS[fit.deciding[row]] == verdict.deciding.rule
    for place, result in enumerate(verdict.results):
        assert STATUSES[fit.status[row, place]] == result.status, result.rule
        assert fit.corner[row, place] == result.corner_index, result.rule
        for name in ("value", "limit", "margin", "share"):
            got, want = float(getattr(fit, name)[row, place]), getattr(result, name)
            assert bits(got) == bits(want), (result.rule, name, got, want)
    wanted = -1 if verdict.high_flow_proof is None else int(verdict.high_flow_proof)
    assert fit.high_flow_proof[row] == wanted
    assert bits(fit.first_loss_flow_lpm[row]) == bits(first_loss_flow_lpm(chain))
    assert bits(fit.cut_off_flow_lpm[row]) == bits(cut_off_flow_lpm(chain))


@settings(max_examples=150, deadline=None)
@given(st.lists(chains(), min_size=1, max_size=6))
def test_fleet_equals_scalar_on_every_row(found: list[Chain]) -> None:
    fit = judge_fleet(fleet_of(found))
    for row, chain in enumerate(found):
        assert_same(chain, fit, row)


def test_rows_do_not_touch_each_other_across_blocks() -> None:
    found = [chain_of(length_m=float(number % 300), weight_l=1.0 + number % 7) for number in range(BLOCK_ROWS + 5)]
    fit = judge_fleet(fleet_of(found))
    for row in (0, 1, BLOCK_ROWS - 1, BLOCK_ROWS, BLOCK_ROWS + 4):
        assert_same(found[row], fit, row)
    again = judge_fleet(fleet_of(found[::-1]))
    assert np.array_equal(again.margin[::-1], fit.margin, equal_nan=True)
