"""Inspections held against what was drawn: which count, which do not, and why."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

import pyarrow as pa

from dialtrue.domain.acceptance.account import Drawn, SetAside, Visit

Row = dict[str, Any]


def visits_of(
    inspections: pa.Table, draws: Mapping[str, Drawn], lots: set[str], *, zone: str
) -> tuple[dict[str, dict[str, Visit]], list[SetAside]]:
    """Return the visits that count, by draw and site, and the inspections that do not.

    Parameters
    ----------
    inspections : pa.Table
        Contract table.
    draws : mapping
        Draws by name.
    lots : set of str
        Names of all lots, drawn or not.
    zone : str
        IANA zone: an inspection that names a day only is held against the day of the draw.

    Returns
    -------
    tuple of dict and list
        The first visit that saw a meter counts: a later one may have been made after a repair. Two of one moment that
        disagree count with the worse grade. A site may have rows for several meters; they are one visit.

    Raises
    ------
    Never raises.
    """
    tz = ZoneInfo(zone)
    aside: list[SetAside] = []
    kept: dict[tuple[str, str], dict[str, Row]] = {}
    parts = {name: {row.site: row.part for row in drawn.rows} for name, drawn in draws.items()}
    replaced = {name: {row.replaces for row in drawn.rows if row.replaces} for name, drawn in draws.items()}
    for row in sorted(inspections.to_pylist(), key=lambda each: (each["inspected_at"], each["_row"])):
        why = _refused(row, draws, lots, parts, replaced, tz)
        if why:
            aside.append(_aside(row, why))
            continue
        meters = kept.setdefault((row["lot"], row["site"]), {})
        meter = row["meter_serial"] or ""
        before = meters.get(meter)
        if before is None or before["grade"] == "no_access":
            meters[meter] = row
        elif before["inspected_at"] == row["inspected_at"] and _worse(row["grade"], before["grade"]):
            aside.append(_aside(before, "two rows of one moment disagree; the worse counts"))
            meters[meter] = row
        elif row["grade"] != "no_access":
            aside.append(_aside(row, "a second look; the first counts, for this one may follow a repair"))
    visits: dict[str, dict[str, Visit]] = {}
    for (lot, site), meters in kept.items():
        visits.setdefault(lot, {})[site] = _visit(site, list(meters.values()))
    return visits, sorted(aside, key=lambda each: each.row)


def _refused(
    row: Row,
    draws: Mapping[str, Drawn],
    lots: set[str],
    parts: Mapping[str, Mapping[str, str]],
    replaced: Mapping[str, set[str]],
    tz: ZoneInfo,
) -> str:
    """Return why an inspection does not count, blank if it does."""
    drawn = draws.get(row["lot"])
    if drawn is None:
        return "the lot was never drawn" if row["lot"] in lots else "there is no such lot"
    part = parts[row["lot"]].get(row["site"])
    if part is None:
        return "the site is not in the lot as it was drawn"
    if part == "reserve":
        return "the site was not drawn"
    if _earlier(row["inspected_at"], drawn.drawn_at, tz):
        return f"it was looked at before the draw of {drawn.drawn_at:%Y-%m-%d %H:%M} UTC"
    if row["site"] in replaced[row["lot"]] and row["grade"] != "no_access":
        return "the site was replaced; its replacement counts"
    return ""


def _earlier(seen: dt.datetime, drawn: dt.datetime, tz: ZoneInfo) -> bool:
    """Tell whether a look came before the draw; midnight stands for a day without an hour."""
    local = seen.astimezone(tz)
    if (local.hour, local.minute, local.second, local.microsecond) == (0, 0, 0, 0):
        return local.date() < drawn.astimezone(tz).date()
    return seen < drawn


def _worse(one: str, other: str) -> bool:
    order = ("no_access", "none", "minor", "major", "critical")
    return order.index(one) > order.index(other)


def _aside(row: Row, why: str) -> SetAside:
    return SetAside(row["_row"], row["lot"], row["site"], why)


def _visit(site: str, rows: list[Row]) -> Visit:
    """Put the rows of one site together; a site of which one meter was seen was seen."""
    seen = [row for row in rows if row["grade"] != "no_access"]
    last = max(rows, key=lambda each: (each["inspected_at"], each["_row"]))
    bad = [row for row in seen if row["grade"] != "none"]
    return Visit(
        site,
        frozenset(row["grade"] for row in bad) if seen else None,
        last["inspected_at"],
        last["inspector"] or "",
        tuple(f"{row['grade']}: {row['defect'] or 'not described'}" for row in bad),
    )
