"""What one watch of a programme gives: findings, rings, the traces behind them, and what could not be judged."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

from dialtrue.domain.finding import Crossing, Finding


@dataclass(frozen=True, slots=True)
class DialPoint:
    """A dial read beside the index at the same moment.

    ``dial_text`` is every position as seen; ``index_count`` the index as sent, None if no read brackets the moment.
    Volumes are counted since the fitting, in the dial's unit.
    """

    at: dt.datetime
    dial_text: str
    source: str
    dial_volume: float | None
    index_count: int | None
    index_volume: float | None


@dataclass(frozen=True, slots=True)
class PortTrace:
    """The series that the picture of one port needs. Volumes since the fitting, in the dial's unit."""

    meter_serial: str
    endpoint_serial: str
    port: int
    register_role: str
    site: str
    address: str
    dial_unit: str
    moving_digits: int
    fixed_zeros: int
    dial_resolution: str
    index_digits: int
    index_unit: str
    index_resolution: str
    fitted_at: dt.datetime | None
    start_index: str
    dial_at_fit: str
    dial_points: tuple[DialPoint, ...]
    index_at: tuple[dt.datetime, ...]
    index_volume: tuple[float, ...]
    wet_spans: tuple[tuple[dt.datetime, dt.datetime], ...]
    since: dt.datetime | None
    since_low: dt.datetime | None
    since_high: dt.datetime | None


@dataclass(frozen=True, slots=True)
class WatchSummary:
    """The figures that stand first.

    ``volume_at_stake_l`` sums the absolute volume error of findings that ask for an action [L]; ``unit`` is the
    commonest dial unit of the programme, for print.
    """

    ports: int
    reads: int
    first_read: dt.datetime | None
    last_read: dt.datetime | None
    by_fault: dict[str, int]
    visits: int
    remote_checks: int
    over_registered_l: float
    under_registered_l: float
    volume_at_stake_l: float
    unit: str


@dataclass(frozen=True, slots=True)
class RowProblem:
    """One row that was not loaded, and why. ``row`` is the line in the file, header = 1 (Parquet: rows from 1)."""

    file: str
    row: int
    column: str
    value: str
    expected: str
    remedy: str
    code: str

    def says(self) -> str:
        """Return the sentence that a person reads."""
        where = f"{self.file}, row {self.row}" + (f", {self.column}" if self.column else "")
        return f"{where} {self.value!r}: {self.expected} is expected. {self.remedy} [{self.code}]"


@dataclass(frozen=True, slots=True)
class Repair:
    """A change that is offered and made only if its key (or kind) is accepted; ``row`` is 0 where it is not one row."""

    key: str
    kind: str
    file: str
    row: int
    column: str
    original: str
    proposed: str
    why: str
    accepted: bool = False

    def says(self) -> str:
        """Return the sentence that a person reads."""
        where = f"{self.file}" + (f", row {self.row}" if self.row else "") + f", {self.column}"
        done = "Repaired as accepted" if self.accepted else "Offered"
        how = "" if self.accepted else f" Accept it with --accept {self.key}."
        return f"{done}: {where} {self.original!r} to {self.proposed!r}, for {self.why}.{how}"


@dataclass(frozen=True, slots=True)
class WatchResult:
    """Findings by falling priority, with everything the terminal and the report print.

    ``missing`` holds (table, what its absence costs); ``said`` plain sentences on zones, assumptions and the like;
    ``traces`` covers the findings worth a picture, keyed as the findings are. ``bad_rows`` counts the rows left out by
    file, ``problems`` describes the first ones of each file; ``repairs`` are those offered and those made.
    """

    findings: Sequence[Finding]
    crossings: tuple[Crossing, ...]
    summary: WatchSummary
    traces: dict[tuple[str, str, int], PortTrace]
    missing: tuple[tuple[str, str], ...]
    said: tuple[str, ...]
    problems: tuple[RowProblem, ...] = ()
    bad_rows: dict[str, int] = field(default_factory=dict)
    repairs: tuple[Repair, ...] = ()
