"""What one watch of a programme gives: findings, rings, the traces behind them, and what could not be judged."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

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
class WatchResult:
    """Findings by falling priority, with everything the terminal and the report print.

    ``missing`` holds (table, what its absence costs); ``said`` holds plain sentences on repairs, zones, counts of bad
    rows and the like; ``traces`` covers the findings worth a picture, keyed as the findings are.
    """

    findings: tuple[Finding, ...]
    crossings: tuple[Crossing, ...]
    summary: WatchSummary
    traces: dict[tuple[str, str, int], PortTrace]
    missing: tuple[tuple[str, str], ...]
    said: tuple[str, ...]
