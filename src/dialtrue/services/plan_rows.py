"""The columns of a plan: what was chosen, laid out by the contract."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa

from dialtrue.domain.contracts import MOUNTS, ROLES
from dialtrue.domain.planning.ports import port_label
from dialtrue.domain.planning.start_rule import start_rule
from dialtrue.domain.planning.tamper import TAMPER_NOTES, tamper_loop
from dialtrue.domain.pulse_chain.rules import RULE_IDS, RULES
from dialtrue.domain.pulse_chain.verdict import OUTCOMES
from dialtrue.services.plan_columns import Columns, Planned, decimal_text
from dialtrue.services.plan_visit import first_of_group, parts_column, proof_columns, visit_columns


def plan_columns(planned: Planned) -> dict[str, Any]:
    """Return every column of the plan except ``status`` and ``questions``, by name.

    Never raises.

    Source
    ------
    Definition; figures as the modules say that make them.
    """
    columns = Columns(planned)
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
    minutes = proof_columns(columns)
    first = first_of_group(groups)
    visit_columns(columns, first, minutes)
    columns.made["parts"] = parts_column(planned, first, tamper, columns.made["skills"])
    roles = [(role, int(port)) for role in ROLES for port in range(1, int(groups.port.max(initial=1)) + 1)]
    label = registers.role * int(groups.port.max(initial=1)) + groups.port - 1
    columns.spread("port_label", [port_label(*pair) for pair in roles], np.where(offer < 0, -1, label))
    return columns.made


def _verdict(columns: Columns) -> None:
    """Outcome, deciding rule, its margin."""
    fit, at = columns.planned.fit, columns.planned.fit_at
    columns.spread("verdict", OUTCOMES, fit.outcome[at].astype(np.int64))
    deciding = fit.deciding[at].astype(np.int64)
    columns.spread("deciding_rule", RULE_IDS, deciding)
    margin = fit.margin[at, deciding]
    blank = ~np.isfinite(margin)
    columns.made["worst_margin"] = pa.array(margin, mask=blank)
    columns.spread("margin_unit", [rule.unit for rule in RULES], np.where(blank, -1, deciding))


def _sheets_and_settings(columns: Columns) -> None:
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


def _index_start_tamper(columns: Columns) -> list[str]:
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
    columns.made["rollover_days"] = pa.array(np.round(days, 1), mask=~np.isfinite(days))
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
