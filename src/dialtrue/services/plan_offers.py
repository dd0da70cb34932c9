"""The endpoints on hand, the preferred first, and what each can be keyed with for every distinct register."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np
import numpy.typing as npt

from dialtrue.domain.hardware.endpoint import Endpoint, Weight
from dialtrue.domain.planning.index_choice import IndexChoice, choose_index
from dialtrue.domain.planning.input_settings import InputSetting, input_settings
from dialtrue.domain.planning.settings import PlanSettings
from dialtrue.domain.pulse_chain.cable import Cable
from dialtrue.files.endpoint_sheets import Hardware
from dialtrue.files.sheets import Catalogue
from dialtrue.services.plan_registers import DialCase, Registers

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

PAIR_CABLE: Final = "awg22-pair"
LOOP_CABLE: Final = "awg22-four"
"""Cables that stand where neither the survey nor the settings name one. Our assumption; override by ``plan.cable``."""


@dataclass(frozen=True, slots=True)
class Offer:
    """One endpoint on hand: its place among the sheets, the settings of its input, and the cable it brings.

    ``last``: it needs power that nobody has said is there, and is taken only where no other counts.
    """

    place: int
    endpoint: Endpoint
    input_place: int
    settings: tuple[InputSetting, ...]
    cable: int
    last: bool


@dataclass(frozen=True, slots=True)
class OfferedCase:
    """What an endpoint can be keyed with for one distinct register; None: it cannot."""

    weight: Weight | None
    index: IndexChoice | None

    @property
    def possible(self) -> bool:
        """True where both can be keyed."""
        return self.weight is not None and self.index is not None


@dataclass(slots=True)
class Offers:
    """Every endpoint on hand, the preferred first, and what each can be keyed with, by distinct register."""

    offers: tuple[Offer, ...]
    cases: list[list[OfferedCase]]
    cables: tuple[Cable, ...]

    def figures(self, case: Ints, offer: Ints, take: str) -> Floats:
        """Return a figure of the index [L] for pairs of case and offer, NaN where it cannot be keyed."""
        table = np.array(
            [[_litres(held.index, take) for held in row] for row in self.cases] or [[np.nan]], dtype=np.float64
        )
        return np.where(offer >= 0, table[case, np.maximum(offer, 0)], np.nan)


def _litres(choice: IndexChoice | None, take: str) -> float:
    return float("nan") if choice is None else float(getattr(choice.index, take))


def offers_of(
    registers: Registers, catalogue: Catalogue, hardware: Hardware, settings: PlanSettings, *, rollover_h: float
) -> Offers:
    """Return the endpoints on hand; an index should last ``rollover_h`` hours at Q3 if it can.

    Raises
    ------
    UnknownSheet
        The settings name an endpoint, a cable, an output or an input that no sheet describes.
    """
    for key, find in (
        (settings.output, catalogue.output),
        (settings.input, catalogue.input),
        (settings.cable, catalogue.cable),
    ):
        if key:
            find(key)
    keys = list(settings.endpoints) or list(hardware.own) or list(hardware.endpoints)
    for key in keys:
        hardware.endpoint(key)
    named = [list(hardware.endpoints)[place] for place in np.unique(registers.endpoint) if place >= 0]
    places, inputs = list(hardware.endpoints), list(catalogue.inputs)
    cables = list(catalogue.cables)
    offers = []
    for key in dict.fromkeys([*keys, *named]):
        endpoint = hardware.endpoints[key]
        if endpoint.input not in catalogue.inputs:
            continue
        too_cold = settings.coldest_c is not None and (endpoint.cold_limit_c or -273.0) > settings.coldest_c
        if too_cold and key not in named:
            continue
        entry = catalogue.inputs[endpoint.input]
        loop = endpoint.tamper_loop != "none" and entry.tamper_loop != "shared"
        cable = settings.cable or (LOOP_CABLE if loop else PAIR_CABLE)
        offers.append(
            Offer(
                places.index(key),
                endpoint,
                inputs.index(endpoint.input),
                input_settings(entry),
                cables.index(cable) if cable in cables else -1,
                endpoint.power == "mains" and key not in (*settings.endpoints, *hardware.own, *named),
            )
        )
    rank = {key: place for place, key in enumerate(settings.endpoints)}
    offers.sort(key=lambda offer: (rank.get(offer.endpoint.key, len(rank)), offer.last, offer.endpoint.ports))
    made: dict[tuple[object, ...], IndexChoice | None] = {}
    cases = [[_offered(case, offer.endpoint, made, rollover_h) for offer in offers] for case in registers.cases]
    return Offers(tuple(offers), cases, tuple(catalogue.cables.values()))


def _offered(
    case: DialCase, endpoint: Endpoint, made: dict[tuple[object, ...], IndexChoice | None], rollover_h: float
) -> OfferedCase:
    """Return what an endpoint can be keyed with for one register."""
    if case.dial is None or case.weight_l is None:
        return OfferedCase(None, None)
    own = Weight(case.weight_text, case.weight_unit, case.weight_l)
    weight = endpoint.weight(case.weight_l, case.weight_unit) if endpoint.weights else own
    spec = (endpoint.index_digits, endpoint.index_units, endpoint.index_resolutions)
    key = (case.dial, case.weight_l, case.billing_l, case.q3_lpm, *spec)
    if key not in made:
        made[key] = choose_index(
            case.dial,
            case.weight_l,
            digits=spec[0],
            units=spec[1],
            resolutions=spec[2],
            billing_l=case.billing_l,
            least_capacity_l=(case.q3_lpm or 0) * Fraction(rollover_h) * 60,
        )
    return OfferedCase(weight, made[key])
