"""programme.toml: what a programme says of itself: its time zone, and the table ``[watch]``."""

from __future__ import annotations

import difflib
import functools
import math
import tomllib
import zoneinfo
from pathlib import Path
from typing import Any, Final

from dialtrue.domain.errors.input_files import BadProgrammeFile, FileUnreadable, UnknownTimeZone
from dialtrue.domain.errors.watch_settings import AbsurdWatchCosts, BadWatchSetting, UnknownWatchSetting
from dialtrue.domain.faults import FAULTS
from dialtrue.domain.watch_settings import COST_NAMES, MOST, Costs, WatchSettings, absurd
from dialtrue.files.setting_forms import PROGRAMME_FILE, SettingForms

_FILE: Final = PROGRAMME_FILE
_FORMS: Final = SettingForms(UnknownWatchSetting, BadWatchSetting)

_MOST_BYTES: Final = 1_000_000
"""Largest programme.toml. [bytes] Our assumption: it is a handful of lines."""


def programme_zone(folder: Path) -> tuple[str, str | None]:
    """Return the programme's IANA zone, and a sentence to be said where nothing names one.

    Parameters
    ----------
    folder : Path
        The programme folder.

    Returns
    -------
    tuple
        The zone, ``UTC`` if none is named; and a note or None.

    Raises
    ------
    BadProgrammeFile, UnknownTimeZone, FileUnreadable
    """
    settings = _read(folder)
    if settings is None:
        return "UTC", "There is no programme.toml: times without an offset are taken as UTC."
    zone = settings.get("timezone")
    if zone is None:
        return "UTC", "programme.toml names no timezone: times without an offset are taken as UTC."
    if not isinstance(zone, str):
        raise BadProgrammeFile(file=_FILE, reason="timezone is not a text in quote marks")
    if not _known(zone):
        raise UnknownTimeZone(file=_FILE, zone=zone[:60], nearest=", ".join(_nearest(zone)))
    return zone, None


def watch_settings(folder: Path) -> WatchSettings:
    """Return the table ``[watch]``: costs, the month's budget of looks, shares of faults; defaults where it is silent.

    Parameters
    ----------
    folder : Path
        The programme folder.

    Returns
    -------
    WatchSettings

    Raises
    ------
    UnknownWatchSetting
        A name that means nothing, with the nearest that does.
    BadWatchSetting
        A value that is no number, or out of range.
    AbsurdWatchCosts
        Costs that make no sense together.
    BadProgrammeFile, FileUnreadable
        The file cannot be used at all.
    """
    watch = _table(_read(folder) or {}, "watch", ("costs", "prior", "remote_checks_per_1000"), above="")
    told = _table(watch, "costs", COST_NAMES, above="watch.")
    costs = Costs(**{name: _number(told[name], f"watch.costs.{name}", most=MOST) for name in told})
    what = absurd(costs)
    if what is not None:
        raise AbsurdWatchCosts(file=_FILE, what=what)
    shares = _table(watch, "prior", FAULTS, above="watch.")
    prior = {code: _number(shares[code], f"watch.prior.{code}", most=1.0, zero=False) for code in shares}
    total = sum(share for code, share in prior.items() if code != "sound")
    if total >= 1:
        raise AbsurdWatchCosts(
            file=_FILE,
            what=f"the shares of [watch.prior] without sound add up to {total:g}, which leaves nothing sound",
        )
    budget = watch.get("remote_checks_per_1000", WatchSettings().remote_checks_per_1000)
    return WatchSettings(costs, _number(budget, "watch.remote_checks_per_1000", most=1000.0), prior)


def programme_tables(folder: Path) -> dict[str, Any]:
    """Return every table of ``programme.toml`` as written, none where there is no such file.

    Raises
    ------
    BadProgrammeFile, FileUnreadable
        The file cannot be used at all.
    """
    return _read(folder) or {}


def _table(settings: dict[str, Any], name: str, known: tuple[str, ...], *, above: str) -> dict[str, Any]:
    """Return an inner table with all its names known, empty where it is not there."""
    return _FORMS.table(settings.get(name, {}), known, f"{above}{name}")


def _number(value: Any, key: str, *, most: float, zero: bool = True) -> float:
    """Return a finite number from 0 to ``most``."""
    good = isinstance(value, int | float) and not isinstance(value, bool)
    if not (good and math.isfinite(value) and 0 <= value <= most and (zero or value > 0)):
        least = "from 0" if zero else "above 0"
        raise BadWatchSetting(
            file=_FILE, key=key, value=repr(value)[:60], expected=f"a number {least} up to {most:,g}, without quotes"
        )
    return float(value)


def _read(folder: Path) -> dict[str, Any] | None:
    """Return the file's tables, or None where it is not there."""
    path = folder / _FILE
    if not path.exists() and not path.is_symlink():
        return None
    try:
        with path.open("rb") as source:
            data = source.read(_MOST_BYTES + 1)
    except OSError as error:
        raise FileUnreadable(file=_FILE, reason=(error.strerror or str(error)).lower()) from error
    if len(data) > _MOST_BYTES:
        raise BadProgrammeFile(file=_FILE, reason=f"it is larger than {_MOST_BYTES:,} bytes")
    try:
        return tomllib.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise BadProgrammeFile(file=_FILE, reason="it is not UTF-8 text") from error
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise BadProgrammeFile(file=_FILE, reason=f"it is not TOML ({_short(error)})") from error


def _short(error: BaseException) -> str:
    return str(error)[:120]


@functools.lru_cache(maxsize=64)
def _known(zone: str) -> bool:
    try:
        zoneinfo.ZoneInfo(zone)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


def _nearest(zone: str) -> list[str]:
    """Return up to three names that look most like it; a bare city finds its region."""
    names = sorted(zoneinfo.available_timezones())
    wanted = zone[:60].strip().replace(" ", "_").casefold()
    folded = {name.casefold(): name for name in names}
    near = difflib.get_close_matches(wanted, folded, n=3, cutoff=0.6)
    cities = {name.casefold().rsplit("/", 1)[-1]: name for name in names}
    near_city = difflib.get_close_matches(wanted.rsplit("/", 1)[-1], cities, n=3, cutoff=0.6)
    picked = [*(folded[name] for name in near), *(cities[name] for name in near_city)]
    return list(dict.fromkeys(picked))[:3] or ["UTC", "America/Chicago", "Europe/Rome"]
