"""The kit: parts, cables and tools by site, by van and day, and for the programme."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from dialtrue.domain.errors import BadDecimal, PlanPartsUnreadable
from dialtrue.domain.kit import Scope, SpareRule, Stock, stock_for
from dialtrue.domain.quantity import exact_decimal

Whole = npt.NDArray[np.int64]

THOUSANDTHS: Final = 1000
"""Quantities are summed as whole thousandths: a millimetre of cable."""


@dataclass(frozen=True, slots=True)
class StockItem:
    """One thing that a kit may hold: what the plan calls it, what a person calls it, and its spares."""

    kind: str
    part: str
    title: str
    unit: str
    rule: SpareRule


def kit_of(
    plan: pa.Table,
    items: Mapping[tuple[str, str], StockItem],
    *,
    routes: pa.Table | None = None,
) -> pa.Table:
    """Return the kit of a plan.

    Parameters
    ----------
    plan : pa.Table
        Contract table ``plan``; columns site and parts are used. Rows that must be asked first count too, as far as
        they name parts.
    items : mapping of (kind, part) to StockItem
        What the data sheets say. A part without a sheet goes under its own key, without spares.
    routes : pa.Table or None
        Contract table ``routes``; without it there are no rows by van and day.

    Returns
    -------
    pa.Table
        Contract table ``kit``: sites in the order of the plan, vans and days in the order of the routes, then the
        programme. Quantities are exact decimals. Tools are not added up: a visit needs one, and so does a van.

    Raises
    ------
    PlanPartsUnreadable
        A cell of ``parts`` is no list of parts and quantities.

    Source
    ------
    ``domain.kit``.
    """
    parts, part_of, thousandths, row_of = _laid_out(plan)
    known = [
        items.get(key) or StockItem(key[0], key[1], key[1], "m" if key[0] == "cable" else "each", SpareRule())
        for key in parts
    ]
    sites, site_of = _codes(plan["site"])
    kept: list[pa.Table] = []

    def scope(name: Scope, ids: list[str], group_of_row: Whole, vans: int = 1) -> None:
        kept.append(_scope_table(name, ids, group_of_row[row_of], part_of, thousandths, known, vans))

    scope("site", sites, site_of)
    vans = 1
    if routes is not None and routes.num_rows:
        days, day_of_site, vans = _van_days(routes, sites)
        on_route = day_of_site[site_of][row_of] >= 0
        chosen = _scope_table(
            "van_day", days, day_of_site[site_of][row_of][on_route], part_of[on_route], thousandths[on_route], known, 1
        )
        kept.append(chosen)
    scope("programme", [""], np.zeros(plan.num_rows, np.int64), vans)
    return pa.concat_tables(kept)


def _codes(column: pa.ChunkedArray) -> tuple[list[str], Whole]:
    """Return the distinct texts in the order of their first row, and each row's place among them."""
    encoded = pc.fill_null(column, "").combine_chunks().dictionary_encode()
    return encoded.dictionary.to_pylist(), encoded.indices.to_numpy(zero_copy_only=False).astype(np.int64)


def _laid_out(plan: pa.Table) -> tuple[list[tuple[str, str]], Whole, Whole, Whole]:
    """Read each distinct cell of ``parts`` once; return the parts, and for each entry its part, quantity and row."""
    texts, text_of = _codes(plan["parts"])
    place: dict[tuple[str, str], int] = {}
    entries: list[list[tuple[int, int]]] = []
    for number, text in enumerate(texts):
        try:
            entries.append([_entry(each, place) for each in (json.loads(text) if text else [])])
        except (ValueError, KeyError, TypeError, AttributeError, BadDecimal) as why:
            row = int(np.flatnonzero(text_of == number)[0]) + 1
            raise PlanPartsUnreadable(row=row, value=text[:60], reason=str(why)[:80]) from None
    counts = np.array([len(each) for each in entries], np.int64)
    starts = np.concatenate(([0], np.cumsum(counts)))
    flat = np.array([pair for each in entries for pair in each], np.int64).reshape(-1, 2)
    per_row = counts[text_of] if len(counts) else np.zeros(plan.num_rows, np.int64)
    row_of = np.repeat(np.arange(plan.num_rows), per_row)
    first = np.repeat(np.cumsum(per_row) - per_row, per_row)
    chosen = flat[starts[text_of][row_of] + np.arange(len(row_of)) - first]
    return list(place), chosen[:, 0], chosen[:, 1], row_of


def _entry(each: Mapping[str, object], place: dict[tuple[str, str], int]) -> tuple[int, int]:
    """Return one entry of ``parts`` as its part's place and its quantity in thousandths."""
    key = str(each.get("kind", "part")), str(each["part"])
    scaled = exact_decimal(str(each["quantity"])) * THOUSANDTHS
    if scaled < 0:
        raise ValueError("a quantity below nought")
    return place.setdefault(key, len(place)), round(scaled)


def _van_days(routes: pa.Table, sites: list[str]) -> tuple[list[str], Whole, int]:
    """Return the vans' days, each site's place among them (-1: on no route), and the most vans out at once."""
    crews, days = routes["crew"].to_pylist(), [str(day) for day in routes["day"].to_pylist()]
    names = [f"{crew} {day}" for crew, day in zip(crews, days, strict=True)]
    place = {name: number for number, name in enumerate(dict.fromkeys(names))}
    of_site = dict(zip(routes["site"].to_pylist(), (place[name] for name in names), strict=True))
    vans: dict[str, set[str]] = {}
    for crew, day in zip(crews, days, strict=True):
        vans.setdefault(day, set()).add(crew)
    return list(place), np.array([of_site.get(site, -1) for site in sites], np.int64), max(map(len, vans.values()))


def _scope_table(
    scope: Scope,
    ids: list[str],
    group: Whole,
    part: Whole,
    thousandths: Whole,
    known: list[StockItem],
    vans: int,
) -> pa.Table:
    """Add up one scope: a row for each group and part, in the order of the groups, then of kind and title."""
    width = max(1, len(known))
    keys, back = np.unique(group * width + part, return_inverse=True)
    total = np.zeros(len(keys), np.int64)
    np.add.at(total, back, thousandths)
    most = np.zeros(len(keys), np.int64)
    np.maximum.at(most, back, thousandths)
    groups, parts = keys // width, keys % width
    tool = np.array([item.kind == "tool" for item in known], np.bool_)[parts] if known else np.zeros(0, np.bool_)
    amount = np.where(tool, most * (vans if scope == "programme" else 1), total)
    order = {"endpoint": 0, "cable": 1, "part": 2, "tool": 3}
    rank = np.argsort(np.argsort([f"{order.get(item.kind, 4)}{item.title}" for item in known]))
    sorted_rows = np.lexsort((rank[parts], groups)) if len(keys) else np.zeros(0, np.int64)
    stocks: dict[tuple[int, int], Stock] = {}
    rows: list[Stock] = []
    chosen = [(int(parts[row]), int(amount[row])) for row in sorted_rows]
    for key in chosen:
        if key not in stocks:
            quantity = Fraction(key[1], THOUSANDTHS)
            stocks[key] = stock_for(quantity, known[key[0]].rule, scope=scope, vans=vans)
        rows.append(stocks[key])
    items = [known[place] for place, _ in chosen]
    kind = pa.decimal128(18, 3)
    return pa.table(
        {
            "scope": pa.array([scope] * len(rows), pa.string()),
            "scope_id": pa.array([ids[groups[row]] or None for row in sorted_rows], pa.string()),
            "kind": pa.array([item.kind for item in items], pa.string()),
            "part": pa.array([item.part for item in items], pa.string()),
            "title": pa.array([item.title for item in items], pa.string()),
            "quantity": _decimals([stock.quantity for stock in rows], kind),
            "spare": _decimals([stock.spare for stock in rows], kind),
            "order": _decimals([stock.order for stock in rows], kind),
            "unit": pa.array([item.unit for item in items], pa.string()),
            "rule": pa.array([item.rule.words(scope) or None for item in items], pa.string()),
        }
    )


def _decimals(amounts: list[Fraction], kind: pa.DataType) -> pa.Array:
    """Return exact amounts as decimals of three places."""
    return pa.array([Decimal(round(amount * THOUSANDTHS)).scaleb(-3) for amount in amounts], kind)
