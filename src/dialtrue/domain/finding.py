"""A finding: the verdict on one fitted port, with its reason."""

from __future__ import annotations

import datetime as dt
from abc import abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

Action = Literal["none", "remote_check", "visit"]
Figure = str | int | float | None


@dataclass(frozen=True, slots=True)
class Evidence:
    """One rule that spoke.

    ``weight`` is the rule's log-likelihood for the named fault less that for sound [nat]; positive speaks for the
    fault. ``figures`` maps a name with its unit to the figure used.
    """

    rule: str
    says: str
    figures: dict[str, Figure]
    weight: float


@dataclass(frozen=True, slots=True)
class Finding:
    """The verdict on one fitted port. Volumes in litres, registered minus true since the fitting.

    ``since_low`` and ``since_high`` are the 90 % interval of ``since``.
    """

    meter_serial: str
    endpoint_serial: str
    port: int
    register_role: str
    fault: str
    probability: float
    runner_up: str
    runner_up_probability: float
    action: Action
    since: dt.datetime | None
    volume_error_l: float | None
    volume_error_low_l: float | None
    volume_error_high_l: float | None
    parameter: float | None
    next_check: str
    remedy: str
    verdict: str
    evidence: tuple[Evidence, ...] = field(default_factory=tuple)
    priority: float = 0.0
    since_low: dt.datetime | None = None
    since_high: dt.datetime | None = None


class Findings(Sequence[Finding]):
    """Findings by falling priority that need not stand in memory as objects; built row by row when asked for.

    Equal to another sequence of findings where every finding is.
    """

    @abstractmethod
    def columns(self) -> Mapping[str, Sequence[Any]]:
        """Return every column of the findings table at once, by name.

        Times are UTC microseconds, -1 where blank; figures are nan where blank; texts are empty where blank.
        """

    @abstractmethod
    def asking(self) -> Sequence[Finding]:
        """Return those that ask for an action, in order."""

    @abstractmethod
    def naming(self, code: str) -> Sequence[Finding]:
        """Return those that name a cause, in order."""

    def __eq__(self, other: object) -> bool:
        """Compare finding by finding."""
        if not isinstance(other, Sequence) or len(other) != len(self):
            return NotImplemented if not isinstance(other, Sequence) else False
        return all(one == two for one, two in zip(self, other, strict=True))

    def __hash__(self) -> int:
        """Hash by length alone: equal sequences have equal lengths."""
        return hash(len(self))


def asking(findings: Sequence[Finding]) -> Sequence[Finding]:
    """Return the findings that ask for an action, in order; quick where the sequence knows them. Never raises."""
    if isinstance(findings, Findings):
        return findings.asking()
    return tuple(finding for finding in findings if finding.action != "none")


def naming(findings: Sequence[Finding], code: str) -> Sequence[Finding]:
    """Return the findings that name a cause, in order; quick where the sequence knows them. Never raises."""
    if isinstance(findings, Findings):
        return findings.naming(code)
    return tuple(finding for finding in findings if finding.fault == code)


@dataclass(frozen=True, slots=True)
class Crossing:
    """One port of a ring of exchanged endpoints."""

    ring: int
    meter_serial: str
    endpoint_serial: str
    true_endpoint_serial: str
    true_port: int
    kind: str
    probability: float
