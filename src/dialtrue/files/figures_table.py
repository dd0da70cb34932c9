"""The programme figures as one long table, and as a document."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pyarrow as pa

from dialtrue.domain.contracts import TABLE
from dialtrue.domain.progress.account import Days, ProgrammeFigures, exact_text
from dialtrue.domain.progress.rate import Rate, rate_words
from dialtrue.files.findings import ARROW_TYPE
from dialtrue.files.tables_out import write_table


def write_figures(path: Path, figures: ProgrammeFigures) -> None:
    """Write the figures as CSV or Parquet by the ending of the name.

    Raises
    ------
    UnknownSuffix
        Another ending than .csv, .csv.gz or .parquet.
    OutputNotWritten
        The system refused; what stood there is unchanged.
    """
    write_table(path, figures_table(figures))


def figures_table(figures: ProgrammeFigures) -> pa.Table:
    """Return the figures in the columns of the contract's table ``figures``. Never raises."""
    rows = [
        *_counts(figures),
        *_rates(figures),
        *_days(figures),
        *_volumes(figures),
        *_groups(figures),
        *_silent(figures),
    ]
    schema = pa.schema([(column.name, ARROW_TYPE[column.form]) for column in TABLE["figures"].columns])
    return pa.Table.from_pylist([{"grouped_by": "all", **row} for row in rows], schema=schema)


def _counts(figures: ProgrammeFigures) -> list[dict[str, Any]]:
    plain: dict[str, int | None] = {
        "planned": figures.planned, "fitted": figures.fitted, "fitted_outside_the_list": figures.outside,
        "turned_back": figures.turned_back,
        "open": figures.open if figures.planned is not None else None, "silent": len(figures.silent),
        "too_new_to_be_heard": figures.too_new, "look_asked_without_a_sign": figures.look_asked,
    }  # fmt: skip
    plain |= {f"{state}": count for state, count in figures.states.items()}
    plain |= {f"second_pair_{state}": count for state, count in figures.pairs.items()}
    rows = [{"figure": name, "count": count} for name, count in plain.items() if count is not None]
    for cause in figures.causes:
        rows.append({"grouped_by": "where_it_lies", "group": cause.kind, "figure": "faults_open", "count": cause.open})
        right = {"figure": "faults_put_right", "count": cause.put_right}
        rows.append({"grouped_by": "where_it_lies", "group": cause.kind, **right})
    for month in figures.months:
        name = f"{month.month:%Y-%m}"
        rows.append({"grouped_by": "month_begun", "group": name, "figure": "faults_open", "count": month.open})
        rows.append(
            {"grouped_by": "month_begun", "group": name, "figure": "faults_put_right", "count": month.put_right}
        )
    return rows


def _rates(figures: ProgrammeFigures) -> list[dict[str, Any]]:
    return [
        {
            "figure": each.name.lower().replace(" ", "_"), **_rate(each.rate, figures),
            "words": f"{each.value}; {each.stands}", "expected": each.expected, "source": each.source,
        }
        for each in figures.indicators
    ]  # fmt: skip


def _rate(rate: Rate | None, figures: ProgrammeFigures) -> dict[str, Any]:
    """Return count, whole, share and interval; the last two blank where too few."""
    if rate is None:
        return {"words": "not recorded"}
    told = rate.of >= max(figures.settings.enough, 1)
    low, high = rate.interval
    return {
        "count": rate.count, "of": rate.of, "share": rate.share if told else None, "low": low if told else None,
        "high": high if told else None, "words": rate_words(rate, enough=figures.settings.enough),
    }  # fmt: skip


def _days(figures: ProgrammeFigures) -> list[dict[str, Any]]:
    spans: Mapping[str, Days] = {
        "confirmed": figures.confirmed_days, "waiting": figures.waiting_days, "together": figures.all_days,
    }  # fmt: skip
    rows: list[dict[str, Any]] = []
    for name, days in spans.items():
        for what, value in (("median", days.median), ("ninetieth", days.ninetieth)):
            row = {"figure": f"days_from_fault_to_finding_{name}_{what}", "of": days.count, "unit": "days"}
            rows.append({**row, "value": None if value is None else f"{value:.2f}"})
    return rows


def _volumes(figures: ProgrammeFigures) -> list[dict[str, Any]]:
    over, under = figures.put_right_l
    litres = {
        "at_stake_registered_too_much": figures.stakes.over_l, "at_stake_registered_too_little": figures.stakes.under_l,
        "put_right_registered_too_much": over, "put_right_registered_too_little": under,
    }  # fmt: skip
    rows: list[dict[str, Any]] = [
        {"figure": name, "value": f"{value:.3f}", "unit": "L"} for name, value in litres.items()
    ]
    rows.append({"figure": "at_stake_volume_not_known", "count": figures.stakes.unknown})
    recovered = figures.recovered
    if recovered is None:
        return rows
    for basis, claims in (("recovered", recovered.confirmed), ("if_confirmed", recovered.assumed)):
        for name, volume in (("claimed", claims.claimed), ("refunded", claims.refunded)):
            rows.append({"figure": f"{basis}_{name}", "value": exact_text(volume), "unit": recovered.unit})
        for currency, amounts in claims.money.items():
            for name, amount in zip(("claimed", "refunded"), amounts, strict=True):
                rows.append({"figure": f"{basis}_{name}_money", "value": f"{amount:f}", "unit": currency})
        left = {"figure": f"{basis}_rows_without_money", "count": claims.without_money}
        rows.append({**left, "of": recovered.rows})
    return [*rows, {"figure": "adjustments_undecided", "count": recovered.undecided, "of": recovered.rows}]


def _groups(figures: ProgrammeFigures) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = []
    for by, groups in figures.groups.items():
        for group in groups:
            head = {"grouped_by": by, "group": group.name}
            rows.append({**head, "figure": "fitted", "count": group.fitted})
            rows += [{**head, "figure": state, "count": count} for state, count in group.states.items()]
            shares = {"reading": group.reading, "rework": group.rework, "first_time_right": group.first_time_right}
            rows += [{**head, "figure": name, **_rate(rate, figures)} for name, rate in shares.items()]
    return rows


def _silent(figures: ProgrammeFigures) -> list[dict[str, Any]]:
    return [
        {
            "grouped_by": "port", "group": each.area, "figure": "silent", "count": 1, "words": each.says,
            "step": each.step, "site": each.site, "meter_serial": each.meter_serial,
            "endpoint_serial": each.endpoint_serial, "port": each.port, "last_heard": each.last_heard,
        }
        for each in figures.silent
    ]  # fmt: skip
