"""The visit in a plan: proof and follow-up, minutes and skills, parts."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from dialtrue.domain.contracts import MOUNTS, ROLES
from dialtrue.domain.planning.parts_list import parts_json
from dialtrue.domain.planning.visit import tap_flow_lpm, visit_skills, work_minutes
from dialtrue.domain.proof.planning import FOLLOW_UP_DAYS, LOSS_PULSES, ProofCase, plan_proof, second_read
from dialtrue.engine.port_groups import PortGroups
from dialtrue.services.plan_codes import codes_together
from dialtrue.services.plan_columns import Columns, Planned, decimal_text
from dialtrue.services.table_columns import own_codes

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

_RUN: Final = "\N{HORIZONTAL ELLIPSIS}"
"""Stands for the run of cable in a list of parts until it is set in."""


def proof_columns(columns: Columns) -> Floats:
    """Proof and follow-up; return the minutes of the proof, 0 where not known."""
    planned, registers = columns.planned, columns.planned.registers
    offer = planned.offer
    high = np.maximum(planned.fit.high_flow_proof[planned.fit_at].astype(np.int64), 0)

    def proof(row: int) -> dict[str, Any]:
        case = _proof_case(planned, row, high_flow=bool(high[row]))
        if case is None:
            return {}
        plan = plan_proof(case)
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
    columns.by_case((registers.case, offer + 1, registers.flow, high, registers.role), proof, names)
    weight = np.array([np.nan if case.weight_l is None else float(case.weight_l) for case in registers.cases] or [0.0])
    with np.errstate(divide="ignore", invalid="ignore"):
        days = np.ceil(LOSS_PULSES * weight[registers.case] / registers.use_l_per_day)
    days = np.clip(days, FOLLOW_UP_DAYS[0], FOLLOW_UP_DAYS[2])
    follow = np.where(np.isfinite(days), days, planned.settings.follow_up_days).astype(np.int64)
    columns.made["follow_up_days"] = pa.array(follow, mask=offer < 0)
    least, most = int(follow.min(initial=0)), int(follow.max(initial=0))
    reads = pa.array([second_read(days) for days in range(least, most + 1)]).take(pa.array(follow - least))
    columns.made["proof_note"] = pc.binary_join_element_wise(columns.made["proof_note"], reads, " ")
    minutes = columns.made["proof_minutes"].to_numpy(zero_copy_only=False)
    return np.asarray(np.nan_to_num(minutes.astype(np.float64)), np.float64)


def _proof_case(planned: Planned, row: int, *, high_flow: bool) -> ProofCase | None:
    """Return what the proof of one distinct case rests on, None where too little is known."""
    registers, offer = planned.registers, int(planned.offer[row])
    if offer < 0:
        return None
    case, held = registers.cases[registers.case[row]], planned.offers.cases[registers.case[row]][offer]
    endpoint = planned.offers.offers[offer].endpoint
    if case.dial is None or case.weight_l is None or held.index is None:
        return None
    return ProofCase(
        weight_l=case.weight_l,
        dial_step_l=case.dial.resolution_l,
        index_step_l=held.index.index.resolution_l,
        dial_unit=case.dial.unit,
        flow_lpm=tap_flow_lpm(registers.flows[registers.flow[row]], planned.settings, role=ROLES[registers.role[row]]),
        live_count=endpoint.live_count,
        high_flow=high_flow,
        units=endpoint.index_units,
    )


def first_of_group(groups: PortGroups) -> npt.NDArray[np.bool_]:
    """Return which rows are on the least port of their endpoint."""
    least = np.full(len(groups.size), np.iinfo(np.int64).max)
    np.minimum.at(least, groups.group, groups.port)
    return np.asarray(groups.port == least[groups.group], np.bool_)


def visit_columns(columns: Columns, first: npt.NDArray[np.bool_], proof_minutes: Floats) -> None:
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


def parts_column(planned: Planned, first: npt.NDArray[np.bool_], tamper: list[str], skills: pa.Array) -> pa.Array:
    """Return the parts of each row; distinct lists are made once, and the run is set into each."""
    registers, offer = planned.registers, planned.offer
    cables = [*planned.catalogue.cables, ""]
    known = ~np.isnan(registers.length_m)
    cable = np.where(known, planned.choice.cable, -1)
    skill, words = own_codes(pa.chunked_array([skills]))
    codes = (offer + 1, registers.mount + 1, first.astype(np.int64), cable + 1, skill)
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
                skills=str(words[skill[row]] or ""),
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
