"""Columns of a plan under way: each distinct case worked out once, then given to its rows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from dialtrue.domain.contracts import PLAN
from dialtrue.domain.figures import decimal_places
from dialtrue.domain.planning.settings import PlanSettings
from dialtrue.domain.pulse_chain.chain import FitSettings
from dialtrue.engine.fleet_fit import FleetFit
from dialtrue.engine.port_groups import PortGroups
from dialtrue.files.findings import ARROW_TYPE
from dialtrue.files.sheets import Catalogue
from dialtrue.services.plan_choice import Choice
from dialtrue.services.plan_codes import codes_together
from dialtrue.services.plan_offers import Offers
from dialtrue.services.plan_registers import Registers

Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Planned:
    """All that the columns are made from. ``fit`` holds distinct verdicts, ``fit_at`` each row's place among them."""

    sites: pa.Table
    registers: Registers
    groups: PortGroups
    offers: Offers
    choice: Choice
    fit: FleetFit
    fit_at: Ints
    catalogue: Catalogue
    settings: PlanSettings
    fit_settings: FitSettings

    @property
    def offer(self) -> Ints:
        """Place of each row's offer, -1 for none."""
        return self.choice.offer[self.groups.group]


class Columns:
    """Columns under way, and the ways to make one."""

    def __init__(self, planned: Planned) -> None:
        self.planned = planned
        self.made: dict[str, Any] = {}

    def spread(self, name: str, values: Sequence[Any], places: Ints) -> None:
        """Give each row the value at its place; -1 is blank."""
        form = next(column.form for column in PLAN.columns if column.name == name)
        kind = ARROW_TYPE[form]
        taken = pa.array(np.maximum(places, 0), mask=places < 0)
        held = pa.array(values or [None], kind)
        self.made[name] = held.take(taken)

    def by_case(self, codes: Sequence[Ints], work: Callable[[int], dict[str, Any]], names: Sequence[str]) -> None:
        """Work out some columns once for each distinct combination of codes; ``work`` is given its first row."""
        _, first, back = np.unique(codes_together(*codes), return_index=True, return_inverse=True)
        worked = [work(int(row)) for row in first]
        for name in names:
            self.spread(name, [held.get(name) for held in worked], back.reshape(-1))


def decimal_text(value: Fraction) -> str:
    """Return an exact decimal as text: "0.001", "10". Never raises for a value that ends in decimals."""
    places = decimal_places(value)
    if places is None:
        return str(value.numerator / value.denominator)
    return str(Decimal(value.numerator) / Decimal(value.denominator)) if places else str(value.numerator)
