"""programme.toml, the table ``[figures]``."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import Any, Final, NoReturn

from dialtrue.domain.errors import BadFiguresSetting, UnknownFiguresSetting
from dialtrue.domain.progress.settings import FiguresSettings
from dialtrue.files.setting_forms import SettingForms
from dialtrue.files.settings import programme_tables

_FORMS: Final = SettingForms(UnknownFiguresSetting, BadFiguresSetting)
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
    told = _FORMS.table(told, _NAMES, "figures")
    settings = FiguresSettings(**{name: _value(name, value) for name, value in told.items()})
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
    if name in _WHOLE:
        return _FORMS.whole(f"figures.{name}", value, *_WHOLE[name])
    if name in _NUMBERS:
        return _FORMS.number(f"figures.{name}", value, *_NUMBERS[name])
    if name == "turned_back":
        good = isinstance(value, list) and all(isinstance(each, str) and each.strip() for each in value)
        return tuple(value) if good else _refuse(name, value, 'a list of words, such as ["turned_back"]')
    good = isinstance(value, str) and bool(value.strip()) and len(value) <= 200
    return value.strip() if good else _refuse(name, value, "the name of a column, in quotes")


def _refuse(name: str, value: Any, expected: str) -> NoReturn:
    _FORMS.refuse(f"figures.{name}", value, expected)
