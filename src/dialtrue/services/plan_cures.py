"""What would make a chain fit that no endpoint or setting on hand counts: another weight, another cable."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from dialtrue.domain.errors import FigureRange
from dialtrue.domain.figures import power_of_ten
from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.suggest import Choices, suggest
from dialtrue.domain.pulse_chain.words import change_words
from dialtrue.services.plan_codes import codes_together
from dialtrue.services.plan_columns import Planned

Ints = npt.NDArray[np.int64]

MOST_SEARCHED: Final = 200
"""Distinct chains that are searched, the most frequent first: a search takes about 10 ms."""

_METRIC: Final = ("L", "m3")


def cure_words(planned: Planned, rows: Ints) -> npt.NDArray[np.object_]:
    """Say for each of some rows what would make its chain fit; blank where nothing on the sheets does.

    Parameters
    ----------
    planned : Planned
        What was planned.
    rows : int64 array
        Rows whose chain does not fit, each with an endpoint.

    Returns
    -------
    array of str
        One for each row. Chains alike but for the run are searched once, with the longest.

    Raises
    ------
    Never raises.

    Source
    ------
    ``domain.pulse_chain.suggest``.
    """
    registers, offer = planned.registers, planned.offer
    codes = (
        registers.case[rows], registers.output[rows] + 1, planned.choice.cable[rows] + 1, registers.flow[rows],
        offer[rows], planned.choice.setting[rows],
    )  # fmt: skip
    order = np.argsort(-np.nan_to_num(registers.length_m[rows]), kind="stable")
    _, first, back, counts = np.unique(
        codes_together(*(column[order] for column in codes)), return_index=True, return_inverse=True, return_counts=True
    )
    words = np.full(len(first), "", dtype=object)
    for kind in np.argsort(-counts, kind="stable")[:MOST_SEARCHED].tolist():
        words[kind] = _cure(planned, int(rows[order[first[kind]]]))
    found = np.empty(len(rows), dtype=object)
    found[order] = words[back.reshape(-1)]
    return found


def _cure(planned: Planned, row: int) -> str:
    """Say the smallest change that makes one chain fit."""
    registers, catalogue = planned.registers, planned.catalogue
    case, offer = registers.cases[registers.case[row]], int(planned.offer[row])
    endpoint = planned.offers.offers[offer].endpoint
    cables = list(catalogue.cables.values())
    weights = [
        float(weight.volume_l)
        for weight in endpoint.weights
        if case.weight_l is not None and power_of_ten(weight.volume_l / case.weight_l) is not None
    ]
    choices = Choices(weights_l=tuple(dict.fromkeys(weights)), cables=tuple(cables))
    try:
        found = suggest(chain_of_row(planned, row), choices, most=1)
    except FigureRange:  # a weight or a run that no chain can have
        return ""
    system = "metric" if case.weight_unit in _METRIC else "us"
    return " and ".join(change_words(change, system=system) for change in found[0].changes) if found else ""


def chain_of_row(planned: Planned, row: int) -> Chain:
    """Return one planned chain as the fit check takes it; the row has an endpoint. Never raises. Source: definition."""
    registers, catalogue = planned.registers, planned.catalogue
    case, offer = registers.cases[registers.case[row]], int(planned.offer[row])
    held, limits = planned.offers.cases[registers.case[row]][offer], registers.flows[registers.flow[row]]
    output, cable = int(registers.output[row]), int(planned.choice.cable[row])
    entry = planned.offers.offers[offer].settings[int(planned.choice.setting[row])].entry
    bare = Chain()

    def number(value: float) -> float | None:
        return None if np.isnan(value) else float(value)

    return Chain(
        output=list(catalogue.outputs.values())[output] if output >= 0 else bare.output,
        input=entry,
        cable=list(catalogue.cables.values())[cable] if cable >= 0 else bare.cable,
        length_m=number(registers.length_m[row]),
        weight_l=None if case.weight_l is None else float(case.weight_l),
        max_flow_lpm=None if limits is None else float(limits.max_flow_lpm),
        min_flow_lpm=None if limits is None else float(limits.min_flow_lpm),
        q3_lpm=None if limits is None else float(limits.q3_lpm),
        use_l_per_day=number(registers.use_l_per_day[row]),
        resolution_l=None if held.index is None else float(held.index.index.resolution_l),
        billing_l=None if case.billing_l is None else float(case.billing_l),
        index_capacity_l=None if held.index is None else float(held.index.index.capacity_l),
        settings=planned.fit_settings,
    )
