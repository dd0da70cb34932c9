"""programme.toml, the table ``[survey]``."""

from __future__ import annotations

import difflib
from dataclasses import fields
from fractions import Fraction
from pathlib import Path
from typing import Any, Final

from dialtrue.domain.contracts import METER_TYPES
from dialtrue.domain.errors import BadSurveySetting, UnknownSurveySetting
from dialtrue.domain.survey.check_digits import SCHEMES
from dialtrue.domain.survey.settings import SurveySettings
from dialtrue.files.setting_forms import SettingForms, is_number, is_whole
from dialtrue.files.settings import programme_tables

_FORMS: Final = SettingForms(UnknownSurveySetting, BadSurveySetting)
_NAMES: Final = tuple(item.name for item in fields(SurveySettings))
_BOUNDS: Final[dict[str, tuple[float, float]]] = {
    "usual_share": (0.5, 1.0),
    "length_share": (0.5, 1.0),
    "rare_share": (0.0, 0.2),
    "least_class": (2, 1_000_000),
    "dial_hours": (1, 1_000_000),
    "us_flow_share": (0.01, 1.0),
    "most_dial_ratio": (2, 1_000_000_000),
    "far_km": (0.001, 40_000),
    "ratio_tolerance": (0.0001, 0.2),
}


def survey_settings(folder: Path) -> SurveySettings:
    """Return the table ``[survey]``; defaults where it is silent.

    Parameters
    ----------
    folder : Path
        The programme folder.

    Returns
    -------
    SurveySettings

    Raises
    ------
    UnknownSurveySetting
        A name that means nothing, with the nearest that does.
    BadSurveySetting
        A value of the wrong kind or out of range.
    BadProgrammeFile, FileUnreadable
        The file cannot be used at all.
    """
    told = _FORMS.table(programme_tables(folder).get("survey", {}), _NAMES, "survey")
    return SurveySettings(**{name: _value(name, value) for name, value in told.items()})


def _value(name: str, value: Any) -> Any:
    if name == "check_digit":
        return _by_type(name, value, lambda each: each in SCHEMES, f"one of {', '.join(SCHEMES)}")
    if name == "serial_length":
        good = lambda each: is_whole(each) and 1 <= each <= 60  # noqa: E731
        return _by_type(name, value, good, "a whole number from 1 to 60")
    if name == "weight_leads":
        expected = "a list of numbers from 1 up to but not 10, such as [1, 2.5, 5]"
        if not isinstance(value, list) or not value:
            _FORMS.refuse(f"survey.{name}", value, expected)
        if not all(is_number(each) and 1 <= each < 10 for each in value):
            _FORMS.refuse(f"survey.{name}", value, expected)
        return tuple(Fraction(str(each)) for each in value)
    low, high = _BOUNDS[name]
    whole = name in ("least_class", "dial_hours", "most_dial_ratio")
    good_number = is_whole(value) if whole else is_number(value)
    if not good_number or not low <= value <= high:
        kind = "a whole number" if whole else "a number"
        _FORMS.refuse(f"survey.{name}", value, f"{kind} from {low:,g} to {high:,g}, without quotes")
    return Fraction(str(value)) if name == "us_flow_share" else value


def _by_type(name: str, value: Any, good: Any, expected: str) -> dict[str, Any]:
    """Return a setting for every meter type, or for each by name."""
    if not isinstance(value, dict):
        value = {"": value}
    for kind, each in value.items():
        if kind and kind not in METER_TYPES:
            near = difflib.get_close_matches(kind, METER_TYPES, n=3, cutoff=0.4) or METER_TYPES[:3]
            raise UnknownSurveySetting(
                file=_FORMS.file,
                key=f"survey.{name}.{kind[:60]}",
                nearest=", ".join(f"survey.{name}.{word}" for word in near),
            )
        if not isinstance(each, str | int) or isinstance(each, bool) or not good(each):
            _FORMS.refuse(f"survey.{name}" + (f".{kind}" if kind else ""), each, expected)
    return dict(value)
