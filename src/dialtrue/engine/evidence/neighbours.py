"""Evidence of the neighbours: an index that follows another meter's dial, in pairs, in rings, within one meter."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.compound import swapped_evidence, swapped_rings
from dialtrue.engine.evidence.frame import Block, Case, Ring
from dialtrue.engine.evidence.match import suit_of
from dialtrue.engine.evidence.rings import find_rings

ALONE_NAT = -7.0
"""Evidence for an exchange where no neighbour's channel suits: the other half stands outside the programme. Our
assumption: one in a thousand. [nat]"""
MOST_NAT = 60.0


def weigh(case: Case, blocks: list[Block]) -> Block:
    """Weigh exchanges of endpoints, given what every other block says of each port.

    Source
    ------
    Exchanged channels keep their registers' weights, so their ratios multiply to one (arithmetic). Each exchange is
    weighed as a whole: Bayes' rule over the members of the ring together.
    """
    n = case.fleet.size
    suit = suit_of(case, blocks)
    found = find_rings(suit)
    swapped = swapped_evidence(suit)
    rings = found.rings + swapped_rings(suit, swapped)
    ring_of: dict[int, tuple[Ring, int]] = {}
    for ring in rings:
        for row, by in zip(ring.rows, ring.counted_by, strict=True):
            ring_of[row] = (ring, by)

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        if row not in ring_of:
            return "No neighbour's dial explains this index.", {}
        ring, by = ring_of[row]
        return "This index follows another meter's dial, and the other way round.", {
            "ring_size": len(ring.rows), "counted_by_endpoint": case.fleet.endpoint_serial[by],
            "counted_by_port": int(case.fleet.port[by]), "match_gain_nat": round(ring.gain, 2),
        }  # fmt: skip

    block = Block.blank("neighbours", n, says)
    # An exchange that no neighbour completes explains nothing better than the rest of the causes do.
    alone = np.minimum(ALONE_NAT, suit.otherwise - suit.crossed)
    crossed = np.clip(np.fmax(found.evidence - suit.crossed, alone), -MOST_NAT, MOST_NAT)
    block.loglik[:, COLUMN["crossed"]] = crossed
    ports = np.clip(np.nan_to_num(swapped - suit.swapped, nan=ALONE_NAT), -MOST_NAT, MOST_NAT)
    block.loglik[:, COLUMN["ports_swapped"]] = ports
    block.since_us[:, COLUMN["crossed"]] = case.fleet.fit_us
    block.since_us[:, COLUMN["ports_swapped"]] = case.fleet.fit_us
    case.notes.rings = rings
    return block
