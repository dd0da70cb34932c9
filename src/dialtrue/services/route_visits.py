"""Visits from the tables: the registers of a site together, minutes and parts from the plan, what is done left out."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import pyarrow as pa

from dialtrue.domain.routing.clock_text import seconds_of
from dialtrue.domain.routing.day_shape import NoPlace, Place, Visit
from dialtrue.domain.routing.travel import straight_km

APART_KM = 0.2
"""Registers of one site that lie farther apart than this are said. [km] Our assumption: a large plot is smaller."""


@dataclass(slots=True)
class SiteVisits:
    """Visits that can be looked at, those that have no place from the start, and what is to be said."""

    visits: list[Visit] = field(default_factory=list)
    no_place: list[NoPlace] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    done: int = 0


@dataclass(slots=True)
class _Planned:
    """What the plan says of one site."""

    minutes: float = 0.0
    rows: int = 0
    unknown: int = 0
    hopeless: int = 0
    endpoints: set[int] = field(default_factory=set)
    parts: int = 0
    skills: set[str] = field(default_factory=set)
    mounts: list[str] = field(default_factory=list)


def site_visits(
    sites: pa.Table,
    *,
    plan: pa.Table | None,
    fittings: pa.Table | None,
    job_minutes: Mapping[str, float],
) -> SiteVisits:
    """Return one visit a site.

    Parameters
    ----------
    sites : pa.Table
        Contract table ``sites``, one row a register.
    plan : pa.Table or None
        Contract table ``plan``; its ``job_minutes`` are summed for a site.
    fittings : pa.Table or None
        Sites whose registers all have an endpoint that was not taken off are done; None: none is.
    job_minutes : mapping
        Time for one register by mount, where the plan gives none. [min]

    Returns
    -------
    SiteVisits
        In the order of the sites. A site without coordinates, with a window that cannot be, or where the plan finds
        nothing that fits, is in ``no_place``.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition. An unknown mount takes as long as the longest: our assumption.
    """
    result = SiteVisits()
    planned = _by_site(plan)
    fitted = _fitted(fittings)
    groups: dict[str, list[dict[str, Any]]] = {}
    for row in sites.to_pylist():
        groups.setdefault(row["site"], []).append(row)
    guessed = 0
    for site, rows in groups.items():
        if fitted and all((row["meter_serial"], row["register_role"] or "single") in fitted for row in rows):
            result.done += 1
            continue
        guessed += _add(result, site, rows, planned.get(site), job_minutes)
    if guessed:
        where = "No plan was found" if plan is None else "The plan gives no minutes"
        result.said.append(
            f"{where} for {guessed:,} of {len(groups) - result.done:,} sites: their time on site is taken by the mount."
        )
    strangers = [site for site in planned if site not in groups]
    if strangers:
        result.said.append(
            f"The plan names {len(strangers):,} sites that the sites table does not hold, such as {strangers[0]}."
        )
    return result


def _add(
    result: SiteVisits, site: str, rows: list[dict[str, Any]], plan: _Planned | None, job_minutes: Mapping[str, float]
) -> bool:
    """Put one site where it belongs; return whether its minutes were guessed."""
    address = next((row["address"] for row in rows if row["address"]), "") or ""
    place = _place_of(result, site, rows)
    mounts = list(dict.fromkeys(row["mount"] for row in rows if row["mount"])) or (plan.mounts if plan else [])
    longest = max(job_minutes.values())
    by_mount = [job_minutes.get(row["mount"] or "", longest) for row in rows]
    guessed = plan is None or plan.rows <= plan.unknown
    # A register of which the plan gives no minutes takes what its mount takes.
    minutes = sum(by_mount) if plan is None else plan.minutes + sum(by_mount[: plan.unknown])
    if plan is not None and not plan.rows:
        minutes = sum(by_mount)
    skills = {word for row in rows for word in (row["skills"] or "").split()} | (plan.skills if plan else set())
    low, high, fault = _window(rows)
    day = next((row["visit_day"] for row in rows if row["visit_day"] is not None), None)
    visit = Visit(
        site=site, address=address, place=place, mount=" and ".join(mounts), registers=len(rows),
        job_s=max(1, round(minutes * 60)), window_from_s=low, window_to_s=high, day=_as_day(day),
        skills=frozenset(skills), endpoints=max(1, len(plan.endpoints) if plan else 1), parts=plan.parts if plan else 0,
        serials=tuple(dict.fromkeys(row["meter_serial"] for row in rows)),
    )  # fmt: skip
    if plan is not None and plan.rows and plan.hopeless == plan.rows:
        says = "the plan finds nothing that fits any of its registers"
        result.no_place.append(NoPlace(site, address, "nothing_fits", says))
    elif fault:
        result.no_place.append(NoPlace(site, address, "bad_window", fault))
    elif place is None:
        result.no_place.append(NoPlace(site, address, "no_coordinates", "has no latitude and longitude"))
    else:
        result.visits.append(visit)
        return guessed
    return False


def _as_day(value: Any) -> dt.date | None:
    if isinstance(value, dt.datetime):
        return value.date()
    return value if isinstance(value, dt.date) else None


def _place_of(result: SiteVisits, site: str, rows: list[dict[str, Any]]) -> Place | None:
    """Return the first register's place; say where the registers of one site lie far apart."""
    places = [
        (row["latitude"], row["longitude"])
        for row in rows
        if row["latitude"] is not None and row["longitude"] is not None
    ]
    if not places:
        return None
    apart_km = max(straight_km(places[0], place) for place in places)
    if apart_km > APART_KM:
        result.said.append(
            f"Site {site}: its registers lie {apart_km:.1f} km apart; the visit goes to the first of them."
        )
    return places[0]


def _window(rows: list[dict[str, Any]]) -> tuple[int | None, int | None, str]:
    """Return the window that suits all registers of a site, or what is wrong with it in words."""
    found: dict[str, list[int]] = {"window_from": [], "window_to": []}
    for row in rows:
        for name, times in found.items():
            if row[name]:
                seconds = seconds_of(row[name])
                if seconds is None:
                    return None, None, f"{name} {row[name][:20]!r} is no time of day; write it as 13:00"
                times.append(seconds)
    low = max(found["window_from"], default=None)
    high = min(found["window_to"], default=None)
    if low is not None and high is not None and high < low:
        words = " to ".join(next(row[name] for row in rows if row[name]) for name in ("window_from", "window_to"))
        return None, None, f"its window, {words}, ends before it begins"
    return low, high, ""


def _by_site(plan: pa.Table | None) -> dict[str, _Planned]:
    """Sum the plan by site."""
    found: dict[str, _Planned] = {}
    if plan is None:
        return found
    wanted = [
        name
        for name in ("site", "verdict", "job_minutes", "endpoint_number", "skills", "parts", "mount")
        if name in plan.column_names
    ]
    for row in plan.select(wanted).to_pylist():
        site = found.setdefault(row["site"], _Planned())
        site.rows += 1
        minutes = row.get("job_minutes")
        if minutes is None or not 0 < minutes < 10_000:
            site.unknown += 1
        else:
            site.minutes += minutes
        site.hopeless += row.get("verdict") == "does_not_fit"
        if row.get("endpoint_number") is not None:
            site.endpoints.add(int(row["endpoint_number"]))
        site.skills.update((row.get("skills") or "").split())
        if row.get("mount") and row["mount"] not in site.mounts:
            site.mounts.append(row["mount"])
        site.parts += _pieces(row.get("parts"))
    return found


def _pieces(parts: str | None) -> int:
    """Count the pieces of a list of parts: whole things, not metres of cable and not tools."""
    if not parts:
        return 0
    try:
        entries = json.loads(parts)
        return sum(
            int(float(entry.get("quantity", 1)))
            for entry in entries
            if entry.get("kind", "part") in ("part", "endpoint")
        )
    except (ValueError, TypeError, AttributeError):
        return 0


def _fitted(fittings: pa.Table | None) -> set[tuple[str, str]]:
    """Return the registers that carry an endpoint."""
    if fittings is None:
        return set()
    rows: Iterable[dict[str, Any]] = fittings.select(["meter_serial", "register_role", "removed_at"]).to_pylist()
    return {(row["meter_serial"], row["register_role"] or "single") for row in rows if row["removed_at"] is None}
