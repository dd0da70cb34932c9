"""programme.toml, the table ``[handover]``."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import Any, Final

from dialtrue.domain.errors.handover import BadHandoverSetting, UnknownHandoverSetting
from dialtrue.domain.handover.rules import HandoverSettings
from dialtrue.files.setting_forms import SettingForms
from dialtrue.files.settings import programme_tables

_FORMS: Final = SettingForms(UnknownHandoverSetting, BadHandoverSetting)
_NAMES: Final = tuple(item.name for item in fields(HandoverSettings))


def handover_settings(folder: Path) -> HandoverSettings:
    """Return the table ``[handover]``; defaults where it is silent.

    Parameters
    ----------
    folder : Path
        The programme folder.

    Returns
    -------
    HandoverSettings

    Raises
    ------
    UnknownHandoverSetting
        A name that means nothing, with the nearest that does.
    BadHandoverSetting
        A value of the wrong kind or out of range.
    BadProgrammeFile, FileUnreadable
        The file cannot be used at all.
    """
    told = _FORMS.table(programme_tables(folder).get("handover", {}), _NAMES, "handover")
    made: dict[str, Any] = {}
    if "least_probability" in told:
        made["least_probability"] = _FORMS.number("handover.least_probability", told["least_probability"], 0.5, 1.0)
    if "ports_per_file" in told:
        made["ports_per_file"] = _FORMS.whole("handover.ports_per_file", told["ports_per_file"], 1, 10_000)
    if "allow_checks" in told:
        made["allow_checks"] = _FORMS.truth("handover.allow_checks", told["allow_checks"])
    return HandoverSettings(**made)
