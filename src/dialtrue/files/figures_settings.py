"""programme.toml, the table ``[figures]``."""

from __future__ import annotations

import difflib
import math
from dataclasses import fields
from pathlib import Path
from typing import Any, Final

from dialtrue.domain.errors import BadFiguresSetting, UnknownFiguresSetting
from dialtrue.domain.progress.settings import FiguresSettings
from dialtrue.files.settings import programme_tables

_FILE: Final = "programme.toml"
_NAMES: Final = tuple(item.name for item in fields(FiguresSettings))
_WHOLE: Final[dict[str, tuple[int, int]]] = {
    "fresh_days": (1, 90), "rework_days": (1, 730), "pair_from_days": (1, 365), "pair_to_days": (2, 730),
    "enough": (20, 1000), "cluster": (2, 100),
}  # fmt: skip
_NUMBERS: Final[dict[str, tuple[float, float]]] = {"proof_width": (0.005, 0.3), "near_m": (10.0, 10_000.0)}


def figures_settings(folder: Path) -> FiguresSettings:
    """Return the table ``[figures]``; defaults where it is silent.

    Parameters
    ----------
    folder : Path
        The programme folder.

    Returns
    -------
    FiguresSettings

    Raises
    ------
    UnknownFiguresSetting
        A name that means nothing, with the nearest that does.
    BadFiguresSetting
        A value of the wrong kind or out of range.
    BadProgrammeFile, FileUnreadable
        The file cannot be used at all.
    """
    told = programme_tables(folder).get("figures", {}) if folder.is_dir() else {}
    if not isinstance(told, dict):
        raise BadFiguresSetting(file=_FILE, key="figures", value=repr(told)[:60], expected="it as a table, [figures]")
    made: dict[str, Any] = {}
    for name, value in told.items():
        if name not in _NAMES:
            near = difflib.get_close_matches(name, _NAMES, n=3, cutoff=0.5) or sorted(_NAMES)[:5]
            nearest = ", ".join(f"figures.{word}" for word in near)
            raise UnknownFiguresSetting(file=_FILE, key=f"figures.{name[:60]}", nearest=nearest)
        made[name] = _value(name, value)
    settings = FiguresSettings(**made)
    if settings.pair_to_days <= settings.pair_from_days:
        expected = f"a whole number above pair_from_days, which is {settings.pair_from_days}"
        _refuse("pair_to_days", settings.pair_to_days, expected)
    return settings


def programme_name(folder: Path) -> str:
    """Return the name that ``programme.toml`` gives, else the folder's.

    Raises
    ------
    BadProgrammeFile, FileUnreadable
        The file cannot be used at all.
    """
    name = programme_tables(folder).get("name") if folder.is_dir() else None
    return name.strip()[:120] if isinstance(name, str) and name.strip() else folder.resolve().name


def _value(name: str, value: Any) -> Any:
    number = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    if name in _WHOLE:
        low, high = _WHOLE[name]
        good = number and isinstance(value, int) and low <= value <= high
        return value if good else _refuse(name, value, f"a whole number from {low} to {high:,}, without quotes")
    if name in _NUMBERS:
        least, most = _NUMBERS[name]
        good = number and least <= value <= most
        return float(value) if good else _refuse(name, value, f"a number from {least:g} to {most:,g}, without quotes")
    if name == "turned_back":
        good = isinstance(value, list) and all(isinstance(each, str) and each.strip() for each in value)
        return tuple(value) if good else _refuse(name, value, 'a list of words, such as ["turned_back"]')
    good = isinstance(value, str) and bool(value.strip()) and len(value) <= 200
    return value.strip() if good else _refuse(name, value, "the name of a column, in quotes")


def _refuse(name: str, value: Any, expected: str) -> None:
    raise BadFiguresSetting(file=_FILE, key=f"figures.{name}", value=repr(value)[:60], expected=expected)
