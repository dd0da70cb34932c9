"""The table ``[routes]`` of ``programme.toml``."""

from __future__ import annotations

import datetime as dt
import difflib
import math
from pathlib import Path
from typing import Any, Final

from dialtrue.domain.contracts import MOUNTS
from dialtrue.domain.errors.routes import BadRouteSetting, UnknownRouteSetting
from dialtrue.domain.routing.route_settings import JOB_MINUTES, NUMBERS, WEEKDAYS, RouteSettings
from dialtrue.files.settings import programme_tables

_FILE: Final = "programme.toml"
_KNOWN: Final = (*NUMBERS, "job_minutes", "work_days", "holidays")


def route_settings(folder: Path) -> RouteSettings:
    """Return the table ``[routes]``, defaults where it is silent.

    Parameters
    ----------
    folder : Path
        The programme folder.

    Returns
    -------
    RouteSettings

    Raises
    ------
    UnknownRouteSetting
        A name that means nothing, with the nearest that does.
    BadRouteSetting
        A value in no form or range that can be used.
    BadProgrammeFile, FileUnreadable
        The file cannot be used at all.
    """
    routes = programme_tables(folder).get("routes", {})
    if not isinstance(routes, dict):
        raise BadRouteSetting(file=_FILE, key="routes", value=repr(routes)[:60], expected="it as a table, [routes]")
    _all_known(routes, _KNOWN, "routes")
    told: dict[str, Any] = {
        name: _number(routes[name], f"routes.{name}", *NUMBERS[name]) for name in NUMBERS if name in routes
    }
    if ("depot_latitude" in told) != ("depot_longitude" in told):
        raise BadRouteSetting(
            file=_FILE, key="routes.depot_latitude", value="given without the other",
            expected="both depot_latitude and depot_longitude, or neither",
        )  # fmt: skip
    minutes = routes.get("job_minutes", {})
    if not isinstance(minutes, dict):
        raise BadRouteSetting(
            file=_FILE, key="routes.job_minutes", value=repr(minutes)[:60], expected="it as a table, such as pit = 20"
        )
    _all_known(minutes, MOUNTS, "routes.job_minutes")
    told["job_minutes"] = JOB_MINUTES | {
        mount: _number(minutes[mount], f"routes.job_minutes.{mount}", 1.0, 720.0) for mount in minutes
    }
    if "work_days" in routes:
        told["work_days"] = _words(routes["work_days"])
    if "holidays" in routes:
        told["holidays"] = _days(routes["holidays"])
    return RouteSettings(**told)


def _all_known(table: dict[str, Any], known: tuple[str, ...], above: str) -> None:
    for key in table:
        if key not in known:
            near = difflib.get_close_matches(key, known, n=3, cutoff=0.5) or sorted(known)[:5]
            nearest = ", ".join(f"{above}.{word}" for word in near)
            raise UnknownRouteSetting(file=_FILE, key=f"{above}.{key[:60]}", nearest=nearest)


def _number(value: Any, key: str, least: float, most: float) -> float:
    """Return a finite number in its range."""
    good = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    if not (good and least <= value <= most):
        expected = f"a number from {least:g} to {most:g}, without quotes"
        raise BadRouteSetting(file=_FILE, key=key, value=repr(value)[:60], expected=expected)
    return float(value)


def _words(value: Any) -> tuple[str, ...]:
    """Return days of the week, one at least."""
    words = value.split() if isinstance(value, str) else value
    if not (isinstance(words, list) and words and all(word in WEEKDAYS for word in words)):
        raise BadRouteSetting(
            file=_FILE, key="routes.work_days", value=repr(value)[:60], expected=f"some of: {' '.join(WEEKDAYS)}"
        )
    return tuple(words)


def _days(value: Any) -> tuple[str, ...]:
    """Return days, as TOML dates or as text."""
    try:
        return tuple(
            (each if type(each) is dt.date else dt.date.fromisoformat(each)).isoformat() for each in value
        )  # fmt: skip
    except (TypeError, ValueError) as error:
        raise BadRouteSetting(
            file=_FILE, key="routes.holidays", value=repr(value)[:60], expected='a list of days, such as ["2026-07-03"]'
        ) from error
