"""Draws as they stand in the table ``draw``: read, checked against their own seed, made, added to."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Any, Final

import pyarrow as pa

from dialtrue.domain.acceptance.account import Drawn, DrawRow
from dialtrue.domain.acceptance.draw import LotSite, draw, fingerprint
from dialtrue.domain.acceptance.lot import Lot, round_name, stratum_of
from dialtrue.domain.acceptance.plan import GradePlan, LotPlan, demand_named, lot_plan
from dialtrue.domain.acceptance.single_plans import LEVELS
from dialtrue.domain.contracts import TABLE
from dialtrue.domain.errors import BadDemand, DrawDamaged, UnknownAql
from dialtrue.files.findings import ARROW_TYPE

_GRADE: Final = re.compile(r"(critical|major|minor) (\d{1,9}) in (\d{1,9}) \((.+?)\)")
_SHARED: Final = ("lot_of", "lot_by", "seed", "level", "severity", "plan", "population", "population_hash", "drawn_at")


def plan_text(plan: LotPlan) -> str:
    """Write a plan into a cell: ``critical 1 in 50 (aql 1.0); major 3 in 50 (aql 2.5)``. Never raises."""
    return "; ".join(f"{each.grade} {each.accept} in {each.size} ({each.demand})" for each in plan.grades)


def draws_in(table: pa.Table) -> dict[str, Drawn]:
    """Return the draws of a table, in the order of their times.

    Parameters
    ----------
    table : pa.Table
        Contract table ``draw``.

    Returns
    -------
    dict
        By name of lot and round.

    Raises
    ------
    DrawDamaged
        Rows of one draw disagree, are missing, or no longer say the plan.
    """
    rows: dict[str, list[dict[str, Any]]] = {}
    for row in table.to_pylist():
        rows.setdefault(row["lot"], []).append(row)
    found = [_drawn(name, members) for name, members in rows.items()]
    return {each.name: each for each in sorted(found, key=lambda each: (each.drawn_at, each.name))}


def _drawn(name: str, rows: list[dict[str, Any]]) -> Drawn:
    first = rows[0]
    for column in _SHARED:
        if any(row[column] != first[column] for row in rows):
            raise DrawDamaged(lot=name, why=f"its rows disagree on {column}")
    sites = [row["site"] for row in rows]
    if len(set(sites)) != len(sites):
        raise DrawDamaged(lot=name, why="a site stands there twice")
    if len(rows) != first["population"]:
        raise DrawDamaged(lot=name, why=f"it has {len(rows):,} rows for {first['population']:,} sites")
    kept = tuple(
        DrawRow(
            row["site"], row["crew"] or "", row["kind"] or "", row["part"], row["position"], row["key"],
            row["replaces"] or "", row["reason"] or "", row["by"] or "",
        )
        for row in rows
    )  # fmt: skip
    plan = _plan(name, first, sum(row.part != "whole" for row in kept))
    lot = first["lot_of"]
    number = int(name[len(lot) + 2 :]) if re.fullmatch(re.escape(lot) + r" #\d{1,4}", name) else 1
    return Drawn(
        name, lot, first["lot_by"], number, first["seed"], plan, kept, first["population"], first["population_hash"],
        first["drawn_at"],
    )  # fmt: skip


def _plan(name: str, row: dict[str, Any], lot_size: int) -> LotPlan:
    """Read the plan of a draw."""
    grades = []
    for part in row["plan"].split("; ") if row["plan"] != "none" else ():
        told = _GRADE.fullmatch(part.strip())
        if told is None:
            raise DrawDamaged(lot=name, why=f"its plan {part[:60]!r} is not in the form written")
        try:
            demand = demand_named(told[4])
        except (BadDemand, UnknownAql) as error:
            raise DrawDamaged(lot=name, why=f"its plan {part[:60]!r} is not in the form written") from error
        grades.append(GradePlan(told[1], demand, int(told[3]), int(told[2])))
    size = max((each.size for each in grades), default=0)
    if row["level"] not in LEVELS:
        raise DrawDamaged(lot=name, why=f"there is no inspection level {row['level'][:20]!r}")
    return LotPlan(lot_size, size, tuple(grades), row["severity"], row["level"])


def audit(drawn: Drawn, *, confidence: Fraction) -> tuple[str, ...]:
    """Make a draw and its plan again and say where they do not come out as they stand; empty if they do. Never raises.

    Replaced sites are held against the reserve they came from. ``confidence`` is that of demands at zero.
    """
    sites = [LotSite(row.site, stratum_of(row.crew, row.kind), row.part == "whole") for row in drawn.rows]
    said = []
    if fingerprint(sites) != drawn.population_hash:
        said.append("The sites of the draw do not give the hash that stands beside them: the list was changed by hand.")
    again = draw(sites, seed=drawn.seed, lot=drawn.name, size=drawn.plan.size)
    was = {row.site: "reserve" if row.part == "replacement" else row.part for row in drawn.rows}
    odd = sorted(each.site for each in again if was[each.site] != each.part)
    if odd:
        named = ", ".join(odd[:5]) + (f" and {len(odd) - 5} more" if len(odd) > 5 else "")
        said.append(f"The seed does not give this sample: {named} should stand in another part.")
    demands = {each.grade: each.demand for each in drawn.plan.grades}
    plan = drawn.plan
    due = lot_plan(plan.lot_size, demands, level=plan.level, severity=plan.severity, confidence=confidence)
    if plan_text(due) != plan_text(plan):
        said.append(
            f"The plan does not follow from its demands: {plan_text(plan)} stands there, due is {plan_text(due)}."
        )
    return tuple(said)


def make_draw(lot: Lot, plan: LotPlan, *, lot_by: str, number: int, seed: str, at: dt.datetime) -> Drawn:
    """Draw a lot. Never raises for a plan of that lot."""
    name = round_name(lot.name, number)
    of_site = {site.site: site for site in lot.sites}
    drawn_from = [site.drawn_as() for site in lot.sites]
    rows = tuple(
        DrawRow(each.site, of_site[each.site].crew, of_site[each.site].kind, each.part, each.position, each.key)
        for each in draw(drawn_from, seed=seed, lot=name, size=plan.size)
    )
    when = at.replace(microsecond=0)
    return Drawn(name, lot.name, lot_by, number, seed, plan, rows, len(rows), fingerprint(drawn_from), when)


def draw_table(draws: Sequence[Drawn], standing: pa.Table) -> pa.Table:
    """Return draws as the contract table; one's own columns are carried along. Never raises."""
    columns = TABLE["draw"].columns
    rows = [
        {
            "lot": drawn.name, "lot_of": drawn.lot, "lot_by": drawn.lot_by, "site": row.site, "crew": row.crew or None,
            "kind": row.kind or None, "part": row.part, "position": row.position, "key": row.key, "seed": drawn.seed,
            "level": drawn.plan.level, "severity": drawn.plan.severity, "plan": plan_text(drawn.plan) or "none",
            "population": drawn.population, "population_hash": drawn.population_hash, "drawn_at": drawn.drawn_at,
            "replaces": row.replaces or None, "reason": row.reason or None, "by": row.by or None,
        }
        for drawn in draws
        for row in drawn.rows
    ]  # fmt: skip
    table = pa.Table.from_pylist(rows, schema=pa.schema([(each.name, ARROW_TYPE[each.form]) for each in columns]))
    own = [name for name in standing.column_names if name != "_row" and TABLE["draw"].column(name) is None]
    place = {(row["lot"], row["site"]): row for row in standing.to_pylist()} if own else {}
    for name in own:
        cells = [place.get((row["lot"], row["site"]), {}).get(name) for row in rows]
        table = table.append_column(name, pa.array(cells, standing.schema.field(name).type))
    return table
