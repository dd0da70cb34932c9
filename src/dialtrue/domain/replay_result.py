"""What a replay of a season gives: each step's findings that asked for an action, and how soon faults were found."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from dialtrue.domain.finding import Action

Key = tuple[str, str, int]
"""Meter serial, endpoint serial, port."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A finding that asked for an action at one step; fields as in ``Finding``."""

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
    priority: float
    verdict: str

    @property
    def key(self) -> Key:
        """Meter serial, endpoint serial, port."""
        return self.meter_serial, self.endpoint_serial, self.port


@dataclass(frozen=True, slots=True)
class ReplayStep:
    """One run of the replay: when it was made, what it had, and what it asked for, most costly to leave first."""

    as_of: dt.datetime
    ports: int
    reads: int
    asked: tuple[Asked, ...]

    @property
    def visits(self) -> int:
        """Ports that asked for a visit."""
        return sum(item.action == "visit" for item in self.asked)

    @property
    def remote_checks(self) -> int:
        """Ports that asked for a check from the desk."""
        return sum(item.action == "remote_check" for item in self.asked)


@dataclass(frozen=True, slots=True)
class PlantedFault:
    """What a simulated town tells of one port: its fault, since when, and whether the fault is worth finding."""

    key: Key
    fault: str
    since: dt.datetime | None
    material: bool


@dataclass(frozen=True, slots=True)
class DelayCurve:
    """Share of faults flagged by days since their onset.

    ``name`` is the family of faults; ``ports`` how many there were, ``flagged`` how many asked for an action before the
    replay ended; ``days`` rising, ``share`` flagged by then [0 to 1]; ``median_days`` None where fewer than half were;
    ``watched_days`` is how long the longest was followed.
    """

    name: str
    ports: int
    flagged: int
    days: tuple[float, ...]
    share: tuple[float, ...]
    median_days: float | None
    watched_days: float

    def by(self, day: float) -> float:
        """Return the share flagged by a day after the onset."""
        found = 0.0
        for at, share in zip(self.days, self.share, strict=True):
            if at > day:
                break
            found = share
        return found


@dataclass(frozen=True, slots=True)
class StepScore:
    """One step against the truth: visits newly asked for, and those of them at ports that were healthy then."""

    as_of: dt.datetime
    new_visits: int
    wasted: int
    healthy: int


@dataclass(frozen=True, slots=True)
class ReplayScore:
    """A replay against what was planted.

    ``curves`` begins with all faults together, then one a family, largest first; ``by_fault`` has one a fault code.
    ``wasted_rate`` is wasted visits per 1,000 healthy ports per 30 days.
    """

    curves: tuple[DelayCurve, ...]
    by_fault: tuple[DelayCurve, ...]
    steps: tuple[StepScore, ...]
    wasted_rate: float


@dataclass(frozen=True, slots=True)
class ReplayResult:
    """All steps in order, and the score where the truth was given."""

    steps: tuple[ReplayStep, ...]
    score: ReplayScore | None
    said: tuple[str, ...] = ()
