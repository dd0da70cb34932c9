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


def last_pair(pairs: Pairs, ports: int) -> Ints:
    """Return the row of each port's last usable pair, -1 where it has none; shape (n,). Never raises."""
    rows = len(pairs.at_us)
    if not rows:
        return np.full(ports, -1, np.int64)
    last = np.maximum.accumulate(np.where(pairs.usable == 1, np.arange(rows), -1))
    first, end = pairs.first[:-1], pairs.first[1:]
    found = np.where(end > first, last[np.maximum(end - 1, 0)], -1)
    return np.where(found >= first, found, -1)


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
    last = last_pair(pairs, fleet.size)
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
