"""programme.toml, the table ``[handover]``."""

from __future__ import annotations

import difflib
import math
from dataclasses import fields
from pathlib import Path
from typing import Any, Final

from dialtrue.domain.errors.handover import BadHandoverSetting, UnknownHandoverSetting
from dialtrue.domain.handover.rules import HandoverSettings
from dialtrue.files.settings import programme_tables

_FILE: Final = "programme.toml"
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
    told = programme_tables(folder).get("handover", {})
    if not isinstance(told, dict):
        raise BadHandoverSetting(
            file=_FILE, key="handover", value=repr(told)[:60], expected="it as a table, [handover]"
        )
    for name in told:
        if name not in _NAMES:
            near = difflib.get_close_matches(name, _NAMES, n=3, cutoff=0.5) or sorted(_NAMES)
            raise UnknownHandoverSetting(
                file=_FILE, key=f"handover.{name[:60]}", nearest=", ".join(f"handover.{word}" for word in near)
            )
    made: dict[str, Any] = {}
    if "least_probability" in told:
        made["least_probability"] = float(_number(told["least_probability"], "least_probability", 0.5, 1.0, float))
    if "ports_per_file" in told:
        made["ports_per_file"] = _number(told["ports_per_file"], "ports_per_file", 1, 10_000, int)
    if "allow_checks" in told:
        made["allow_checks"] = told["allow_checks"]
        if not isinstance(told["allow_checks"], bool):
            raise BadHandoverSetting(
                file=_FILE, key="handover.allow_checks", value=repr(told["allow_checks"])[:60], expected="true or false"
            )
    return HandoverSettings(**made)


def _number(value: Any, name: str, least: float, most: float, kind: type) -> Any:
    """Return a number of the kind within its range."""
    allowed = (int,) if kind is int else (int, float)
    good = isinstance(value, allowed) and not isinstance(value, bool) and math.isfinite(value)
    if not good or not least <= value <= most:
        word = "a whole number" if kind is int else "a number"
        raise BadHandoverSetting(
            file=_FILE, key=f"handover.{name}", value=repr(value)[:60],
            expected=f"{word} from {least:g} to {most:,g}, without quotes",
        )  # fmt: skip
    return value
