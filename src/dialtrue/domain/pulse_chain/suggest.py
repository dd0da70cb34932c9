"""What would make it fit: the smallest change that passes, then the smallest two."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from dialtrue.domain.pulse_chain.cable import Cable
from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.corners import Spread
from dialtrue.domain.pulse_chain.input import Input
from dialtrue.domain.pulse_chain.verdict import FitVerdict, judge

CHANGE_COSTS: Final[Mapping[str, float]] = {
    "debounce": 1.0,
    "edges": 1.0,
    "pull_up": 2.0,
    "wiring": 2.0,
    "weight": 3.0,
    "cable": 4.0,
    "input": 6.0,
}
"""Relative cost of each kind of change. Our assumption: a setting is cheaper than a wire, a wire cheaper than another
output of the register, that cheaper than a new cable, and another endpoint is the dearest; override by ``costs``."""

CHANGE_ORDER: Final = ("input", "cable", "weight", "wiring", "edges", "pull_up", "debounce")
"""Another input first: the settings that go with it are its own."""

_RANK: Final[Mapping[str, int]] = {"fits": 0, "fits_with_care": 1, "unknown": 2, "does_not_fit": 3}


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """What may be changed. Weights in L per pulse; empty: ten times and a tenth of the present weight are tried."""

    weights_l: tuple[float, ...] = ()
    inputs: tuple[Input, ...] = ()
    cables: tuple[Cable, ...] = ()
    costs: Mapping[str, float] = field(default_factory=lambda: CHANGE_COSTS)


@dataclass(frozen=True, slots=True)
class Change:
    """One change: its kind, the value before and after in ``unit`` (sheet keys have no unit), how far it goes."""

    kind: str
    before: float | str
    after: float | str
    unit: str
    size: float


@dataclass(frozen=True, slots=True)
class Suggestion:
    """Changes that together make the chain fit, their cost, and the verdict then."""

    changes: tuple[Change, ...]
    cost: float
    verdict: FitVerdict


_Trial = tuple[tuple[Change, ...], Chain]


def suggest(chain: Chain, choices: Choices, *, most: int = 5) -> list[Suggestion]:
    """Search for the smallest change that makes a chain fit.

    Parameters
    ----------
    chain : Chain
        The chain as it is.
    choices : Choices
        What may be changed, with costs.
    most : int
        Suggestions wanted. [>= 1]

    Returns
    -------
    list of Suggestion
        Better outcomes than the present one only; one change before two, cheap before dear, then *fits* before *fits
        with care*, then the smaller step. Empty where the chain fits already, or nothing helps.

    Raises
    ------
    Never raises.

    Notes
    -----
    Two changes are tried only where fewer than ``most`` single ones help; never two of one kind.

    Source
    ------
    Exhaustive search; costs are our assumption (``CHANGE_COSTS``).
    """
    present = _RANK[judge(chain).outcome]
    if present == 0:
        return []
    singles = _changes(chain, choices)
    found = _better([((change,), changed_chain(chain, change, choices)) for change in singles], choices, present)
    if len(found) < most:
        helped = {suggestion.changes[0] for suggestion in found}
        found += _better(
            _pairs(chain, [change for change in singles if change not in helped], choices), choices, present
        )
    found.sort(key=_order)
    return found[:most]


def _order(suggestion: Suggestion) -> tuple[int, float, int, float]:
    """Return the sorting key of a suggestion."""
    size = sum(change.size for change in suggestion.changes)
    return len(suggestion.changes), suggestion.cost, _RANK[suggestion.verdict.outcome], size


def _pairs(chain: Chain, singles: list[Change], choices: Choices) -> list[_Trial]:
    """Return every pair of changes of two kinds; the second is taken from what the first leaves, in one order only."""
    order = list(CHANGE_ORDER)
    trials: list[_Trial] = []
    for first in singles:
        changed = changed_chain(chain, first, choices)
        for second in _changes(changed, choices):
            later = order.index(second.kind) > order.index(first.kind)
            if later and (second in singles or first.kind == "input"):
                trials.append(((first, second), changed_chain(changed, second, choices)))
    return trials


def _better(trials: list[_Trial], choices: Choices, present: int) -> list[Suggestion]:
    """Return the trials that end in *fits* or *fits with care*, and better than now."""
    found: list[Suggestion] = []
    for changes, changed in trials:
        verdict = judge(changed)
        if _RANK[verdict.outcome] < min(present, 2):
            cost = sum(choices.costs.get(change.kind, CHANGE_COSTS[change.kind]) for change in changes)
            found.append(Suggestion(changes, cost, verdict))
    return found


def _ratio(before: float | None, after: float) -> float:
    """Return how far a figure moves, as the logarithm of its ratio."""
    if before is None or before <= 0.0 or after <= 0.0:
        return math.inf
    return abs(math.log(after / before))


def _changes(chain: Chain, choices: Choices) -> list[Change]:
    """Return every single change that the choices allow."""
    entry, weight = chain.input, chain.weight_l
    found: list[Change] = []
    for debounce in entry.debounce_choices_ms:
        if debounce != entry.debounce_ms:
            before = entry.debounce_ms
            told = "not known" if before is None else before
            found.append(Change("debounce", told, debounce, "ms", _ratio(before, debounce)))
    for pull in entry.pull_up_choices_ohm:
        held = entry.pull_up_ohm
        if held is None or pull != held.nominal:
            nominal = None if held is None else held.nominal
            told = "not known" if nominal is None else nominal
            found.append(Change("pull_up", told, pull, "ohm", _ratio(nominal, pull)))
    if entry.edges == "both":
        found.append(Change("edges", "both", "one", "", 1.0))
    if chain.wiring == "both_contacts":
        found.append(Change("wiring", "both_contacts", "one_pair", "", 1.0))
    if weight is not None:
        for other in choices.weights_l or (10.0 * weight, weight / 10.0):
            if other != weight:
                found.append(Change("weight", weight, other, "L", _ratio(weight, other)))
    found += [Change("cable", chain.cable.key, cable.key, "", 1.0) for cable in choices.cables if cable != chain.cable]
    # An input that lives on the mains is no swap for one that lives on a cell.
    on_cell = entry.capacity_mah is not None
    found += [
        Change("input", entry.key, other.key, "", 1.0)
        for other in choices.inputs
        if other != entry and (other.capacity_mah is not None or not on_cell)
    ]
    return found


def changed_chain(chain: Chain, change: Change, choices: Choices) -> Chain:
    """Return the chain after one change. A new pull-up keeps the relative spread of the old one."""
    entry, after = chain.input, change.after
    if change.kind == "debounce" and isinstance(after, float | int):
        return dataclasses.replace(chain, input=dataclasses.replace(entry, debounce_ms=after, min_on_ms=None))
    if change.kind == "pull_up" and isinstance(after, float | int):
        old = entry.pull_up_ohm
        share = 0.0 if old is None else (old.high - old.low) / (2.0 * old.nominal)
        return dataclasses.replace(chain, input=dataclasses.replace(entry, pull_up_ohm=Spread.share(after, share)))
    if change.kind == "edges":
        return dataclasses.replace(chain, input=dataclasses.replace(entry, edges="one"))
    if change.kind == "wiring":
        return dataclasses.replace(chain, wiring="one_pair")
    if change.kind == "weight" and isinstance(after, float | int):
        return dataclasses.replace(chain, weight_l=after)
    if change.kind == "cable":
        return dataclasses.replace(chain, cable=next(cable for cable in choices.cables if cable.key == after))
    return dataclasses.replace(chain, input=next(other for other in choices.inputs if other.key == after))
