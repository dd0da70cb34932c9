"""The fleet form of the fit check beyond equality with its twin (that is a property test)."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from dialtrue.domain.pulse_chain.chain import Chain, FitSettings
from dialtrue.domain.pulse_chain.rules import RULE_IDS
from dialtrue.domain.pulse_chain.verdict import OUTCOMES
from dialtrue.engine.fleet_chains import fleet_of
from dialtrue.engine.fleet_fit import judge_fleet
from tests.support.chains import GAL_L, chain_of


def test_verdicts_stand_by_row() -> None:
    found = [chain_of(), chain_of(input={"debounce_ms": 100.0}), Chain()]
    fit = judge_fleet(fleet_of(found))
    assert [OUTCOMES[place] for place in fit.outcome] == ["fits", "does_not_fit", "unknown"]
    assert RULE_IDS[fit.deciding[1]] == "on-time"
    assert fit.cut_off_flow_lpm[1] == pytest.approx(120 * GAL_L, rel=1e-5)
    assert np.isnan(fit.cut_off_flow_lpm[2])
    assert fit.high_flow_proof.tolist() == [1, 1, -1]


def test_empty_fleet_gives_empty_columns() -> None:
    empty = fleet_of([chain_of()]).rows(0, 0)
    assert len(judge_fleet(empty).outcome) == 0


def test_missing_sheet_never_takes_another_sheets_figures() -> None:
    found = [chain_of(), dataclasses.replace(chain_of(), input=Chain().input)]
    fit = judge_fleet(fleet_of(found))
    assert OUTCOMES[fit.outcome[1]] == "unknown"
    assert np.isnan(fit.value[1, RULE_IDS.index("closed-level")])


def test_chains_of_one_fleet_share_their_settings() -> None:
    with pytest.raises(ValueError, match="share"):
        fleet_of([chain_of(), chain_of(settings=FitSettings(care_share=0.2))])
