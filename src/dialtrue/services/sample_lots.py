"""The lots of a programme, from what was fitted."""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Mapping
from zoneinfo import ZoneInfo

import pyarrow as pa

from dialtrue.domain.acceptance.lot import Lot, SiteInLot, nominal_size_mm, week_lot
from dialtrue.domain.acceptance.settings import SampleSettings
from dialtrue.domain.errors import UnknownLotColumn
from dialtrue.services.table_columns import Row, table_of

CREW_WEEK = "crew_week"


def lots_of(
    tables: dict[str, pa.Table], *, by: str, zone: str, settings: SampleSettings
) -> tuple[dict[str, Lot], list[str]]:
    """Return the lots of a programme.

    Parameters
    ----------
    tables : dict
        Normalised tables by name; fittings make the lots, sites tell kind, size and address.
    by : str
        ``crew_week``, ``cable_lot`` or a column of fittings or sites.
    zone : str
        IANA zone in which weeks begin.
    settings : SampleSettings
        Which meters are inspected whole.

    Returns
    -------
    tuple of dict and list
        Lots by name, in the order of their last fitting; what is to be said.

    Raises
    ------
    UnknownLotColumn
        No table has that column.

    Notes
    -----
    Endpoints that were taken off again are in no lot. A site counts once in a lot, however many ports it has; its crew
    is that of the last fitting there.
    """
    fittings, sites = table_of(tables, "fittings"), table_of(tables, "sites")
    column = _column(by, fittings, sites)
    of_meter = _meters(sites, column)
    tz = ZoneInfo(zone)
    gathered: dict[str, dict[str, list[Row]]] = {}
    removed = without_site = 0
    for row in fittings.to_pylist():
        if row["removed_at"] is not None:
            removed += 1
            continue
        known = of_meter.get(row["meter_serial"], [])
        row["_known"] = known
        site = row["site"] or next((each["site"] for each in known if each["site"]), "")
        if not site:
            site = f"meter {row['meter_serial']}"
            without_site += 1
        if by == CREW_WEEK:
            name = week_lot(row["fitter"] or "", row["fitted_at"].astimezone(tz).date())
        else:
            value = row.get(column) or next((each[column] for each in known if each.get(column)), None)
            name = str(value) if value not in (None, "") else f"{column} not known"
        gathered.setdefault(name, {}).setdefault(site, []).append(row)
    lots = [
        Lot(name, tuple(_site(site, rows, settings, tz) for site, rows in sorted(members.items())))
        for name, members in gathered.items()
    ]
    said = []
    if removed:
        said.append(f"{removed:,} endpoints were taken off again; they are in no lot.")
    if without_site:
        said.append(f"{without_site:,} fittings name no site; the meter stands for it.")
    return {lot.name: lot for lot in sorted(lots, key=lambda lot: (lot.last_fitted, lot.name))}, said


def _column(by: str, fittings: pa.Table, sites: pa.Table) -> str:
    """Return the column that makes lots; raise with the nearest where there is none."""
    if by in (CREW_WEEK, "cable_lot"):
        return by
    names = [name for name in (*fittings.column_names, *sites.column_names) if not name.startswith("_")]
    if by not in names:
        near = difflib.get_close_matches(by, names, n=4, cutoff=0.4) or names[:4]
        raise UnknownLotColumn(column=by, nearest=", ".join(dict.fromkeys(near)))
    return by


def _meters(sites: pa.Table, column: str) -> dict[str, list[Row]]:
    """Return what is known of each meter, its registers apart."""
    wanted = ["site", "meter_serial", "meter_type", "meter_size", "address", "mount"]
    wanted += [column] if column in sites.column_names and column not in wanted else []
    found: dict[str, list[Row]] = {}
    for row in sites.select(wanted).to_pylist():
        found.setdefault(row["meter_serial"], []).append(row)
    return found


def _site(site: str, rows: list[Row], settings: SampleSettings, tz: ZoneInfo) -> SiteInLot:
    """Gather the fittings of one site in one lot."""
    last = max(rows, key=_when)
    known = [each for row in rows for each in row["_known"]]
    kinds = sorted({each["meter_type"] for each in known if each["meter_type"]})
    sizes = [nominal_size_mm(each["meter_size"] or "") for each in known]
    large = any(size is not None and size > settings.whole_above_mm for size in sizes)
    return SiteInLot(
        site,
        last["fitter"] or "",
        " and ".join(kinds),
        large or any(kind in settings.whole_types for kind in kinds),
        tuple(sorted({row["meter_serial"] for row in rows})),
        last["fitted_at"],
        next((each["address"] for each in known if each["address"]), ""),
        next((each["mount"] for each in known if each["mount"]), ""),
        (
            ("day fitted", f"{last['fitted_at'].astimezone(tz):%Y-%m-%d}"),
            ("cable lot", last["cable_lot"] or ""),
            ("endpoint sheet", last["endpoint_sheet"] or ""),
        ),
    )


def _when(row: Mapping[str, object]) -> tuple[dt.datetime, str]:
    when = row["fitted_at"]
    assert isinstance(when, dt.datetime)
    return when, str(row["endpoint_serial"])
