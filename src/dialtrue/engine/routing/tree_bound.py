"""The bound by spanning trees, spare edges and cuts; the proof stands in ``lower_bound``."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from dialtrue.engine.routing.crew_need import CrewNeed
from dialtrue.engine.routing.cut_kernel import lay_inside

_FIRST_STEP: Final = 0.3
_SECOND_STEP: Final = 0.1
_LAST_STEP: Final = 0.02
_CUT_STEP: Final = 0.3
_KEPT: Final = 0.6
_FREE_STEPS: Final = 150
"""First step over the mean drive without cuts and with them, last step over the first, step of a cut's price over that
of a place's, share of the step before, steps without cuts. [-]

Our assumption: the best of some 120 settings tried on invented towns of 120 to 400 visits. They set how good the bound
is, never whether it is one.
"""

_MOST_CUTS: Final = 150
_LOOK_EVERY: Final = 3
_CUTS_A_LOOK: Final = 6
"""Cuts kept at most, steps between two looks for cuts, cuts taken at a look. Our assumption, as above."""


@dataclass(slots=True)
class _Cuts:
    """Sets of visits that need more than one crew-day, each with its price and what it lacked a step ago."""

    inside: np.ndarray
    needed: np.ndarray
    prices: np.ndarray
    before: np.ndarray
    known: set[bytes] = field(default_factory=set)

    def add(self, inside: np.ndarray, need: int) -> None:
        """Take a set that is not known yet."""
        key = np.packbits(inside).tobytes()
        if key in self.known or len(self.needed) >= _MOST_CUTS:
            return
        self.known.add(key)
        self.inside = np.vstack([self.inside, inside])
        self.needed = np.append(self.needed, 2.0 * need)
        self.prices, self.before = np.append(self.prices, 0.0), np.append(self.before, 0.0)

    def make_room(self) -> None:
        """Drop sets without a price once the store is nearly full."""
        if len(self.needed) + 2 * _CUTS_A_LOOK < _MOST_CUTS:
            return
        keep = self.prices > 0
        self.inside, self.needed = self.inside[keep], self.needed[keep]
        self.prices, self.before = self.prices[keep], self.before[keep]
        self.known = {np.packbits(row).tobytes() for row in self.inside}


@dataclass(slots=True)
class _Spanned:
    """The cheapest tree with spare edges: its value, its edges, the order in which the tree grew."""

    value: float
    rounds: int
    order: np.ndarray
    source: np.ndarray
    ends: np.ndarray


def tree_bound(cost: np.ndarray, need: CrewNeed, least: int, most: int, *, steps: int) -> float:
    """Return the best bound over the steps of the subgradient.

    Parameters
    ----------
    cost : float64, shape (places, places)
        Drives, place 0 the depot. [s, >= 0]
    need : CrewNeed
        Tells how many crew-days a set of visits asks for.
    least, most : int
        Every plan has at least ``least`` and at most ``most`` crew-days. [1 to visits]
    steps : int
        More steps, better bound. [>= 0]

    Returns
    -------
    float
        At or below the driving of every plan. [s]

    Raises
    ------
    Never raises.
    """
    places = cost.shape[0]
    edge = np.minimum(cost, cost.T)
    np.fill_diagonal(edge, np.inf)
    pairs = np.triu_indices(places, 1)
    prices, before = np.zeros(places), np.zeros(places)
    cuts = _Cuts(np.zeros((0, places), dtype=bool), np.zeros(0), np.zeros(0), np.zeros(0))
    best, best_prices, length = -np.inf, prices, 0.0
    free = min(_FREE_STEPS, steps // 2)
    for step in range(steps + 1):
        changed, off = _changed(edge, prices, cuts)
        found = _tree_and_spares(changed, pairs, prices[0], least, most)
        value = found.value - off
        if value > best:
            best, best_prices = value, prices
        excess = np.bincount(found.ends.ravel(), minlength=places).astype(np.float64)
        excess[1:] -= 2.0
        excess[0] -= 2.0 * found.rounds
        if step == free:
            prices, before = best_prices, np.zeros(places)
        if step >= free and (step - free) % _LOOK_EVERY == 0:
            cuts.make_room()
            _look_for_cuts(found, need, cuts)
        crossing = cuts.inside[:, found.ends[0]] != cuts.inside[:, found.ends[1]]
        missing = cuts.needed - crossing.sum(axis=1)
        # Long steps first, fifty times shorter at the end, with a part of the step before against zigzag.
        if step in (0, free):
            length = (_SECOND_STEP if step else _FIRST_STEP) * max(best, 1.0) / places
        else:
            length *= _LAST_STEP ** (1.0 / max(1, free if step < free else steps - free))
        prices = prices + length * (excess + _KEPT * before)
        cuts.prices = np.maximum(0.0, cuts.prices + _CUT_STEP * length * (missing + _KEPT * cuts.before))
        before, cuts.before = excess, missing
    return best


def _changed(edge: np.ndarray, prices: np.ndarray, cuts: _Cuts) -> tuple[np.ndarray, float]:
    """Return the edges with all prices laid on, and what is to be taken off the value again."""
    own = prices.copy()
    off = 2.0 * float(prices[1:].sum())
    dear = cuts.prices > 0
    if not dear.any():
        return edge + own[:, None] + own[None, :], off
    # An edge crosses where one end is inside: a + b - 2 a b for ends that are 0 or 1. The other side does as well.
    small = cuts.inside[dear].copy()
    large = 2 * small.sum(axis=1) > small.shape[1]
    small[large] = ~small[large]
    own -= (small * cuts.prices[dear][:, None]).sum(axis=0)
    changed = edge.copy()
    rows, members = np.nonzero(small)
    ends = np.searchsorted(rows, np.arange(len(small) + 1))
    lay_inside(changed, members, ends, 2.0 * cuts.prices[dear])
    off -= float(cuts.prices[dear] @ cuts.needed[dear])
    changed += own[:, None]
    changed += own[None, :]
    return changed, off


def _tree_and_spares(
    edge: np.ndarray, pairs: tuple[np.ndarray, np.ndarray], depot_price: float, least: int, most: int
) -> _Spanned:
    """Return the cheapest edges that join all places, with r spares, over all r that are possible."""
    order, source = _spanning_tree(edge)
    places = edge.shape[0]
    nodes = np.arange(1, places)
    tree_cost = float(edge[source[1:], nodes].sum())
    above, beside = pairs
    costs = edge[above, beside]
    # The tree's own edges are no spares, except that an edge at the depot may be used a second time.
    low, high = np.minimum(source[1:], nodes), np.maximum(source[1:], nodes)
    at = low * places - low * (low + 1) // 2 + high - low - 1
    costs[at[low > 0]] = np.inf
    # Every other edge at the depot has two copies to spare.
    second = np.ones(places, dtype=bool)
    second[0] = False
    second[high[low == 0]] = False
    twice = np.flatnonzero(second)
    pool = np.concatenate([costs, edge[0, twice]])
    count = min(most, len(pool))
    picked = np.argpartition(pool, count - 1)[:count] if count < len(pool) else np.arange(len(pool))
    picked = picked[np.argsort(pool[picked], kind="stable")]
    rounds = np.arange(1, count + 1)
    values = tree_cost + np.cumsum(pool[picked]) - 2.0 * rounds * depot_price
    start = min(least, count) - 1
    r = start + int(np.argmin(values[start:]))
    spares = picked[: r + 1]
    plain, doubled = spares[spares < len(costs)], twice[spares[spares >= len(costs)] - len(costs)]
    ends = np.array(
        [
            [*source[1:], *above[plain], *np.zeros(len(doubled), dtype=np.int64)],
            [*nodes, *beside[plain], *doubled],
        ]
    )
    return _Spanned(float(values[r]), r + 1, order, source, ends)


def _spanning_tree(edge: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the order in which places join a spanning tree of least cost, and the place each joins at."""
    places = edge.shape[0]
    source = np.zeros(places, dtype=np.int64)
    order = np.zeros(places, dtype=np.int64)
    nearest = edge[0].copy()
    nearest[0] = np.inf
    out = np.ones(places, dtype=bool)
    out[0] = False
    for step in range(1, places):
        place = int(np.argmin(nearest))
        out[place] = False
        order[step] = place
        row = edge[place]
        closer = (row < nearest) & out
        nearest[closer] = row[closer]
        source[closer] = place
        nearest[place] = np.inf
    return order, source


def _look_for_cuts(found: _Spanned, need: CrewNeed, cuts: _Cuts) -> None:
    """Take the branches of the tree that cross to the rest least often for the crew-days they need."""
    if len(cuts.needed) >= _MOST_CUTS:
        return
    order, source = found.order.tolist(), found.source.tolist()
    places = len(order)
    jobs, entries = need.jobs_s.tolist(), need.entry_s.tolist()
    largest, out, home = list(entries), need.out_s.tolist(), need.home_s.tolist()
    size, aboard = [1] * places, need.endpoints.tolist()
    for place in reversed(order[1:]):
        above = source[place]
        if above:
            jobs[above] += jobs[place]
            entries[above] += entries[place]
            size[above] += size[place]
            aboard[above] += aboard[place]
            largest[above] = max(largest[above], largest[place])
            out[above] = min(out[above], out[place])
            home[above] = min(home[above], home[place])
    needed = np.ones(places, dtype=np.int64)
    for place in order[1:]:
        if size[place] > 1:
            needed[place] = need.of(
                jobs[place], size[place], aboard[place], entries[place], largest[place], out[place], home[place]
            )
    inside = _branches(order, source)
    crossing = (inside[:, found.ends[0]] != inside[:, found.ends[1]]).sum(axis=1)
    lack = 2 * needed - crossing
    lack[0] = 0
    worst = np.argsort(-lack, kind="stable")[:_CUTS_A_LOOK]
    for place in worst.tolist():
        if lack[place] > 0 and size[place] > 1:
            cuts.add(inside[place], int(needed[place]))


def _branches(order: list[int], source: list[int]) -> np.ndarray:
    """Return for each place the branch of the tree that hangs at it, itself included; bool, (places, places)."""
    inside = np.eye(len(order), dtype=bool)
    for place in reversed(order[1:]):
        if source[place]:
            inside[source[place]] |= inside[place]
    return inside
