"""programme.toml, the table ``[validate]``."""

from __future__ import annotations

import difflib
import math
from dataclasses import fields
from pathlib import Path
from typing import Any, Final

from dialtrue.domain.errors.validate import BadValidateSetting, UnknownValidateSetting
from dialtrue.domain.read_checks.settings import ValidateSettings
from dialtrue.files.settings import programme_tables

_FILE: Final = "programme.toml"
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
    told = programme_tables(folder).get("validate", {})
    if not isinstance(told, dict):
        raise BadValidateSetting(
            file=_FILE, key="validate", value=repr(told)[:60], expected="it as a table, [validate]"
        )
    made: dict[str, Any] = {}
    for name, value in told.items():
        if name not in _NAMES:
            near = difflib.get_close_matches(name, _NAMES, n=3, cutoff=0.5) or sorted(_NAMES)[:5]
            raise UnknownValidateSetting(
                file=_FILE, key=f"validate.{name[:60]}", nearest=", ".join(f"validate.{word}" for word in near)
            )
        made[name] = _value(name, value)
    return ValidateSettings(**made)


def _value(name: str, value: Any) -> Any:
    if name == "interpolate_past_alarm":
        return value if isinstance(value, bool) else _refuse(name, value, "true or false")
    if name == "spike_least":
        good = isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= 1_000_000
        return value if good else _refuse(name, value, "a whole number from 1 to 1,000,000, without quotes")
    least, most = _RANGES[name]
    good = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    if not good or not least <= value <= most:
        _refuse(name, value, f"a number from {least:g} to {most:,g}, without quotes")
    return float(value)


def _refuse(name: str, value: Any, expected: str) -> None:
    raise BadValidateSetting(file=_FILE, key=f"validate.{name}", value=repr(value)[:60], expected=expected)
