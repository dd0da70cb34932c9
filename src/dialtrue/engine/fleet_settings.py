"""The input setting that suits each chain best, over a whole fleet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from dialtrue.domain.planning.input_settings import InputSetting
from dialtrue.domain.pulse_chain.input import Input
from dialtrue.domain.pulse_chain.rules import RULE_IDS
from dialtrue.domain.pulse_chain.verdict import OUTCOMES, STATUSES
from dialtrue.engine.fleet_chains import FleetChains, Places
from dialtrue.engine.fleet_fit import judge_fleet

OUTCOME_RANK: Final = np.array([{"fits": 0, "fits_with_care": 1, "unknown": 2, "does_not_fit": 3}[o] for o in OUTCOMES])
"""How good an outcome is, 0 best, by its place in ``OUTCOMES``."""
WORST_RANK: Final = 4
"""Worse than any outcome: nothing was judged."""

FILTER_RULES: Final = ("on-time", "off-time", "bounce", "slow-edge")
"""Rules that another debounce may cure."""
PULL_UP_RULES: Final = (
    "closed-level", "open-level", "on-time", "off-time", "slow-edge", "strobe", "wetting", "damp", "life",
)  # fmt: skip
"""Rules that another pull-up may cure."""

_UNHAPPY: Final = (STATUSES.index("care"), STATUSES.index("fail"))


def chains_of(fleet: FleetChains, rows: Places, inputs: Sequence[Input], input_at: Places) -> FleetChains:
    """Return some chains of a fleet with other inputs. Never raises."""
    return FleetChains(
        fleet.outputs,
        tuple(inputs),
        fleet.cables,
        fleet.output_at[rows],
        input_at,
        fleet.cable_at[rows],
        {name: column[rows] for name, column in fleet.columns.items()},
        fleet.both_contacts[rows],
        fleet.settings,
    )


def best_settings(fleet: FleetChains, settings: Sequence[InputSetting]) -> tuple[Places, npt.NDArray[np.int8]]:
    """Choose the setting of one input for every chain.

    Parameters
    ----------
    fleet : FleetChains
        n chains; their own inputs are not looked at.
    settings : sequence of InputSetting
        The input as its sheet stands, then the other settings, the preferred before the others. [at least 1]

    Returns
    -------
    tuple of arrays
        For each chain the place of the first setting with the best outcome, and the rank of that outcome
        (``OUTCOME_RANK``). [intp; int8; shape (n,)]

    Raises
    ------
    Never raises.

    Notes
    -----
    A chain that fits is settled. Another setting is tried only where a rule that one of its changes may cure is not
    met; the outcome is as good as if all were tried.

    Source
    ------
    See ``engine.fleet_fit``.
    """
    count = len(fleet)
    chosen, rank = np.zeros(count, np.intp), np.full(count, WORST_RANK, np.int8)
    cures = {name: np.array([rule in rules for rule in RULE_IDS]) for name, rules in _CURES.items()}
    wants: dict[str, npt.NDArray[np.bool_]] = {}
    for place, setting in enumerate(settings):
        if place == 0:
            rows = np.arange(count)
        else:
            wanted = np.zeros(count, np.bool_)
            if setting.new_debounce:
                wanted |= wants["debounce"]
            if setting.new_pull_up:
                wanted |= wants["pull_up"]
            rows = np.flatnonzero(wanted & (rank > 0))
        if not len(rows):
            continue
        fit = judge_fleet(chains_of(fleet, rows, (setting.entry,), np.zeros(len(rows), np.intp)))
        now = OUTCOME_RANK[fit.outcome].astype(np.int8)
        if place == 0:
            unhappy = np.isin(fit.status, _UNHAPPY)
            wants = {name: (unhappy & rules).any(axis=1) for name, rules in cures.items()}
        better = now < rank[rows]
        chosen[rows[better]], rank[rows[better]] = place, now[better]
    return chosen, rank


_CURES: Final = {"debounce": FILTER_RULES, "pull_up": PULL_UP_RULES}
