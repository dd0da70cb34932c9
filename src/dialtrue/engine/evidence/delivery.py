"""Evidence of delivery: alarms that the endpoints raised."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.contracts import ALARMS
from dialtrue.domain.evidence_picture import EvidencePicture, Series
from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import Block, Case

_ALARM_SHARE: dict[str, dict[str, float]] = {
    "cut_wire": {"dead_input": 0.4, "intermittent": 0.25, "wet_counts": 0.06, "": 0.012},
    "low_battery": {"index_reset": 0.3, "dead_input": 0.1, "stale_index": 0.06, "": 0.015},
    "reverse_flow": {"meter_reversed": 0.5, "backflow_counted": 0.45, "digit_slip": 0.15, "index_reset": 0.1,
                     "": 0.015},
    "continuous_flow": {"customer_leak": 0.6, "steady_counts": 0.45, "wet_counts": 0.15, "backflow_counted": 0.2,
                        "weight_decade": 0.08, "": 0.04},
}  # fmt: skip
"""Chance that a port raises the alarm in a quarter year, by cause ("" for all others). Our assumption."""


def weigh(case: Case) -> Block:
    """Weigh the alarms that endpoints raised, each with its own rate of rightful and wanton calls."""
    n = case.fleet.size

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        said: dict[str, Figure] = {name: int(case.alarm_counts[row, k]) for k, name in enumerate(ALARMS)}
        return "Alarms raised.", said

    block = Block.blank("delivery", n, says)
    any_alarms = bool(case.alarm_counts.sum())
    for k, name in enumerate(ALARMS):
        table = _ALARM_SHARE[name]
        rang = case.alarm_counts[:, k] > 0
        for code in COLUMN:
            p = table.get(code, table[""])
            if any_alarms:
                block.add(code, rang, np.log(p))
                block.add(code, ~rang, np.log1p(-p))
    return block


def picture(case: Case, row: int) -> EvidencePicture | None:
    """Return how often each alarm was raised, None where none was.

    Parameters
    ----------
    case : Case
    row : int
        The fitting's row.

    Returns
    -------
    EvidencePicture or None

    Raises
    ------
    Never raises.

    Source
    ------
    The alarms of the programme.
    """
    counts = case.alarm_counts[row]
    if not counts.any():
        return None
    names = tuple(name.replace("_", " ") for name in ALARMS)
    rang = [f"{name} {int(count)}" for name, count in zip(names, counts, strict=True) if count]
    bars = Series("alarms", "times", names, tuple(float(count) for count in counts))
    return EvidencePicture("Alarms", "bars", (bars,), f"Alarms raised: {', '.join(rang)}.", x_name="alarm", zero=True)
