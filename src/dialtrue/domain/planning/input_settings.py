"""The settings that an input offers, the sheet's own first, then the cheapest change."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.input import Input
from dialtrue.domain.pulse_chain.suggest import CHANGE_COSTS, Change, Choices, changed_chain


@dataclass(frozen=True, slots=True)
class InputSetting:
    """One way to set an input. The two figures are None where the sheet offers no choice of them."""

    entry: Input
    pull_up_ohm: float | None
    debounce_ms: float | None
    new_pull_up: bool
    new_debounce: bool


def input_settings(entry: Input) -> tuple[InputSetting, ...]:
    """Return every way to set an input.

    Parameters
    ----------
    entry : Input
        Its data sheet.

    Returns
    -------
    tuple of InputSetting
        First the sheet as it stands; then by the cost of the change and how far it goes. A new pull-up keeps the
        relative spread of the old one.

    Raises
    ------
    Never raises.

    Source
    ------
    Costs: ``pulse_chain.suggest.CHANGE_COSTS`` (our assumption).
    """
    nominal = None if entry.pull_up_ohm is None else entry.pull_up_ohm.nominal
    pulls = _choices(nominal, entry.pull_up_choices_ohm)
    filters = _choices(entry.debounce_ms, entry.debounce_choices_ms)
    found: list[tuple[float, float, InputSetting]] = []
    for pull, debounce in itertools.product(pulls, filters):
        new_pull, new_debounce = pull != nominal, debounce != entry.debounce_ms
        held, cost, size = entry, 0.0, 0.0
        if new_pull and pull is not None:
            held = _changed(held, "pull_up", pull, "ohm")
            cost, size = cost + CHANGE_COSTS["pull_up"], size + _size(nominal, pull)
        if new_debounce and debounce is not None:
            held = _changed(held, "debounce", debounce, "ms")
            cost, size = cost + CHANGE_COSTS["debounce"], size + _size(entry.debounce_ms, debounce)
        setting = InputSetting(
            held,
            pull if entry.pull_up_choices_ohm else None,
            debounce if entry.debounce_choices_ms else None,
            new_pull,
            new_debounce,
        )
        found.append((cost, size, setting))
    found.sort(key=lambda item: item[:2])
    return tuple(setting for _, _, setting in found)


def _choices(held: float | None, offered: tuple[float, ...]) -> list[float | None]:
    """Return the sheet's own figure first, then the others."""
    return [held, *(choice for choice in offered if choice != held)]


def _changed(entry: Input, kind: str, value: float, unit: str) -> Input:
    """Return the input after one change, made as the fit check makes it."""
    return changed_chain(Chain(input=entry), Change(kind, "", value, unit, 0.0), Choices()).input


def _size(before: float | None, after: float) -> float:
    """Return how far a figure moves, as the logarithm of its ratio."""
    return math.inf if not before or after <= 0.0 else abs(math.log(after / before))
