"""The table ``[plan]`` of ``programme.toml``."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any, Final

from dialtrue.domain.contracts import MOUNTS
from dialtrue.domain.errors import BadDecimal, BadMeasure, BadPlanSetting, UnknownPlanSetting
from dialtrue.domain.planning.settings import SKILLS, PlanSettings
from dialtrue.domain.pulse_chain.measure import measure
from dialtrue.domain.quantity import exact_decimal
from dialtrue.files.setting_forms import SettingForms
from dialtrue.files.settings import programme_tables

_READ: Final = SettingForms(UnknownPlanSetting, BadPlanSetting)
_VAULT: Final = "vault"


def plan_settings(folder: Path) -> PlanSettings:
    """Return what a programme says of its plans; defaults where it is silent.

    Parameters
    ----------
    folder : Path
        The programme folder; a sites table alone has no settings.

    Returns
    -------
    PlanSettings

    Raises
    ------
    UnknownPlanSetting
        A name that means nothing, with the nearest that does.
    BadPlanSetting
        A value that is out of range, or not in its form.
    BadProgrammeFile, FileUnreadable
        The file cannot be used at all.

    Source
    ------
    ``docs/how-to/plan-a-programme.md``.
    """
    table = programme_tables(folder).get("plan", {}) if folder.is_dir() else {}
    given: dict[str, Any] = {}
    for name, value in _READ.table(table, _FORMS, "plan").items():
        field, take = _FORMS[name]
        given[field] = take(f"plan.{name}", value)
    return PlanSettings(**given)


def _measured(what: str, sample: str) -> Callable[[str, Any], Fraction]:
    """Return the reader of a number with a unit."""

    def take(key: str, value: Any) -> Fraction:
        expected = f"a {what} with its unit in quotes, such as '{sample}'"
        if not isinstance(value, str):
            _READ.refuse(key, value, expected)
        try:
            amount = measure(value, what=what)
        except BadMeasure:
            _READ.refuse(key, value, expected)
        if not 0 < amount <= 10**9:
            _READ.refuse(key, value, f"{expected}, above 0")
        return amount

    return take


def _number(low: float, high: float) -> Callable[[str, Any], float]:
    """Return the reader of a number in a range."""

    def take(key: str, value: Any) -> float:
        return _READ.number(key, value, low, high)

    return take


def _exact(low: float, high: float) -> Callable[[str, Any], Fraction]:
    """Return the reader of a number that is kept exactly."""
    number = _number(low, high)

    def take(key: str, value: Any) -> Fraction:
        number(key, value)
        try:
            return exact_decimal(str(value))
        except BadDecimal:
            _READ.refuse(key, value, f"a decimal number from {low:g} to {high:g}")

    return take


def _days(key: str, value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 25 <= value <= 45:
        _READ.refuse(key, value, "a whole number of days from 25 to 45")
    return value


def _text(key: str, value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        _READ.refuse(key, value, "the key of a data sheet in quotes")
    return value.strip()


def _texts(key: str, value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(item, str) and item.strip() for item in value):
        _READ.refuse(key, value, "a list of texts in quotes, such as ['ladder']")
    return tuple(item.strip() for item in value)


def _minutes(key: str, value: Any) -> dict[str, float]:
    number = _number(0, 1440)
    return {mount: number(f"{key}.{mount}", held) for mount, held in _READ.table(value, MOUNTS, key).items()}


def _skills(key: str, value: Any) -> dict[str, tuple[str, ...]]:
    """Read skills by mount; those that are not named keep the shipped ones."""
    held = {name: _texts(f"{key}.{name}", words) for name, words in _READ.table(value, (*MOUNTS, _VAULT), key).items()}
    for name, words in held.items():
        if any(len(word.split()) > 1 for word in words):
            _READ.refuse(f"{key}.{name}", list(words), "each skill as one word, such as 'confined_space'")
    return {**SKILLS, **held}


_FORMS: Final[dict[str, tuple[str, Callable[[str, Any], Any]]]] = {
    "billing": ("billing_l", _measured("volume", "1000 gal")),
    "endpoints": ("endpoints", _texts),
    "output": ("output", _text),
    "input": ("input", _text),
    "cable": ("cable", _text),
    "cable_length_m": ("cable_length_m", _number(0, 10_000)),
    "cable_slack_share": ("cable_slack_share", _exact(0, 2)),
    "tap_flow": ("tap_flow_lpm", _measured("flow", "5 gal/min")),
    "follow_up_days": ("follow_up_days", _days),
    "job_minutes": ("job_minutes", _minutes),
    "skills": ("skills", _skills),
    "coldest_c": ("coldest_c", _number(-90, 60)),
}
