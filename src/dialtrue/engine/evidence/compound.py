"""The two registers of a compound meter: their ports exchanged."""

from __future__ import annotations

import numpy as np

from dialtrue.engine.evidence.frame import Ring
from dialtrue.engine.evidence.match import Suit
from dialtrue.engine.fleet import Floats


def swapped_evidence(suit: Suit) -> Floats:
    """Return the evidence that each register is counted by its partner's port and the other way round (n,) [nat].

    Relative to sound, what every other cause of the partner says taken off; nan where there is no partner that was
    heard. The two ratios multiply to one because each side's dial is laid beside the other side's counts, times the
    weight of the register they came from.
    """
    case = suit.case
    heard = case.scan.figures["n"] >= 2
    row = np.flatnonzero((case.partner >= 0) & heard)
    row = row[heard[case.partner[row]]]
    evidence = np.full(case.fleet.size, np.nan)
    if not len(row):
        return evidence
    by = case.partner[row]
    told, _ = suit.edges(row, by)
    mine = np.full((case.fleet.size, 2), np.nan)
    mine[row] = told
    both = told + mine[by] - suit.otherwise[by][:, None]
    evidence[row] = both.max(axis=1) - suit.stretch[row]
    return evidence


def swapped_rings(suit: Suit, evidence: Floats) -> list[Ring]:
    """Return the pairs of rows of one meter whose ports are exchanged more likely than not."""
    partner = suit.case.partner
    rows = np.flatnonzero(np.nan_to_num(evidence + suit.stretch, nan=-1.0) - suit.otherwise > 4.0)
    found = set(rows.tolist())
    return [
        Ring([int(row), int(partner[row])], [int(partner[row]), int(row)], "wires", float(evidence[row]))
        for row in rows
        if row < partner[row] and int(partner[row]) in found
    ]
