"""Rows of the tables ``sites``, ``plan`` and ``routes`` as the job sheet takes them."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from dataclasses import fields
from decimal import Decimal, InvalidOperation
from typing import Any, Final
from zoneinfo import ZoneInfo

import pyarrow as pa

from dialtrue.domain.job_sheet.register_plan import PlannedPart, RegisterPlan
from dialtrue.domain.job_sheet.sheet import Stop
from dialtrue.domain.words import counted, printable

_DECIMALS: Final = frozenset(
    {"dial_resolution", "pulse_weight", "index_resolution", "weight_set", "proof_volume"}
)  # fmt: skip
_FROM_SITES: Final = frozenset(
    {
        "account", "address", "area", "latitude", "longitude", "meter_type", "meter_size", "dial_digits", "fixed_zeros",
        "dial_unit", "dial_resolution", "pulse_weight", "pulse_unit", "visit_day", "window_from", "window_to",
    }
)  # fmt: skip


def register_plans(sites: pa.Table, plan: pa.Table) -> list[RegisterPlan]:
    """Put survey and plan of every register side by side.

    Parameters
    ----------
    sites, plan : Table
        The contract tables, row by row of the same registers.

    Returns
    -------
    list of RegisterPlan
        In the order of ``sites``.

    Raises
    ------
    Never raises.

    Source
    ------
    The file contract.
    """
    columns: dict[str, Sequence[Any]] = {}
    for item in fields(RegisterPlan):
        table = sites if item.name in _FROM_SITES else plan
        if item.name in table.column_names:
            columns[item.name] = [_plain(item.name, value) for value in table[item.name].to_pylist()]
    names = list(columns)
    return [
        RegisterPlan(**{name: value for name, value in zip(names, row, strict=True) if value is not None})
        for row in zip(*columns.values(), strict=True)
    ]


def _plain(name: str, value: Any) -> Any:
    """Return a cell in the form that the sheet takes, None where it is blank."""
    if value is None or value == "":
        return None
    if name == "parts":
        return _parts(value)
    if name in _DECIMALS:
        try:
            return Decimal(str(value))
        except InvalidOperation:
            return None
    return value.isoformat() if isinstance(value, dt.date) else value


def _parts(text: str) -> tuple[PlannedPart, ...]:
    """Return the parts of one register."""
    return tuple(
        PlannedPart(row["part"], Decimal(row["quantity"]), row.get("kind", "part")) for row in json.loads(text)
    )


def stops_of(routes: pa.Table, *, zone: str) -> dict[str, Stop]:
    """Return the visit of each site in words; where a site is visited twice, the first counts.

    Parameters
    ----------
    routes : Table
        The contract table.
    zone : str
        The programme's time zone, for the times that are printed.

    Returns
    -------
    dict of str to Stop
        By site, in the order of day, crew and stop.

    Raises
    ------
    Never raises.

    Source
    ------
    The file contract.
    """
    stops: dict[str, Stop] = {}
    order = [("day", "ascending"), ("crew", "ascending"), ("stop", "ascending")]
    for row in routes.sort_by(order).select(["day", "crew", "stop", "site", "arrive"]).to_pylist():
        stops.setdefault(row["site"], _stop(row, zone))
    return stops


def _stop(row: Mapping[str, Any], zone: str) -> Stop:
    """Say when the crew comes."""
    day: dt.date = row["day"]
    arrive: dt.datetime = row["arrive"]
    local = arrive.astimezone(ZoneInfo(zone))
    name = str(row["crew"])
    crew = printable(name) if name.casefold().startswith("crew") else f"crew {printable(name)}"
    said = f"Stop {row['stop']}, arrive {local:%H:%M}, {crew}, {day:%a} {day.day} {day:%b %Y}"
    return Stop(said, day.isoformat(), name)


def counts_said(sheets: int, ask: int, registers: int) -> str:
    """Say the whole result in one sentence. Never raises. Source: our own words."""
    said = f"{counted(sheets, 'sheet')} for {counted(registers, 'register')}"
    if ask:
        return f"{said}; {counted(ask, 'sheet')} with questions to ask before any work."
    return f"{said}; nothing to ask first."
