"""What a table held at an earlier moment: rows that tell of later things are taken away."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pyarrow as pa
import pyarrow.compute as pc

from dialtrue.domain.contracts import Table

_UTC_US = pa.timestamp("us", tz="UTC")
_SINCE = {
    "fittings": "fitted_at",
    "dial_reads": "at",
    "alarms": "at",
    "checks": "checked_at",
    "draw": "drawn_at",
    "inspections": "inspected_at",
}
"""The column that says from when on a row could be known."""
_HOUR = dt.timedelta(hours=1)


def known_at(table: pa.Table, about: Table, moment: dt.datetime, *, zone: str) -> pa.Table:
    """Return a normalised table as it stood at a moment.

    Parameters
    ----------
    table : pa.Table
        The table in the contract's form.
    about : Table
        Which table it is.
    moment : datetime
        Aware.
    zone : str
        The programme's IANA zone, for days without an hour.

    Returns
    -------
    pa.Table
        Fittings made, dials seen, alarms raised and checks made by then; a removal after it has not happened. Weather
        whose step was
        over; billed periods whose last day was over. Sites carry no time and stay.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition. Our assumption: a billed period is known on the day after its last.
    """
    if about.name in _SINCE:
        table = table.filter(pc.less_equal(table[_SINCE[about.name]], pa.scalar(moment, _UTC_US)))
        return _still_standing(table, moment) if about.name == "fittings" else table
    if about.name == "weather":
        step = weather_step(table.filter(pc.less_equal(table["at"], pa.scalar(moment, _UTC_US))))
        return table.filter(pc.less_equal(table["at"], pa.scalar(moment - step, _UTC_US)))
    if about.name == "use_history":
        today = moment.astimezone(ZoneInfo(zone)).date()
        return table.filter(pc.less(table["end"], pa.scalar(today, table["end"].type)))
    return table


def weather_step(table: pa.Table) -> dt.timedelta:
    """Return what one row of weather spans: the median step of one station, an hour to a day. Never raises."""
    if table.num_rows < 2:
        return _HOUR
    stations = pc.fill_null(table["station"], "")
    one = table["at"].filter(pc.equal(stations, pc.min(stations)))
    times = pc.unique(one).sort().cast(pa.int64()).to_numpy()
    if len(times) < 2:
        return _HOUR
    steps = times[1:] - times[:-1]
    steps.sort()
    hours = round(int(steps[len(steps) // 2]) / 3.6e9)
    return _HOUR * min(max(hours, 1), 24)


def _still_standing(fittings: pa.Table, moment: dt.datetime) -> pa.Table:
    """Blank the removals that had not happened."""
    removed = fittings["removed_at"]
    later = pc.fill_null(pc.greater(removed, pa.scalar(moment, _UTC_US)), False)
    standing = pc.if_else(later, pa.scalar(None, removed.type), removed)
    return fittings.set_column(fittings.column_names.index("removed_at"), "removed_at", standing)
