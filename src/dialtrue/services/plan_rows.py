"""The columns of a plan: what was chosen, laid out by the contract, each distinct case worked out once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from dialtrue.domain.contracts import MOUNTS, PLAN, ROLES
from dialtrue.domain.figures import decimal_places
from dialtrue.domain.planning.parts_list import parts_json
from dialtrue.domain.planning.ports import port_label
from dialtrue.domain.planning.settings import PlanSettings
from dialtrue.domain.planning.start_rule import start_rule
from dialtrue.domain.planning.tamper import TAMPER_NOTES, tamper_loop
from dialtrue.domain.planning.visit import tap_flow_lpm, visit_skills, work_minutes
from dialtrue.domain.proof.planning import FOLLOW_UP_DAYS, LOSS_PULSES, ProofCase, ProofPlan, plan_proof
from dialtrue.domain.pulse_chain.chain import FitSettings
from dialtrue.domain.pulse_chain.rules import RULE_IDS, RULES
from dialtrue.domain.pulse_chain.verdict import OUTCOMES
from dialtrue.engine.fleet_fit import FleetFit
from dialtrue.engine.port_groups import PortGroups
from dialtrue.files.findings import ARROW_TYPE
from dialtrue.files.sheets import Catalogue
from dialtrue.services.plan_choice import Choice
from dialtrue.services.plan_codes import codes_together
from dialtrue.services.plan_offers import Offers
from dialtrue.services.plan_registers import Registers
from dialtrue.services.table_columns import own_codes

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

_RUN = "\N{HORIZONTAL ELLIPSIS}"
"""Stands for the run of cable in a list of parts until it is set in."""


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


class _Columns:
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


def plan_columns(planned: Planned) -> dict[str, Any]:
    """Return every column of the plan except ``status`` and ``questions``, by name.

    Never raises.

    Source
    ------
    Definition; figures as the modules say that make them.
    """
    columns = _Columns(planned)
    registers, groups, offers = planned.registers, planned.groups, planned.offers
    offer = planned.offer
    for name in ("site", "meter_serial"):
        columns.made[name] = planned.sites[name]
    columns.spread("register_role", ROLES, registers.role)
    columns.spread("mount", MOUNTS, registers.mount)
    columns.spread("endpoint", [held.endpoint.key for held in offers.offers], offer)
    columns.made["endpoint_number"] = pa.array(groups.number, mask=offer < 0)
    columns.made["port"] = pa.array(groups.port, mask=offer < 0)
    _verdict(columns)
    _sheets_and_settings(columns)
    tamper = _index_start_tamper(columns)
    minutes = _proof(columns)
    first = _first_of_group(groups)
    _visit(columns, first, minutes)
    columns.made["parts"] = _parts(planned, first, tamper)
    roles = [(role, int(port)) for role in ROLES for port in range(1, int(groups.port.max(initial=1)) + 1)]
    label = registers.role * int(groups.port.max(initial=1)) + groups.port - 1
    columns.spread("port_label", [port_label(*pair) for pair in roles], np.where(offer < 0, -1, label))
    return columns.made


def _parts(planned: Planned, first: npt.NDArray[np.bool_], tamper: list[str]) -> pa.Array:
    """Return the parts of each row; distinct lists are made once, and the run is set into each."""
    registers, offer = planned.registers, planned.offer
    cables = [*planned.catalogue.cables, ""]
    known = ~np.isnan(registers.length_m)
    cable = np.where(known, planned.choice.cable, -1)
    codes = (offer + 1, registers.mount + 1, first.astype(np.int64), cable + 1)
    _, first_row, back = np.unique(codes_together(*codes), return_index=True, return_inverse=True)
    heads, tails = [], []
    for row in first_row.tolist():
        text = None
        if offer[row] >= 0:
            text = parts_json(
                planned.offers.offers[offer[row]].endpoint,
                mount="" if registers.mount[row] < 0 else MOUNTS[registers.mount[row]],
                first=bool(first[row]),
                tamper_loop=tamper[row],
                cable=cables[cable[row]],
                run_m=_RUN,
            )
        head, mark, tail = (None, "", None) if text is None else text.partition(f'"{_RUN}"')
        heads.append(head)
        tails.append(tail if mark else None)
    runs, run_at = np.unique(np.where(known, registers.length_m, 0.0), return_inverse=True)
    places = pa.array(back.reshape(-1))
    head = pa.array(heads, pa.string()).take(places)
    run = pa.array([f'"{value:.10g}"' for value in runs.tolist()], pa.string()).take(pa.array(run_at.reshape(-1)))
    whole = pc.binary_join_element_wise(head, run, pa.array(tails, pa.string()).take(places), "")
    return pc.coalesce(whole, head)


def _verdict(columns: _Columns) -> None:
    """Outcome, deciding rule, its margin."""
    fit, at = columns.planned.fit, columns.planned.fit_at
    columns.spread("verdict", OUTCOMES, fit.outcome[at].astype(np.int64))
    deciding = fit.deciding[at].astype(np.int64)
    columns.spread("deciding_rule", RULE_IDS, deciding)
    margin = fit.margin[at, deciding]
    blank = ~np.isfinite(margin)
    columns.made["worst_margin"] = pa.array(margin, mask=blank)
    columns.spread("margin_unit", [rule.unit for rule in RULES], np.where(blank, -1, deciding))


def _sheets_and_settings(columns: _Columns) -> None:
    """Input, output, cable, and the input's settings."""
    planned, registers = columns.planned, columns.planned.registers
    offer, catalogue = planned.offer, planned.catalogue
    entry = np.array([held.input_place for held in planned.offers.offers] + [-1])[offer]
    columns.spread("input", list(catalogue.inputs), np.where(offer < 0, registers.input, entry))
    columns.spread("output", list(catalogue.outputs), registers.output)
    columns.spread("cable", list(catalogue.cables), planned.choice.cable)
    run = registers.length_m
    columns.made["cable_length_m"] = pa.array(run, mask=np.isnan(run))
    cut = np.ceil(run * (1.0 + float(planned.settings.cable_slack_share)) * 10.0 - 1e-6) / 10.0
    columns.made["cable_cut_m"] = pa.array(cut, mask=np.isnan(cut))
    settings = [setting for held in planned.offers.offers for setting in held.settings]
    begin = np.cumsum([0] + [len(held.settings) for held in planned.offers.offers])
    at = np.where(offer < 0, -1, begin[offer] + planned.choice.setting)
    columns.spread("pull_up_ohm", [setting.pull_up_ohm for setting in settings], at)
    columns.spread("debounce_ms", [setting.debounce_ms for setting in settings], at)


def _index_start_tamper(columns: _Columns) -> list[str]:
    """Index, weight, start rule, tamper loop; return how the loop of each row is left."""
    planned, registers, offers = columns.planned, columns.planned.registers, columns.planned.offers
    offer = planned.offer

    def keyed(row: int) -> dict[str, Any]:
        if offer[row] < 0:
            return {}
        case, held = registers.cases[registers.case[row]], offers.cases[registers.case[row]][offer[row]]
        if case.dial is None or held.index is None or held.weight is None:
            return {}
        index = held.index.index
        rule = start_rule(case.dial, index)
        return {
            "index_digits": index.digits,
            "index_unit": index.unit,
            "index_resolution": decimal_text(index.resolution),
            "weight_set": held.weight.number,
            "weight_unit": held.weight.unit,
            "start_rule": rule.words,
            "start_example_dial": rule.example_dial,
            "start_example_index": rule.example.digits,
            "index_note": held.index.note or None,
        }

    names = (
        "index_digits", "index_unit", "index_resolution", "weight_set", "weight_unit", "start_rule",
        "start_example_dial", "start_example_index", "index_note",
    )  # fmt: skip
    columns.by_case((registers.case, offer + 1), keyed, names)
    use = registers.use_l_per_day
    with np.errstate(divide="ignore", invalid="ignore"):
        days = offers.figures(registers.case, offer, "capacity_l") / use
    columns.made["rollover_days"] = pa.array(days, mask=~np.isfinite(days))
    wires = np.array([sheet.conductors for sheet in planned.catalogue.cables.values()] + [0])[planned.choice.cable]
    inputs = list(planned.catalogue.inputs.values())
    ways = list(TAMPER_NOTES)
    table = np.array(
        [
            [
                ways.index(
                    tamper_loop(
                        endpoint_loop=held.endpoint.tamper_loop,
                        input_loop=inputs[held.input_place].tamper_loop,
                        conductors=count or None,
                    )
                )
                for count in range(int(wires.max(initial=0)) + 1)
            ]
            for held in offers.offers
        ]
        or [[0]],
        np.int64,
    )
    way = np.where(offer < 0, -1, table[offer, wires])
    columns.spread("tamper_loop", ways, way)
    columns.spread("tamper_note", list(TAMPER_NOTES.values()), way)
    return np.array([*ways, ""], dtype=object)[way].tolist()  # type: ignore[no-any-return]


def decimal_text(value: Fraction) -> str:
    """Return an exact decimal as text: "0.001", "10". Never raises for a value that ends in decimals."""
    places = decimal_places(value)
    if places is None:
        return str(value.numerator / value.denominator)
    return str(Decimal(value.numerator) / Decimal(value.denominator)) if places else str(value.numerator)


def _proof(columns: _Columns) -> Floats:
    """Proof and follow-up; return the minutes of the proof, 0 where not known."""
    planned, registers = columns.planned, columns.planned.registers
    offer = planned.offer
    high = np.maximum(planned.fit.high_flow_proof[planned.fit_at].astype(np.int64), 0)

    def proof(row: int) -> dict[str, Any]:
        plan = _proof_plan(planned, row, high_flow=bool(high[row]))
        if plan is None:
            return {}
        return {
            "proof_kind": plan.kind,
            "proof_volume": decimal_text(plan.volume),
            "proof_counts_low": plan.counts_low,
            "proof_counts_high": plan.counts_high,
            "proof_minutes": round(plan.minutes, 1),
            "proof_high_flow": plan.high_flow,
            "proof_note": plan.sentence,
        }

    names = (
        "proof_kind", "proof_volume", "proof_counts_low", "proof_counts_high", "proof_minutes", "proof_high_flow",
        "proof_note",
    )  # fmt: skip
    columns.by_case((registers.case, offer + 1, registers.flow, high), proof, names)
    weight = np.array([np.nan if case.weight_l is None else float(case.weight_l) for case in registers.cases] or [0.0])
    with np.errstate(divide="ignore", invalid="ignore"):
        days = np.ceil(LOSS_PULSES * weight[registers.case] / registers.use_l_per_day)
    days = np.clip(days, FOLLOW_UP_DAYS[0], FOLLOW_UP_DAYS[2])
    follow = np.where(np.isfinite(days), days, planned.settings.follow_up_days).astype(np.int64)
    columns.made["follow_up_days"] = pa.array(follow, mask=offer < 0)
    minutes = columns.made["proof_minutes"].to_numpy(zero_copy_only=False)
    return np.asarray(np.nan_to_num(minutes.astype(np.float64)), np.float64)


def _proof_plan(planned: Planned, row: int, *, high_flow: bool) -> ProofPlan | None:
    """Return the proof of one distinct case, None where too little is known."""
    registers, offer = planned.registers, int(planned.offer[row])
    if offer < 0:
        return None
    case, held = registers.cases[registers.case[row]], planned.offers.cases[registers.case[row]][offer]
    endpoint = planned.offers.offers[offer].endpoint
    if case.dial is None or case.weight_l is None or held.index is None:
        return None
    return plan_proof(
        ProofCase(
            weight_l=case.weight_l,
            dial_step_l=case.dial.resolution_l,
            index_step_l=held.index.index.resolution_l,
            dial_unit=case.dial.unit,
            flow_lpm=tap_flow_lpm(registers.flows[registers.flow[row]], planned.settings),
            live_count=endpoint.live_count,
            high_flow=high_flow,
            units=endpoint.index_units,
        )
    )


def _first_of_group(groups: PortGroups) -> npt.NDArray[np.bool_]:
    """Return which rows are on the least port of their endpoint."""
    least = np.full(len(groups.size), np.iinfo(np.int64).max)
    np.minimum.at(least, groups.group, groups.port)
    return np.asarray(groups.port == least[groups.group], np.bool_)


def _visit(columns: _Columns, first: npt.NDArray[np.bool_], proof_minutes: Floats) -> None:
    """Minutes and skills."""
    planned, registers, offers = columns.planned, columns.planned.registers, columns.planned.offers
    offer = planned.offer
    table = np.array(
        [
            [
                [_nan(work_minutes(held.endpoint, planned.settings, mount=mount, first=lead)) for lead in (False, True)]
                for mount in (*MOUNTS, "")
            ]
            for held in offers.offers
        ]
        or [[[np.nan, np.nan]] * 5]
    )
    work = np.where(offer < 0, np.nan, table[offer, registers.mount, first.astype(np.int64)])
    minutes = np.round(work + proof_minutes, 1)
    columns.made["job_minutes"] = pa.array(minutes, mask=np.isnan(minutes))
    surveyed, texts = own_codes(planned.sites["skills"])
    compound = registers.compound | (registers.role > 0)

    def skills(row: int) -> dict[str, Any]:
        words = visit_skills(
            str(texts[surveyed[row]] or ""),
            planned.settings,
            mount="" if registers.mount[row] < 0 else MOUNTS[registers.mount[row]],
            size=registers.sizes[registers.flow[row]],
            compound=bool(compound[row]),
        )
        return {"skills": words or None}

    columns.by_case((surveyed, registers.mount + 1, registers.flow, compound.astype(np.int64)), skills, ("skills",))


def _nan(value: float | None) -> float:
    return float("nan") if value is None else value
