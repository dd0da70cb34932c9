"""The table ``[routes]`` of ``programme.toml``."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any, Final

from dialtrue.domain.contracts import MOUNTS
from dialtrue.domain.errors.routes import BadRouteSetting, UnknownRouteSetting
from dialtrue.domain.routing.route_settings import JOB_MINUTES, NUMBERS, WEEKDAYS, RouteSettings
from dialtrue.files.setting_forms import SettingForms
from dialtrue.files.settings import programme_tables

_FORMS: Final = SettingForms(UnknownRouteSetting, BadRouteSetting)
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
    routes = _FORMS.table(programme_tables(folder).get("routes", {}), _KNOWN, "routes")
    told: dict[str, Any] = {
        name: _FORMS.number(f"routes.{name}", routes[name], *NUMBERS[name]) for name in NUMBERS if name in routes
    }
    if ("depot_latitude" in told) != ("depot_longitude" in told):
        raise BadRouteSetting(
            file=_FORMS.file, key="routes.depot_latitude", value="given without the other",
            expected="both depot_latitude and depot_longitude, or neither",
        )  # fmt: skip
    minutes = routes.get("job_minutes", {})
    if not isinstance(minutes, dict):
        _FORMS.refuse("routes.job_minutes", minutes, "it as a table, such as pit = 20")
    _FORMS.table(minutes, MOUNTS, "routes.job_minutes")
    told["job_minutes"] = JOB_MINUTES | {
        mount: _FORMS.number(f"routes.job_minutes.{mount}", minutes[mount], 1.0, 720.0) for mount in minutes
    }
    if "work_days" in routes:
        told["work_days"] = _words(routes["work_days"])
    if "holidays" in routes:
        told["holidays"] = _days(routes["holidays"])
    return RouteSettings(**told)


def _words(value: Any) -> tuple[str, ...]:
    """Return days of the week, one at least."""
    words = value.split() if isinstance(value, str) else value
    if not (isinstance(words, list) and words and all(word in WEEKDAYS for word in words)):
        _FORMS.refuse("routes.work_days", value, f"some of: {' '.join(WEEKDAYS)}")
    return tuple(words)


def _days(value: Any) -> tuple[str, ...]:
    """Return days, as TOML dates or as text."""
    try:
        return tuple(
            (each if type(each) is dt.date else dt.date.fromisoformat(each)).isoformat() for each in value
        )  # fmt: skip
    except (TypeError, ValueError):
        _FORMS.refuse("routes.holidays", value, 'a list of days, such as ["2026-07-03"]')
