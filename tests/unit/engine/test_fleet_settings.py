"""The setting chosen for each chain is as good as the best of all, and the first of those."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from dialtrue.domain.planning.input_settings import input_settings
from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.verdict import OUTCOMES, judge
from dialtrue.engine.fleet_chains import fleet_of
from dialtrue.engine.fleet_settings import OUTCOME_RANK, best_settings
from dialtrue.files.sheets import shipped_catalogue

CATALOGUE = shipped_catalogue()


def chains() -> list[Chain]:
    """Every output on short and long runs, from a slow meter to one far too fast."""
    return [
        Chain(
            output=output,
            input=CATALOGUE.input("contact-3v-47k"),
            cable=CATALOGUE.cable("awg22-shielded"),
            length_m=length,
            weight_l=weight,
            max_flow_lpm=flow,
            use_l_per_day=900.0,
        )
        for output in CATALOGUE.outputs.values()
        for length in (3.0, 400.0, 4000.0)
        for weight, flow in ((37.85, 75.0), (3.785, 605.0), (3.785, 1890.0), (0.3785, 1890.0))
    ]


@pytest.mark.parametrize("key", ["contact-3v-47k", "contact-3v-1m", "logger-5v-100k"])
def test_no_setting_would_have_been_better_and_none_before_it_as_good(key: str) -> None:
    settings, asked = input_settings(CATALOGUE.input(key)), chains()
    chosen, rank = best_settings(fleet_of(asked), settings)
    ranks = np.array(
        [
            [
                OUTCOME_RANK[OUTCOMES.index(judge(dataclasses.replace(chain, input=setting.entry)).outcome)]
                for setting in settings
            ]
            for chain in asked
        ]
    )
    np.testing.assert_array_equal(rank, ranks.min(axis=1))
    np.testing.assert_array_equal(chosen, ranks.argmin(axis=1))
    assert len(set(rank.tolist())) > 1


def test_more_than_one_setting_is_chosen_somewhere() -> None:
    chosen, _ = best_settings(fleet_of(chains()), input_settings(CATALOGUE.input("contact-3v-47k")))
    assert len(set(chosen.tolist())) >= 3
