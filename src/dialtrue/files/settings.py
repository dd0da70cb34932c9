"""programme.toml: what a programme says of itself, so far its time zone."""

from __future__ import annotations

import difflib
import functools
import tomllib
import zoneinfo
from pathlib import Path
from typing import Final

from dialtrue.domain.errors.input_files import BadProgrammeFile, FileUnreadable, UnknownTimeZone

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
    path = folder / "programme.toml"
    if not path.exists() and not path.is_symlink():
        return "UTC", "There is no programme.toml: times without an offset are taken as UTC."
    try:
        with path.open("rb") as source:
            data = source.read(_MOST_BYTES + 1)
    except OSError as error:
        raise FileUnreadable(file="programme.toml", reason=(error.strerror or str(error)).lower()) from error
    if len(data) > _MOST_BYTES:
        raise BadProgrammeFile(file="programme.toml", reason=f"it is larger than {_MOST_BYTES:,} bytes")
    try:
        settings = tomllib.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise BadProgrammeFile(file="programme.toml", reason="it is not UTF-8 text") from error
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise BadProgrammeFile(file="programme.toml", reason=f"it is not TOML ({_short(error)})") from error
    zone = settings.get("timezone")
    if zone is None:
        return "UTC", "programme.toml names no timezone: times without an offset are taken as UTC."
    if not isinstance(zone, str):
        raise BadProgrammeFile(file="programme.toml", reason="timezone is not a text in quote marks")
    if not _known(zone):
        raise UnknownTimeZone(file="programme.toml", zone=zone[:60], nearest=", ".join(_nearest(zone)))
    return zone, None


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
