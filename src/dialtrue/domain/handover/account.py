"""What is wanted of a handover, and what came of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

FORMS: Final = ("csv", "parquet", "espi", "senml")


@dataclass(frozen=True, slots=True)
class HandoverOptions:
    """What is wanted of a handover; ``espi_use``: ESPI files carry the use between reads, not the index.

    ``least_probability`` and ``ports_per_file`` as in ``HandoverSettings``.
    """

    forms: tuple[str, ...] = FORMS
    include_doubtful: bool = False
    without_accounts: bool = False
    salt: str = ""
    salt_kept: bool = False
    daily: bool = False
    espi_use: bool = False
    allow_checks: bool = False
    least_probability: float | None = None


@dataclass(slots=True)
class HandoverResult:
    """What was handed over: counts, reasons, files with rows and bytes, and all that is to be said."""

    folder: str
    ports: int = 0
    handed: int = 0
    doubtful: int = 0
    left_out: int = 0
    reads: int = 0
    unfitted: int = 0
    by_rule: dict[str, int] = field(default_factory=dict)
    reads_left_out: dict[str, int] = field(default_factory=dict)
    files: list[dict[str, Any]] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    examples: list[dict[str, Any]] = field(default_factory=list)
