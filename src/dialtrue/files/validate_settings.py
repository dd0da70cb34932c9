"""programme.toml, the table ``[validate]``."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import Any, Final

from dialtrue.domain.errors.validate import BadValidateSetting, UnknownValidateSetting
from dialtrue.domain.read_checks.settings import ValidateSettings
from dialtrue.files.setting_forms import SettingForms
from dialtrue.files.settings import programme_tables

_FORMS: Final = SettingForms(UnknownValidateSetting, BadValidateSetting)
_NAMES: Final = tuple(item.name for item in fields(ValidateSettings))
_RANGES: Final[dict[str, tuple[float, float]]] = {
    "interpolate_up_to_h": (0, 48),
    "reference_days": (7, 400),
    "longest_gap_d": (1, 3700),
    "open_end_d": (0, 400),
    "spike_ratio": (0.01, 1000),
    "sum_units": (0, 100),
    "zero_days": (1, 400),
    "high_percent": (100, 10_000),
    "low_percent": (0, 100),
}


def validate_settings(folder: Path) -> ValidateSettings:
    """Return the table ``[validate]``; defaults where it is silent.

    Parameters
    ----------
    folder : Path
        The programme folder.

    Returns
    -------
    ValidateSettings

    Raises
    ------
    UnknownValidateSetting
        A name that means nothing, with the nearest that does.
    BadValidateSetting
        A value of the wrong kind or out of range.
    BadProgrammeFile, FileUnreadable
        The file cannot be used at all.
    """
    told = _FORMS.table(programme_tables(folder).get("validate", {}), _NAMES, "validate")
    return ValidateSettings(**{name: _value(name, value) for name, value in told.items()})


def _value(name: str, value: Any) -> Any:
    key = f"validate.{name}"
    if name == "interpolate_past_alarm":
        return _FORMS.truth(key, value)
    if name == "spike_least":
        return _FORMS.whole(key, value, 1, 1_000_000)
    return _FORMS.number(key, value, *_RANGES[name])
