"""programme.toml, the table ``[sample]``."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import Any, Final, NoReturn

from dialtrue.domain.acceptance.plan import demand_named
from dialtrue.domain.acceptance.settings import SampleSettings
from dialtrue.domain.acceptance.single_plans import LEVELS
from dialtrue.domain.contracts import METER_TYPES
from dialtrue.domain.errors import BadDemand, BadSampleSetting, UnknownAql, UnknownSampleSetting
from dialtrue.files.setting_forms import SettingForms
from dialtrue.files.settings import programme_tables

_FORMS: Final = SettingForms(UnknownSampleSetting, BadSampleSetting)
_NAMES: Final = tuple(item.name for item in fields(SampleSettings))
_NUMBERS: Final[dict[str, tuple[float, float]]] = {
    "confidence": (0.5, 0.999),
    "whole_above_mm": (1, 10_000),
    "act_below": (0.0001, 0.05),
}
_WHOLE_NUMBERS: Final[dict[str, tuple[int, int]]] = {"relax_after": (5, 50), "enough": (20, 1000)}
_CHOICES: Final = {"level": LEVELS, "series": ("all", "crew"), "relax_by": ("lots", "score")}


def sample_settings(folder: Path) -> SampleSettings:
    """Return the table ``[sample]``; defaults where it is silent.

    Parameters
    ----------
    folder : Path
        The programme folder.

    Returns
    -------
    SampleSettings

    Raises
    ------
    UnknownSampleSetting
        A name that means nothing, with the nearest that does.
    BadSampleSetting
        A value of the wrong kind or out of range.
    BadProgrammeFile, FileUnreadable
        The file cannot be used at all.
    """
    told = _FORMS.table(programme_tables(folder).get("sample", {}), _NAMES, "sample")
    return SampleSettings(**{name: _value(name, value) for name, value in told.items()})


def _value(name: str, value: Any) -> Any:
    if name in ("critical", "major", "minor"):
        try:
            return str(demand_named(value)) if isinstance(value, str) else _refuse(name, value, "'aql 1.0' or 'zero 5'")
        except (BadDemand, UnknownAql):
            _refuse(name, value, "'aql 1.0' with a limit of the tables, 'zero 5', or 'none'")
    if name in _CHOICES:
        return value if value in _CHOICES[name] else _refuse(name, value, f"one of {', '.join(_CHOICES[name])}")
    if name == "whole_types":
        good = isinstance(value, list) and all(each in METER_TYPES for each in value)
        return tuple(value) if good else _refuse(name, value, f"a list of meter types: {', '.join(METER_TYPES)}")
    if name == "reduced":
        return _FORMS.truth(f"sample.{name}", value)
    if name in _WHOLE_NUMBERS:
        return _FORMS.whole(f"sample.{name}", value, *_WHOLE_NUMBERS[name])
    if name in _NUMBERS:
        return _FORMS.number(f"sample.{name}", value, *_NUMBERS[name])
    good = isinstance(value, str) and bool(value.strip()) and len(value) <= 200
    return value.strip() if good else _refuse(name, value, "a text in quotes")


def _refuse(name: str, value: Any, expected: str) -> NoReturn:
    _FORMS.refuse(f"sample.{name}", value, expected)
