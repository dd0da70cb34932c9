"""Evidence of the neighbours: an index that follows another meter's dial, in pairs and in rings."""

from __future__ import annotations

import numpy as np
from scipy.optimize import linear_sum_assignment

from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import Block, Case, Ring
from dialtrue.engine.onsets import Onsets, filled_walk, walk_at
from dialtrue.engine.scan_kernel import DAY_US

SAME_JOB_DAYS = 3.0
"""Endpoints are exchanged between fittings of the same days. Our assumption: three days apart at most."""
NO_DIAL = -1.0
"""Gain of a match that no dial read can speak of. [nat]"""
LONGEST_RING = 4
"""Endpoints exchanged in one ring. Our assumption: four boxes on one lane at the most."""
LEAST_TOTAL, BLIND_TOTAL = 1.5, 3.5
"""What a ring's matches must add up to; more where one of its dials was never read. Our assumption. [nat]"""
UNSEEN_COST = 2.0
"""Taken off where only use before the fitting speaks, so that no ring reaches for a port nobody has looked at. Our
assumption. [nat]"""
MOST_SUSPECTS = 1500
"""Suspects compared with each other at the most; the worst matched come first. Our assumption: bounds the square."""


def _match_gain(case: Case, onsets: Onsets, walk_l, channel_of: int, dial_of: int) -> float:
    """How much better the index of one row follows the dial of another than a free course does [nat]."""
    fleet, pairs, figures = case.fleet, case.pairs, case.scan.figures
    rows = np.arange(pairs.first[dial_of], pairs.first[dial_of + 1])
    rows = rows[
        (pairs.at_us[rows] > figures["first_us"][channel_of])
        & (pairs.at_us[rows] <= figures["last_us"][channel_of] + DAY_US)
    ]
    if len(rows) == 0 or not (fleet.weight_meter_l[dial_of] > 0):
        return NO_DIAL
    scale = fleet.weight_set_l[channel_of] / fleet.weight_meter_l[dial_of]
    start = max(int(fleet.fit_us[dial_of]), int(figures["first_us"][channel_of]))
    moments = np.concatenate(([start], pairs.at_us[rows])).astype(np.int64)
    q = fleet.quantum_index_l[channel_of]
    moved = walk_at(moments[None, :], walk_l[channel_of : channel_of + 1], case.scan.calendar.start_us,
                    figures[channel_of : channel_of + 1], np.array([q]))[0]  # fmt: skip
    base = fleet.dial_fit_l[dial_of]
    if np.isnan(base):
        if len(rows) < 2:
            return NO_DIAL
        index, dial = moved[2:] - moved[1], pairs.dial_l[rows[1:]] - pairs.dial_l[rows[0]]
    else:
        index, dial = moved[1:] - moved[0], pairs.dial_l[rows]
    index, dial = index / scale, dial
    daily = abs(figures["walk"][channel_of]) * q / scale / max(case.days[channel_of], 0.5)
    late_start = (start - fleet.fit_us[dial_of]) / DAY_US
    sd = np.sqrt(
        fleet.quantum_dial_l[dial_of] ** 2 / 3
        + fleet.weight_meter_l[dial_of] ** 2 / 3
        + (0.45 * daily) ** 2
        + (daily * late_start) ** 2
    )
    # A free course is log-uniform over four decades; a match must beat that.
    free = 1.0 / (np.maximum(np.abs(index), sd) * np.log(1e4))
    good = np.exp(-0.5 * ((index - dial) / sd) ** 2) / (sd * np.sqrt(2 * np.pi))
    odds = np.log(0.97 * good / free + 0.03)
    # Looks add up, but one dial's looks share their start: half credit after the first.
    return float(odds[-1] + 0.5 * odds[:-1].sum()) if len(odds) else NO_DIAL


def _history_gain(case: Case, onsets: Onsets, channel_of: int, dial_of: int) -> float:
    """How much better an index suits another place's earlier use than its own: weak, never enough [nat]."""
    fleet = case.fleet
    rate = abs(onsets.rate_l_day[channel_of]) / max(float(fleet.weight_set_l[channel_of]), 1e-9)
    misfit = []
    for row in (channel_of, dial_of):
        if not (fleet.use_l_day[row] > 0 and fleet.weight_meter_l[row] > 0):
            return NO_DIAL
        z = np.log(max(rate * fleet.weight_meter_l[row], 1e-6) / fleet.use_l_day[row])
        misfit.append(min(0.5 * (z / 0.45) ** 2, 6.0))
    return float(np.clip(misfit[0] - misfit[1], -3.0, 3.0))


def find_rings(case: Case, onsets: Onsets, suspicion: np.ndarray) -> list[Ring]:
    """Find exchanged endpoints among the suspects by a best assignment of channels to dials.

    Parameters
    ----------
    suspicion : float64, shape (n,)
        How badly the port's own dial fits its index [nat]; suspects have 4 or more, or a start that cannot be.
    """
    fleet, figures = case.fleet, case.scan.figures
    broken = case.pairs.start_broken == 1
    odd = (suspicion >= 4.0) | broken
    # A port whose dial nobody has read may be the other half of an odd one's exchange.
    fits = np.sort(fleet.fit_us[odd])
    if len(fits):
        at = np.searchsorted(fits, fleet.fit_us)
        away = np.minimum(np.abs(fits[np.clip(at, 0, len(fits) - 1)] - fleet.fit_us),
                          np.abs(fits[np.clip(at - 1, 0, len(fits) - 1)] - fleet.fit_us))  # fmt: skip
        odd |= (case.notes.pairs_used == 0) & (figures["n"] > 2) & (away <= 0.5 * DAY_US)
    suspects = np.flatnonzero(odd)
    suspects = suspects[np.argsort(-suspicion[suspects])][:MOST_SUSPECTS]
    m = len(suspects)
    if m < 2:
        return []
    walk_l = filled_walk(case.scan) * fleet.quantum_index_l[:, None]
    gain = np.full((m, m), -30.0)
    unseen = np.zeros((m, m), bool)
    first_l = figures["first_count"] * fleet.quantum_index_l
    with np.errstate(invalid="ignore"):
        start_l = np.where(np.isnan(fleet.dial_fit_l), np.nan, fleet.dial_fit_l)
    fit = fleet.fit_us[suspects]
    for i, a in enumerate(suspects):
        gain[i, i] = 0.0
        close = np.flatnonzero((np.abs(fit - fit[i]) <= SAME_JOB_DAYS * DAY_US) & (suspects != a))
        # Whoever looks at many dials finds one that fits by chance.
        choice = float(np.log(max(len(close), 1)))
        for j in close:
            b = int(suspects[j])
            value = _match_gain(case, onsets, walk_l, a, b)
            if value == NO_DIAL:
                value = _history_gain(case, onsets, a, b) - UNSEEN_COST
                unseen[i, j] = True
            if broken[a] and not np.isnan(start_l[b]):
                # The endpoint's first index is what was keyed for the other meter's dial.
                away = first_l[a] - start_l[b]
                most = fleet.flow_limit_l_s[b] * max((figures["first_us"][a] - fleet.fit_us[b]) / 1e6, 3600.0) * 0.2
                if -fleet.quantum_dial_l[b] * 2 <= away <= max(most, 20 * fleet.quantum_dial_l[b]):
                    value += 7.0
                    unseen[i, j] = False
                else:
                    value -= 2.0
            gain[i, j] = value - choice
    rows, columns = linear_sum_assignment(-gain)
    follows = dict(zip(rows.tolist(), columns.tolist(), strict=True))
    rings, seen = [], set()
    for i in range(m):
        if i in seen or follows[i] == i:
            continue
        cycle, k = [], i
        while k not in cycle:
            cycle.append(k)
            k = follows[k]
        seen.update(cycle)
        edges = [gain[k, follows[k]] for k in cycle]
        total = float(sum(edges))
        blind = any(unseen[k, follows[k]] for k in cycle)
        if len(cycle) > LONGEST_RING or min(edges) < -4.0 or total < (BLIND_TOTAL if blind else LEAST_TOTAL):
            continue
        members = [int(suspects[k]) for k in cycle]
        targets = [int(suspects[follows[k]]) for k in cycle]
        counted_by = {target: member for member, target in zip(members, targets, strict=True)}
        kind = "records" if sum(broken[r] for r in members) * 2 > len(members) else "wires"
        rings.append(Ring(members, [counted_by[r] for r in members], kind, total))
    return rings


def _compound_gain(case: Case) -> np.ndarray:
    """Gain for exchanged ports where a compound meter's two ratios multiply to one, by its dials or its history [nat].

    Each side's ratio is index over dial where a pair is at hand, else use after over use before the fitting.
    """
    fleet, pairs = case.fleet, case.pairs
    history = case.notes.history_log_ratio
    gain = np.zeros(fleet.size)
    for f in np.flatnonzero(case.partner >= 0):
        sides = []
        for row in (int(f), int(case.partner[f])):
            value, sd = history[row], 0.45
            rows = pairs.rows_of(row)
            if len(rows) and pairs.dial_l[rows[-1]] > 0 and pairs.index_l[rows[-1]] > 0:
                value, sd = np.log(pairs.index_l[rows[-1]] / pairs.dial_l[rows[-1]]), 0.12
            sides.append((value, sd))
        (a, sa), (b, sb) = sides
        spread = np.hypot(sa, sb)
        if np.isfinite(a) and np.isfinite(b) and a * b < 0 and min(abs(a), abs(b)) > 1.5 * max(min(sa, sb), 0.04):
            # If nothing tied the two, their sum would scatter by about one and a half.
            gain[f] = -0.5 * ((a + b) / spread) ** 2 + np.log(1.5 / spread) + min(abs(a - b) / (2 * spread), 4.0)
    return gain


def weigh(case: Case, onsets: Onsets, suspicion: np.ndarray) -> Block:
    """Weigh rings of exchanged endpoints; a compound meter's two registers make ``ports_swapped``.

    Source
    ------
    Exchanged channels keep their registers' weights, so their ratios multiply to one (arithmetic).
    """
    n = case.fleet.size
    serial = case.fleet.meter_serial
    rings = find_rings(case, onsets, suspicion)
    partner_of: dict[int, tuple[Ring, int]] = {}
    for ring in rings:
        for row, by in zip(ring.rows, ring.counted_by, strict=True):
            partner_of[row] = (ring, by)

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        if row not in partner_of:
            return "No neighbour's dial explains this index.", {}
        ring, by = partner_of[row]
        return "This index follows another meter's dial, and the other way round.", {
            "ring_size": len(ring.rows), "counted_by_endpoint": case.fleet.endpoint_serial[by],
            "counted_by_port": int(case.fleet.port[by]), "match_gain_nat": round(ring.gain, 2),
        }  # fmt: skip

    block = Block.blank("neighbours", n, says)
    two_sided = _compound_gain(case)
    in_ring = np.zeros(n, bool)
    same_meter = np.zeros(n, bool)
    gain = np.zeros(n)
    for row, (ring, by) in partner_of.items():
        in_ring[row] = True
        same_meter[row] = serial[row] == serial[by]
        gain[row] = ring.gain
    crossed, swapped = in_ring & ~same_meter, in_ring & same_meter
    block.add("crossed", crossed, np.minimum(gain, 14.0))
    block.add("ports_swapped", swapped, np.minimum(gain, 14.0) + 2.0)
    block.add("crossed", swapped, -3.0)
    block.add("crossed", ~in_ring, -3.0)
    block.add("ports_swapped", ~in_ring, np.where(two_sided > 0, np.minimum(two_sided, 12.0), -3.0))
    block.since_us[:, COLUMN["crossed"]] = case.fleet.fit_us
    block.since_us[:, COLUMN["ports_swapped"]] = case.fleet.fit_us
    case.notes.rings = rings
    return block
