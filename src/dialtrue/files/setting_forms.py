"""The forms of a setting, and how one that is unknown or has no such form is refused, for every table of settings."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final, NoReturn

from dialtrue.domain.errors import DialtrueError

PROGRAMME_FILE: Final = "programme.toml"


@dataclass(frozen=True, slots=True)
class SettingForms:
    """Reads the settings of one kind; ``unknown`` and ``bad`` are its errors, ``file`` is named in them.

    ``unknown`` is built with file, key and nearest; ``bad`` with file, key, value and expected.
    """

    unknown: type[DialtrueError]
    bad: type[DialtrueError]
    file: str = PROGRAMME_FILE

    def table(self, told: Any, known: Iterable[str], key: str) -> dict[str, Any]:
        """Return a table whose names are all known; ``key`` is its own name, blank for the whole file.

        Raises
        ------
        DialtrueError
            ``bad`` where it is no table; ``unknown`` with the nearest names for the first that is not known.
        """
        if not isinstance(told, dict):
            self.refuse(key, told, f"it as a table, [{key}]")
        names, above = tuple(known), f"{key}." if key else ""
        for name in told:
            if name not in names:
                near = difflib.get_close_matches(name, names, n=3, cutoff=0.5) or sorted(names)[:5]
                nearest = ", ".join(f"{above}{word}" for word in near)
                raise self.unknown(file=self.file, key=f"{above}{name[:60]}", nearest=nearest)
        return told

    def refuse(self, key: str, value: Any, expected: str) -> NoReturn:
        """Raise ``bad`` for a value, which is shown cut short."""
        raise self.bad(file=self.file, key=key, value=repr(value)[:60], expected=expected)

    def number(self, key: str, value: Any, least: float, most: float) -> float:
        """Return a finite number in its range; raises ``bad``."""
        if not (is_number(value) and least <= value <= most):
            self.refuse(key, value, f"a number from {least:g} to {most:,g}, without quotes")
        return float(value)

    def whole(self, key: str, value: Any, least: int, most: int) -> int:
        """Return a whole number in its range; raises ``bad``."""
        if not (is_whole(value) and least <= value <= most):
            self.refuse(key, value, f"a whole number from {least} to {most:,}, without quotes")
        return int(value)

    def truth(self, key: str, value: Any) -> bool:
        """Return true or false; raises ``bad``."""
        if not isinstance(value, bool):
            self.refuse(key, value, "true or false")
        return value


def is_whole(value: Any) -> bool:
    """Return whether a value is a whole number; true and false are none. Never raises."""
    return isinstance(value, int) and not isinstance(value, bool)


def is_number(value: Any) -> bool:
    """Return whether a value is a finite number; true and false are none. Never raises."""
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
