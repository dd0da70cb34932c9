"""What is at stake at each port, from its reads, its looks and its volume error; and what arithmetic alone shows."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.faults import COLUMN
from dialtrue.engine.decision import ARITHMETIC, Flags, Stakes
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.pairing import Pairs
from dialtrue.engine.scan_kernel import DAY_US

ARITHMETIC_BLOCKS = ("records", "possibility", "granularity")
"""Blocks whose word needs no dial read: two texts that disagree, a fall, a flow that cannot be, a divisor."""


def stakes_of(case: Case, code: Ints, error_l: Floats, since_us: Ints, rate_l_day: Floats) -> Stakes:
    """Gather what the decision weighs.

    Parameters
    ----------
    case : Case
    code : int64, shape (n,)
        Column of the named fault.
    error_l : float64, shape (n,)
        Volume error under it, nan not known. [L]
    since_us : int64, shape (n,)
        Its onset.
    rate_l_day : float64, shape (n,)
        Mean daily volume of the index, for ports without a history. [L/day]

    Returns
    -------
    Stakes

    Raises
    ------
    Never raises.
    """
    fleet, figures, pairs = case.fleet, case.scan.figures, case.pairs
    q = fleet.quantum_index_l
    moved = (figures["walk"] + pairs.start_gap) * q
    last = pairs.last_rows()
    at_pair = pairs.index_l[np.maximum(last, 0)] if len(pairs.index_l) else np.zeros(fleet.size)
    volume = np.where(last >= 0, moved - at_pair, moved)
    grain = np.nan_to_num(fleet.weight_set_l, nan=0.0) + np.nan_to_num(fleet.quantum_dial_l, nan=0.0) + q
    use = np.where(np.isnan(fleet.use_l_day), np.abs(rate_l_day), fleet.use_l_day)
    days = np.maximum(case.end_us - np.maximum(since_us, fleet.fit_us), 0) / DAY_US
    # A dead index has moved nothing, and yet a photograph would show the water that passed: go by use.
    span = np.maximum(case.end_us - np.where(last >= 0, _at(pairs, last), fleet.fit_us), 0) / DAY_US
    volume = np.maximum(np.abs(volume), np.nan_to_num(use) * span)
    return Stakes(code, error_l, days, use, volume, grain, last >= 0)


def _at(pairs: Pairs, last: Ints) -> Ints:
    return pairs.at_us[np.maximum(last, 0)] if len(pairs.at_us) else np.zeros(len(last), np.int64)


def shown_by_arithmetic(blocks: list[Block], code: Ints) -> Flags:
    """Say where records, falls or divisors show the named fault without a dial read; shape (n,). Never raises."""
    row = np.arange(len(code))
    sound = COLUMN["sound"]
    shown = np.zeros(len(code), bool)
    for block in blocks:
        if block.name in ARITHMETIC_BLOCKS:
            weight = block.loglik[row, code] - block.loglik[row, sound]
            if len(block.told):
                weight = weight + block.told[row, code] - block.told[row, sound]
            shown |= weight >= ARITHMETIC
    return shown
