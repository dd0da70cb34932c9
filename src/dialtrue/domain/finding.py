"""A finding: the verdict on one fitted port, with its reason."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Literal

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
    """The verdict on one fitted port. Volumes in litres, registered minus true since the fitting."""

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
