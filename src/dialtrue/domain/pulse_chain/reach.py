"""The longest cable that still fits."""

from __future__ import annotations

import dataclasses
from typing import Final

from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.verdict import judge

GREATEST_LENGTH_M: Final = 10_000.0
_STEP_M: Final = 0.1


def longest_cable_m(chain: Chain) -> float | None:
    """Return the longest run of this cable with which the chain still fits, with care or without.

    Parameters
    ----------
    chain : Chain
        The chain; its own length does not matter.

    Returns
    -------
    float or None
        To 0.1 m, rounded down; 10000 where no length fails; 0 where even none fits; None where a figure is missing.
        [m, 0 .. 10000]

    Raises
    ------
    Never raises.

    Notes
    -----
    More cable means more ohms and more picofarads, so every rule gets worse with length and halving finds the end.

    Source
    ------
    The rules themselves.
    """
    if not _fits(chain, 0.0):
        outcome = judge(dataclasses.replace(chain, length_m=0.0)).outcome
        return None if outcome == "unknown" else 0.0
    if _fits(chain, GREATEST_LENGTH_M):
        return GREATEST_LENGTH_M
    low, high = 0, round(GREATEST_LENGTH_M / _STEP_M)
    while high - low > 1:
        middle = (low + high) // 2
        if _fits(chain, middle * _STEP_M):
            low = middle
        else:
            high = middle
    return round(low * _STEP_M, 1)


def _fits(chain: Chain, length_m: float) -> bool:
    """Return whether a length neither fails nor is unknown."""
    return judge(dataclasses.replace(chain, length_m=length_m)).outcome in ("fits", "fits_with_care")
