"""The endpoint and its setting for every register: the first on hand with the best outcome of the fit check."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from dialtrue.domain.contracts import MOUNTS
from dialtrue.domain.pulse_chain.chain import FitSettings
from dialtrue.domain.pulse_chain.input import Input
from dialtrue.engine.fleet_chains import FleetChains
from dialtrue.engine.fleet_fit import FleetFit, judge_fleet
from dialtrue.engine.fleet_settings import WORST_RANK, best_settings
from dialtrue.engine.port_groups import PortGroups
from dialtrue.files.sheets import Catalogue
from dialtrue.services.plan_codes import codes_of, codes_together
from dialtrue.services.plan_offers import Offers
from dialtrue.services.plan_registers import Registers

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

LENGTH_STEP_M: Final = 0.5
"""Runs are rounded up to this while an endpoint and a setting are chosen; the verdict is made with the run itself."""


@dataclass(slots=True)
class Choice:
    """What was chosen: ``offer`` of each group, ``setting`` and ``cable`` of each row; -1 is none.

    ``rank`` of each group: how good its worst register is (``engine.fleet_settings.OUTCOME_RANK``).
    """

    offer: Ints
    setting: Ints
    rank: npt.NDArray[np.int8]
    cable: Ints


class Chooser:
    """Chooses endpoints for groups; what was judged for one endpoint is kept for the next groups."""

    def __init__(self, registers: Registers, offers: Offers, catalogue: Catalogue, fit_settings: FitSettings) -> None:
        self.registers, self.offers = registers, offers
        self.catalogue, self.fit_settings = catalogue, fit_settings
        self.combination, self.first = self._combinations()
        shape = (len(offers.offers), len(self.first))
        self.rank = np.full(shape, -1, np.int8)
        self.setting = np.zeros(shape, np.int64)

    def _combinations(self) -> tuple[Ints, Ints]:
        """Return each row's distinct chain, for the choice, and the first row of each."""
        registers = self.registers
        fixed = np.array([sheet.fixed_width for sheet in self.catalogue.outputs.values()] + [False])
        use = np.where(fixed[registers.output], registers.use_l_per_day, np.nan)
        with np.errstate(divide="ignore"):
            use_step = np.where(use > 0, np.ceil(np.log2(use) * 2), np.where(use == 0, -99, -100))
        self.use = np.where(use_step == -100, np.nan, np.where(use_step == -99, 0.0, 2.0 ** (use_step / 2)))
        self.length = np.ceil(registers.length_m / LENGTH_STEP_M - 1e-9) * LENGTH_STEP_M
        key = codes_together(
            registers.case,
            registers.output + 1,
            registers.cable + 1,
            registers.flow,
            codes_of(use_step),
            codes_of(self.length),
        )
        _, first, back = np.unique(key, return_index=True, return_inverse=True)
        return back.reshape(-1), first

    def admissible(self, groups: PortGroups, place: int) -> Flags:
        """Return which groups an endpoint may serve: by mount, ports and survey, and by what can be keyed."""
        registers, offer = self.registers, self.offers.offers[place]
        mounts = np.array([mount in offer.endpoint.mounts for mount in MOUNTS] + [False])
        good = mounts[groups.mount] & (groups.size <= offer.endpoint.ports)
        good &= (groups.endpoint == -1) | (groups.endpoint == offer.place)
        possible = np.array([row[place].possible for row in self.offers.cases] or [False])
        bad = ~possible[registers.case]
        bad |= (registers.input >= 0) & (registers.input != offer.input_place)
        good[groups.group[bad]] = False
        return good

    def choose(self, groups: PortGroups) -> Choice:
        """Choose the first endpoint with the best outcome for every group; a group is as good as its worst register."""
        registers, count = self.registers, len(groups.size)
        offer, best = np.full(count, -1, np.int64), np.full(count, WORST_RANK, np.int8)
        setting = np.zeros(registers.rows, np.int64)
        cable = registers.cable.copy()
        for place in range(len(self.offers.offers)):
            trying = self.admissible(groups, place) & (best > (1 if self.offers.offers[place].last else 0))
            rows = np.flatnonzero(trying[groups.group])
            if not len(rows):
                continue
            self._judge(place, np.unique(self.combination[rows]))
            now = np.zeros(count, np.int8)
            np.maximum.at(now, groups.group[rows], self.rank[place, self.combination[rows]])
            better = trying & (now < best)
            offer[better], best[better] = place, now[better]
            chosen = rows[better[groups.group[rows]]]
            setting[chosen] = self.setting[place, self.combination[chosen]]
            blank = chosen[registers.cable[chosen] < 0]
            cable[blank] = self.offers.offers[place].cable
        return Choice(offer, setting, best, cable)

    def _judge(self, place: int, combinations: Ints) -> None:
        """Judge distinct chains with one endpoint's input, unless that was done already."""
        wanted = combinations[self.rank[place, combinations] < 0]
        if not len(wanted):
            return
        rows = self.first[wanted]
        offer = self.offers.offers[place]
        cable = np.where(self.registers.cable[rows] < 0, offer.cable, self.registers.cable[rows])
        fleet = self.fleet(rows, np.full(len(rows), place), cable, length=self.length[rows], use=self.use[rows])
        self.setting[place, wanted], self.rank[place, wanted] = best_settings(fleet, offer.settings)

    def fleet(
        self, rows: Ints, offer: Ints, cable: Ints, *, length: Floats | None = None, use: Floats | None = None
    ) -> FleetChains:
        """Return some rows as chains, with the index that an offer brings; inputs are left open."""
        registers, case = self.registers, self.registers.case[rows]

        def flow(name: str) -> Floats:
            limits = [np.nan if held is None else float(getattr(held, name)) for held in registers.flows]
            return np.array(limits or [np.nan])[registers.flow[rows]]

        def of_case(name: str) -> Floats:
            held = [getattr(item, name) for item in registers.cases]
            return np.array([np.nan if value is None else float(value) for value in held] or [np.nan])[case]

        columns = {
            "length_m": registers.length_m[rows] if length is None else length,
            "weight_l": of_case("weight_l"),
            "max_flow_lpm": flow("max_flow_lpm"),
            "q3_lpm": flow("q3_lpm"),
            "leakage_ohm": np.full(len(rows), np.nan),
            "use_l_per_day": registers.use_l_per_day[rows] if use is None else use,
            "resolution_l": self.offers.figures(case, offer, "resolution_l"),
            "billing_l": of_case("billing_l"),
            "index_capacity_l": self.offers.figures(case, offer, "capacity_l"),
        }
        return FleetChains(
            tuple(self.catalogue.outputs.values()),
            (),
            self.offers.cables,
            registers.output[rows],
            np.full(len(rows), -1, np.intp),
            cable,
            columns,
            np.zeros(len(rows), np.bool_),
            self.fit_settings,
        )

    def verdicts(self, groups: PortGroups, choice: Choice) -> tuple[FleetFit, Ints]:
        """Return the fit check of every chain as planned: of the distinct ones, and each row's place among them."""
        registers = self.registers
        offer = choice.offer[groups.group]
        use = self.use_that_counts()
        inputs, input_at = self._inputs(offer, choice.setting)
        key = codes_together(
            registers.case,
            registers.output + 1,
            choice.cable + 1,
            registers.flow,
            input_at + 1,
            offer + 1,
            codes_of(registers.length_m),
            codes_of(use),
        )
        _, first, back = np.unique(key, return_index=True, return_inverse=True)
        fleet = self.fleet(first, offer[first], choice.cable[first], use=use[first])
        fleet = FleetChains(
            fleet.outputs, inputs, fleet.cables, fleet.output_at, input_at[first], fleet.cable_at, fleet.columns,
            fleet.both_contacts, fleet.settings,
        )  # fmt: skip
        return judge_fleet(fleet), back.reshape(-1)

    def use_that_counts(self) -> Floats:
        """Return the expected use where the verdict depends on it: outputs of fixed width."""
        fixed = np.array([sheet.fixed_width for sheet in self.catalogue.outputs.values()] + [False])
        return np.where(fixed[self.registers.output], self.registers.use_l_per_day, np.nan)

    def _inputs(self, offer: Ints, setting: Ints) -> tuple[tuple[Input, ...], Ints]:
        """Return every input as set, and each row's place among them: the survey's own where no endpoint was chosen."""
        inputs = list(self.catalogue.inputs.values())
        starts = []
        for held in self.offers.offers:
            starts.append(len(inputs))
            inputs += [item.entry for item in held.settings]
        begin = np.array([*starts, 0], np.int64)
        at = np.where(offer >= 0, begin[offer] + setting, self.registers.input)
        return tuple(inputs), at
