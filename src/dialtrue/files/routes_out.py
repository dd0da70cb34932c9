"""Routes as files: the contract table, the list of what has no place, and GeoJSON."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pyarrow as pa

from dialtrue.domain.contracts import ROUTES
from dialtrue.domain.routing.clock_text import clock_text
from dialtrue.domain.routing.routes_result import RouteDay, RoutesAnswer
from dialtrue.files.findings import ARROW_TYPE
from dialtrue.files.tables_out import write_atomically, write_table


def routes_table(answer: RoutesAnswer) -> pa.Table:
    """Return the contract table ``routes``: one row a visit, in order of day, crew and stop.

    Parameters
    ----------
    answer : RoutesAnswer

    Returns
    -------
    pa.Table
        Times in UTC.

    Raises
    ------
    Never raises.
    """
    rows = [row for day in answer.days for row in _rows(answer, day, ZoneInfo(answer.timezone))]
    return pa.table(
        {
            column.name: pa.array([row[column.name] for row in rows], ARROW_TYPE[column.form])
            for column in ROUTES.columns
        }
    )


def _rows(answer: RoutesAnswer, day: RouteDay, zone: ZoneInfo) -> list[dict[str, Any]]:
    """Return the rows of one crew's day."""

    def instant(seconds: int) -> dt.datetime:
        # The clock on the wall, as crews and customers read it; then the zone.
        wall = dt.datetime.combine(day.times.day, dt.time()) + dt.timedelta(seconds=seconds)
        return wall.replace(tzinfo=zone).astimezone(dt.UTC)

    rows = []
    for k, (stop, km) in enumerate(zip(day.times.stops, day.km, strict=True)):
        visit = answer.visits[stop.visit]
        latitude, longitude = answer.place_of(stop.visit)
        rows.append(
            {
                "day": day.times.day, "crew": day.times.crew.name, "stop": k + 1, "site": visit.site,
                "arrive": instant(stop.arrive_s), "start": instant(stop.start_s), "leave": instant(stop.leave_s),
                "travel_minutes": stop.travel_s / 60, "travel_km": round(km, 3), "job_minutes": visit.job_s / 60,
                "break_minutes": stop.break_s / 60 if stop.break_at_s is not None else None,
                "registers": visit.registers,
                "break_at": instant(stop.break_at_s) if stop.break_at_s is not None else None,
                "address": visit.address or None, "mount": visit.mount or None,
                "window_from": None if visit.window_from_s is None else clock_text(visit.window_from_s),
                "window_to": None if visit.window_to_s is None else clock_text(visit.window_to_s),
                "endpoints": visit.endpoints, "parts": visit.parts, "latitude": latitude, "longitude": longitude,
            }
        )  # fmt: skip
    return rows


def write_routes(path: Path, answer: RoutesAnswer) -> None:
    """Write the routes by the ending of the name; raises ``OutputNotWritten``, ``UnknownSuffix``."""
    write_table(path, routes_table(answer))


def write_left_out(path: Path, answer: RoutesAnswer) -> None:
    """Write the visits without a place and why; raises ``OutputNotWritten``, ``UnknownSuffix``."""
    names = ("site", "address", "reason", "says")
    columns = {name: pa.array([getattr(item, name) for item in answer.no_place], pa.string()) for name in names}
    write_table(path, pa.table(columns))


def routes_geojson(answer: RoutesAnswer) -> str:
    """Return the routes as one GeoJSON collection: a line for each crew's day, a point for each stop and depot.

    Parameters
    ----------
    answer : RoutesAnswer

    Returns
    -------
    str
        Longitude before latitude, WGS 84, as the form asks. Lines are straight from stop to stop: no roads are known.

    Raises
    ------
    Never raises.

    Source
    ------
    ``RFC-7946``.
    """
    features: list[dict[str, Any]] = []

    def add(kind: str, coordinates: object, **properties: object) -> None:
        features.append(
            {"type": "Feature", "geometry": {"type": kind, "coordinates": coordinates}, "properties": properties}
        )

    for day in answer.days:
        times = day.times
        tag = {"day": times.day.isoformat(), "crew": times.crew.name}
        depot = [times.crew.depot[1], times.crew.depot[0]]
        path = [[place[1], place[0]] for place in (answer.place_of(stop.visit) for stop in times.stops)]
        add(
            "LineString", [depot, *path, depot], **tag, stops=len(path), travel_minutes=round(times.travel_s / 60, 1),
            travel_km=round(day.travel_km, 2), leaves=clock_text(times.depart_s), back=clock_text(times.return_s),
        )  # fmt: skip
        add("Point", depot, **tag, depot=True)
        for k, (stop, point) in enumerate(zip(times.stops, path, strict=True)):
            visit = answer.visits[stop.visit]
            add(
                "Point", point, **tag, stop=k + 1, site=visit.site, address=visit.address, mount=visit.mount,
                arrive=clock_text(stop.arrive_s), start=clock_text(stop.start_s), leave=clock_text(stop.leave_s),
            )  # fmt: skip
    document = {"type": "FeatureCollection", "features": features}
    return json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def write_geojson(path: Path, answer: RoutesAnswer) -> None:
    """Write the routes as GeoJSON; raises ``OutputNotWritten``."""
    content = routes_geojson(answer).encode()
    write_atomically(path, lambda sink: sink.write(content) and None)
