"""Rings of exchanged endpoints: candidates of the same job, and the best assignment of channels to dials."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from dialtrue.engine.evidence.frame import Ring
from dialtrue.engine.evidence.match import Suit, suspicious
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.scan_kernel import DAY_US

SAME_JOB_DAYS = 3.0
"""Endpoints are exchanged between fittings of the same days. Our assumption: three days apart at most."""
REACH = 56
"""Fittings before and after, in order of time, that may be the other one. Our assumption: a few vans work at once,
each with two dozen."""
RING_LOG_SHARE = float(np.log(0.004))
"""Share of ports in a ring of two; each more member costs half of this again. Our assumption. [nat]"""
SUSPECT_NAT, KEPT_NAT = 1.5, -16.0
"""A port is looked at from this on, an edge is kept down to this. Our assumption. [nat]"""
LONGEST_RING = 6
"""Endpoints exchanged in one ring at the most. Our assumption."""
LARGEST_PART = 400
"""Ports assigned together; in a larger part the faintest edges are cut. Our assumption: bounds the cube."""
KINDS = ("wires", "records")
NOT_AN_EDGE = -1e6


@dataclass(slots=True)
class Edges:
    """Meter ``row`` counted by the channel of ``by``; ``told`` (edges, 2) by wires and records [nat]."""

    row: Ints
    by: Ints
    told: Floats
    log_rank: Floats
    looks: Ints


def _neighbours_in_time(suit: Suit, rows: Ints) -> tuple[Ints, Ints, Floats]:
    """Return (row, by, log share of the rank) for fittings next to each row in order of time."""
    fleet, heard = suit.case.fleet, suit.case.scan.figures["n"] >= 2
    order = np.flatnonzero(heard)
    order = order[np.argsort(fleet.fit_us[order], kind="stable")]
    place = np.full(fleet.size, -1, np.int64)
    place[order] = np.arange(len(order))
    steps = np.concatenate((np.arange(-REACH, 0), np.arange(1, REACH + 1)))
    at = place[rows][:, None] + steps[None, :]
    inside = (at >= 0) & (at < len(order)) & (place[rows] >= 0)[:, None]
    by = order[np.clip(at, 0, max(len(order) - 1, 0))]
    row = np.broadcast_to(rows[:, None], by.shape)
    share = 1.0 / np.abs(steps)
    log_rank = np.broadcast_to(np.log(share / share.sum()), by.shape)
    near = np.abs(fleet.fit_us[by] - fleet.fit_us[row]) <= SAME_JOB_DAYS * DAY_US
    meter = np.unique(np.array(fleet.meter_serial), return_inverse=True)[1]
    keep = inside & near & (meter[by] != meter[row]) & (fleet.channel[by] != fleet.channel[row])
    return row[keep].astype(np.int64), by[keep].astype(np.int64), log_rank[keep]


def _weighed(suit: Suit, row: Ints, by: Ints, log_rank: Floats) -> Edges:
    told, looks = suit.edges(row, by)
    return Edges(row, by, told, log_rank, looks)


def _joined(parts: list[Edges]) -> Edges:
    """Put edges together, each once."""
    row, by = (np.concatenate([getattr(part, name) for part in parts]) for name in ("row", "by"))
    _, first = np.unique(np.stack((row, by)), axis=1, return_index=True)
    return Edges(
        row[first], by[first], np.concatenate([part.told for part in parts])[first],
        np.concatenate([part.log_rank for part in parts])[first], np.concatenate([part.looks for part in parts])[first],
    )  # fmt: skip


def candidate_edges(suit: Suit) -> Edges | None:
    """Return the edges that a ring may be made of; None where nobody is suspicious.

    First every suspicious meter against the channels of its job; then, for each channel that suits one, the way back.
    """
    suspects = np.flatnonzero(suspicious(suit, SUSPECT_NAT))
    row, by, log_rank = _neighbours_in_time(suit, suspects)
    if not len(row):
        return None
    forth = _weighed(suit, row, by, log_rank)
    good = forth.told.max(axis=1) - suit.otherwise[row] + 0.5 * (log_rank + RING_LOG_SHARE) > KEPT_NAT
    forth = Edges(row[good], by[good], forth.told[good], log_rank[good], forth.looks[good])
    others = np.setdiff1d(forth.by, suspects)
    row, by, log_rank = _neighbours_in_time(suit, others)
    wanted = np.isin(by, np.concatenate((forth.row, others)))
    back = _weighed(suit, row[wanted], by[wanted], log_rank[wanted])
    return _joined([forth, back])


def _gain(suit: Suit, edges: Edges) -> Floats:
    """Return what each edge adds to a ring against every other cause of that row, by kind. (edges, 2) [nat]"""
    cost = 0.5 * (edges.log_rank + RING_LOG_SHARE)
    gain: Floats = edges.told - suit.otherwise[edges.row][:, None] + cost[:, None]
    return gain


def _parts(gain: Floats, row: Ints, by: Ints) -> list[Ints]:
    """Return the edges of each connected part, the faintest cut where a part grows too large."""
    pending, done = [np.flatnonzero(gain > KEPT_NAT)], []
    least = KEPT_NAT
    while pending:
        kept = pending.pop()
        if not len(kept):
            continue
        nodes, inverse = np.unique(np.concatenate((row[kept], by[kept])), return_inverse=True)
        a, b = inverse[: len(kept)], inverse[len(kept) :]
        graph = coo_matrix((np.ones(len(kept)), (a, b)), shape=(len(nodes), len(nodes)))
        count, label = connected_components(graph, directed=True, connection="strong")
        same = label[a] == label[b]
        sizes = np.bincount(label, minlength=count)
        order = np.argsort(label[a[same]], kind="stable")
        inner, of = kept[same][order], label[a[same]][order]
        for part in np.split(inner, np.flatnonzero(np.diff(of)) + 1) if len(inner) else []:
            size = sizes[label[np.searchsorted(nodes, row[part[0]])]]
            if size > LARGEST_PART:
                least = float(np.median(gain[part]))
                pending.append(part[gain[part] > least])
            else:
                done.append(part)
    return done


def assign(gain: Floats, a: Ints, b: Ints, size: int) -> list[tuple[list[int], float]]:
    """Return the rings of the best assignment, (members in order, total); nobody's own channel gains or costs nothing.

    Parameters
    ----------
    gain : float64, shape (edges,)
        What it gains if ``a`` is counted by ``b``. [nat]
    a, b : int64, shape (edges,)
        Nodes, 0 to ``size`` - 1.
    size : int

    Returns
    -------
    list of (list of int, float)
        ``members[i]`` is counted by ``members[i + 1]``, the last by the first.

    Source
    ------
    Linear sum assignment (``scipy.optimize``).
    """
    table = np.full((size, size), NOT_AN_EDGE)
    np.fill_diagonal(table, 0.0)
    table[a, b] = gain
    rows, columns = linear_sum_assignment(table, maximize=True)
    follows = np.empty(size, np.int64)
    follows[rows] = columns
    seen, found = np.zeros(size, bool), []
    for k in np.flatnonzero(follows != np.arange(size)):
        if seen[k]:
            continue
        members, total, at = [], 0.0, int(k)
        while not seen[at]:
            seen[at] = True
            members.append(at)
            total += float(table[at, follows[at]])
            at = int(follows[at])
        found.append((members, total))
    return found


@dataclass(slots=True)
class Rings:
    """``rings`` found; ``evidence`` (n,) for ``crossed`` against sound, nan where no ring can be [nat]."""

    rings: list[Ring]
    evidence: Floats


def find_rings(suit: Suit) -> Rings:
    """Find rings of exchanged endpoints.

    Every ring is weighed as a whole: what its members' dials, starts and earlier use say of their new channels, less
    what every other cause of the other members would say, less the cost of picking them out of their neighbours.
    """
    n = suit.case.fleet.size
    evidence = np.full(n, np.nan)
    edges = candidate_edges(suit)
    if edges is None:
        return Rings([], evidence)
    by_kind = _gain(suit, edges)
    gain = by_kind.max(axis=1)
    rings: list[Ring] = []
    for part in _parts(gain, edges.row, edges.by):
        nodes, inverse = np.unique(np.concatenate((edges.row[part], edges.by[part])), return_inverse=True)
        a, b = inverse[: len(part)], inverse[len(part) :]
        where = {(int(i), int(j)): int(e) for i, j, e in zip(a, b, part, strict=True)}
        for members, total in assign(gain[part], a, b, len(nodes)):
            if len(members) > LONGEST_RING or total <= 0:
                continue
            chosen = [where[(m, members[(i + 1) % len(members)])] for i, m in enumerate(members)]
            totals = by_kind[chosen].sum(axis=0)
            kind = int(np.argmax(totals))
            _settle(suit, edges, chosen, kind, evidence)
            rows = [int(edges.row[e]) for e in chosen]
            rings.append(Ring(rows, [int(edges.by[e]) for e in chosen], KINDS[kind], float(totals[kind])))
    _pairs_of_two(suit, edges, gain > KEPT_NAT, evidence)
    return Rings(rings, evidence)


def _settle(suit: Suit, edges: Edges, chosen: list[int], kind: int, evidence: Floats) -> None:
    """Write each member's evidence for a ring: its own, and what the others gain by it."""
    told = edges.told[chosen, kind]
    others = told - suit.otherwise[edges.row[chosen]] + 0.5 * edges.log_rank[chosen]
    more = (len(chosen) - 2) * 0.5 * RING_LOG_SHARE
    for i, e in enumerate(chosen):
        row = edges.row[e]
        value = told[i] - suit.stretch[row] + 0.5 * edges.log_rank[e] + others.sum() - others[i] + more
        evidence[row] = value if np.isnan(evidence[row]) else max(evidence[row], value)


def _pairs_of_two(suit: Suit, edges: Edges, kept: NDArray[np.bool_], evidence: Floats) -> None:
    """Write the evidence of the best exchange between two for every row that no ring holds.

    What the other one's own ring says counts among the other causes it may have.
    """
    n = suit.case.fleet.size
    ringed = ~np.isnan(evidence)
    by_ring = np.nan_to_num(evidence) + suit.stretch + RING_LOG_SHARE
    otherwise = np.where(ringed, np.logaddexp(suit.otherwise, by_ring), suit.otherwise)
    key, back = edges.row * n + edges.by, edges.by * n + edges.row
    order = np.argsort(key)
    at = np.minimum(np.searchsorted(key[order], back), len(key) - 1)
    found = (key[order][at] == back) & ~ringed[edges.row] & kept
    e, f = np.flatnonzero(found), order[at[found]]
    kind = (edges.told[e] + edges.told[f]).argmax(axis=1)
    value = edges.told[e, kind] + edges.told[f, kind] - otherwise[edges.row[f]]
    value += 0.5 * (edges.log_rank[e] + edges.log_rank[f]) - suit.stretch[edges.row[e]]
    best = np.full(n, -np.inf)
    np.maximum.at(best, edges.row[e], value)
    rows = np.unique(edges.row[e])
    evidence[rows] = best[rows]
