"""Settle: from findings to adjustments by account and period, claims, and what could not be put right."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from dialtrue.domain.claims.claim import Claim
from dialtrue.domain.faults import INNOCENT
from dialtrue.domain.finding import Crossing, Finding
from dialtrue.domain.quantity import exact_decimal, litres_per
from dialtrue.domain.settlement.adjustment import Adjustment, Basis, LeftOut
from dialtrue.domain.settlement.like_days import LONG_GAP_DAYS, DayUse, fleet_profile, like_days, own_history
from dialtrue.domain.settlement.settings import SettleSettings
from dialtrue.files.programme import Programme, open_programme
from dialtrue.services.settle_claims import claimed
from dialtrue.services.settle_findings import Confirmed, confirmed_by_checks
from dialtrue.services.settle_mend import ESTIMATED_FAULTS, Mend, mend_of
from dialtrue.services.settle_periods import put_right
from dialtrue.services.settle_reads import Channel, channels_of
from dialtrue.services.settle_records import Records, RegisterRecord, Row, keyed
from dialtrue.services.watch import Progress, watch_folder

_QUIET = frozenset({"sound", *INNOCENT})
_FLEET_PORTS = 40
"""Registers of the same size that a fleet profile looks at. Our assumption."""


CountedBy = dict[tuple[str, str], list[tuple[str, int, bool]]]
"""Ports that truly count a meter, by the meter and the endpoint on record, and whether the records are what is
exchanged; a compound meter has two."""


@dataclass(frozen=True, slots=True)
class Settlement:
    """What follows from the findings.

    ``adjustments`` by account, meter and period; ``left_out`` what could not be put right, with the reason; ``claims``
    by (account, meter, role); ``records`` by (meter, role), for statements; ``waiting`` findings that nobody has
    confirmed and that were not assumed; ``said`` what reading the files brought up.
    """

    adjustments: tuple[Adjustment, ...]
    left_out: tuple[LeftOut, ...]
    claims: Mapping[tuple[str, str, str], Claim]
    records: Mapping[tuple[str, str], RegisterRecord]
    waiting: tuple[Finding, ...]
    said: tuple[str, ...]
    timezone: str


def settle_folder(
    folder: Path,
    *,
    at: dt.datetime,
    settings: SettleSettings,
    findings: tuple[Sequence[Finding], Sequence[Crossing]] | None = None,
    progress: Progress | None = None,
) -> Settlement:
    """Put every finding of a programme right that can be.

    Parameters
    ----------
    folder : Path
        Programme folder: sites, fittings, reads; dial_reads, checks, bills and use_history where they are.
    at : datetime
        The time of the run, aware.
    settings : SettleSettings
    findings : tuple of sequences, optional
        Findings and crossings from an earlier watch; without them the watch is run.
    progress : callable, optional
        Called as ``progress(what, done, total)``.

    Returns
    -------
    Settlement
        Running it again gives the same: nothing of it is written back into what was billed.

    Raises
    ------
    DialtrueError
        A file cannot be used.

    Source
    ------
    Models, section 5.
    """
    if findings is None:
        watched = watch_folder(folder, at=at, traces=0, progress=progress)
        findings = watched.findings, watched.crossings
    programme = open_programme(folder, at=at)
    chosen, waiting = _chosen(findings[0], confirmed_by_checks(programme), settings)
    counted_by: CountedBy = {}
    for crossing in findings[1]:
        key = (crossing.meter_serial, crossing.endpoint_serial)
        counted_by.setdefault(key, []).append(
            (crossing.true_endpoint_serial, crossing.true_port, crossing.kind == "records")
        )
    return _settled(programme, chosen, waiting, counted_by, settings, at)


def _chosen(
    findings: Sequence[Finding], confirmed: Confirmed, settings: SettleSettings
) -> tuple[list[tuple[Finding, Basis]], list[Finding]]:
    """Return the findings that are settled, each with its basis, and those that wait for somebody to look."""
    chosen: list[tuple[Finding, Basis]] = []
    waiting = []
    for finding in findings:
        told = confirmed.of(finding)
        if told is not None:
            if told.fault not in _QUIET:
                chosen.append((told, "confirmed"))
        elif finding.fault in _QUIET or not finding.meter_serial:
            continue
        elif settings.assume and finding.probability >= settings.assume_from:
            chosen.append((finding, "assumed"))
        else:
            waiting.append(finding)
    return chosen, waiting


def _settled(
    programme: Programme,
    chosen: Sequence[tuple[Finding, Basis]],
    waiting: Sequence[Finding],
    counted_by: CountedBy,
    settings: SettleSettings,
    at: dt.datetime,
) -> Settlement:
    """Settle the chosen findings."""
    records = Records(programme)
    ports = {(finding.endpoint_serial, finding.port) for finding, _ in chosen}
    meters = {finding.meter_serial for finding, _ in chosen}
    ports |= {port[:2] for key, true in counted_by.items() if key[0] in meters for port in true}
    still = [finding for finding, _ in chosen if finding.fault in ESTIMATED_FAULTS]
    doubtful = ports | {(finding.endpoint_serial, finding.port) for finding in waiting}
    alike = _alike(programme, still, doubtful)
    pinned: dict[tuple[str, int], set[dt.datetime]] = {port: set() for port in ports}
    for finding, _ in chosen:
        moments = records.moments(finding.meter_serial) | ({finding.since} if finding.since is not None else set())
        true = counted_by.get((finding.meter_serial, finding.endpoint_serial), [])
        for port in ((finding.endpoint_serial, finding.port), *(each[:2] for each in true)):
            pinned[port] |= moments
    channels = channels_of(programme, ports | {port for found in alike.values() for port in found}, pinned=pinned)
    desk = _Desk(programme, records, channels, counted_by, alike)
    rows: list[Adjustment] = []
    left: list[LeftOut] = []
    known: dict[str, bool] = {}
    right: dict[str, dt.date] = {}
    kept: dict[tuple[str, str], RegisterRecord] = {}
    said = [problem.says() for problem in programme.problems] + list(programme.notes)
    for finding, basis in chosen:
        name = (
            f"{finding.fault} at {finding.endpoint_serial} port {finding.port}"
            if finding.endpoint_serial
            else finding.fault
        )
        found = desk.mend(finding)
        if isinstance(found, str):
            left.append(LeftOut(finding.meter_serial, finding.register_role, name, found))
            continue
        record, mend = found
        key = (record.meter_serial, record.register_role)
        made, missing = put_right(record, mend, finding=name, basis=basis, settings=settings, zone=programme.timezone)
        known[record.meter_serial] = known.get(record.meter_serial, True) and _since_known(finding)
        right[record.meter_serial] = record.fitted_at.date()
        rows += made
        left += missing
        kept[key] = record
        said += [f"{record.name}: {sentence}" for sentence in record.said]
    rows.sort(key=lambda row: (row.account, row.meter_serial, row.register_role, row.period_start))
    rows, claims = claimed(rows, settings, found=at.date(), since_known=known, last_right=right)
    return Settlement(tuple(rows), tuple(left), claims, kept, tuple(waiting), tuple(said), programme.timezone)


def _since_known(finding: Finding) -> bool:
    """Return whether the onset is known to within a month, or is the fitting itself."""
    if finding.since is None or finding.since_low is None or finding.since_high is None:
        return finding.fault in ("start_slip", "weight_decade", "unit_slip", "crossed", "ports_swapped")
    return finding.since_high - finding.since_low <= dt.timedelta(days=31)


def _alike(
    programme: Programme, still: Sequence[Finding], doubtful: Set[tuple[str, int]]
) -> dict[str, list[tuple[str, int]]]:
    """Return, for each register to be estimated, ports of other meters of its size against which nothing is found."""
    if not still or "sites" not in programme.tables or "fittings" not in programme.tables:
        return {}
    size = {keyed(row): row.get("meter_size") for row in programme.tables["sites"].to_pylist()}
    ports: dict[object, list[tuple[str, int]]] = {}
    for row in programme.tables["fittings"].to_pylist():
        port = (str(row["endpoint_serial"]), int(row["port"] or 1))
        held = ports.setdefault(size.get(keyed(row)), [])
        if port not in doubtful and len(held) < _FLEET_PORTS:
            held.append(port)
    return {
        finding.meter_serial: ports.get(size.get((finding.meter_serial, finding.register_role)), [])
        for finding in still
    }


class _Desk:
    """Puts together what one mend needs."""

    def __init__(
        self,
        programme: Programme,
        records: Records,
        channels: Mapping[tuple[str, int], Channel],
        counted_by: CountedBy,
        alike: Mapping[str, list[tuple[str, int]]],
    ) -> None:
        self._programme, self._records, self._channels = programme, records, channels
        self._counted_by, self._alike = counted_by, alike
        self._billed: dict[tuple[str, str], list[Row]] | None = None
        self._made: dict[tuple[str, str, int], RegisterRecord | str] = {}

    def mend(self, finding: Finding) -> tuple[RegisterRecord, Mend] | str:
        """Return a register's record and its mend, or why there is none."""
        record = self._record(finding.meter_serial, finding.endpoint_serial, finding.port)
        if isinstance(record, str):
            return record
        other = None
        own = (finding.endpoint_serial, finding.port)
        held = self._counted_by.get((finding.meter_serial, finding.endpoint_serial), [])
        true = next((port for port in held if port[:2] != own), None)
        if finding.fault in ("crossed", "ports_swapped") and true is not None:
            meter = self._records.meter_at(true[:2])
            nowhere = "the port that counts this register is in no fitting"
            found = self._record(meter, *true[:2]) if meter is not None else nowhere
            if isinstance(found, str):
                return found
            other = found
        day_use = self._day_use(record, finding) if finding.fault in ESTIMATED_FAULTS else None
        by_records = true is not None and true[2]
        mend = mend_of(record, finding, other=other, by_records=by_records, day_use=day_use)
        return mend if isinstance(mend, str) else (record, mend)

    def _record(self, meter: str, endpoint: str, port: int) -> RegisterRecord | str:
        key = (meter, endpoint, port)
        if key not in self._made:
            self._made[key] = self._read(meter, endpoint, port)
        return self._made[key]

    def _read(self, meter: str, endpoint: str, port: int) -> RegisterRecord | str:
        fitting = self._records.fitting(meter, endpoint, port)
        if fitting is None:
            return "the port is in no fitting of this meter"
        return self._records.record(fitting, self._channels.get((endpoint, port), []))

    def _day_use(self, record: RegisterRecord, finding: Finding) -> DayUse | None:
        """Return the use a day: like days, over a longer time the same season before; else history, else the fleet."""
        since = max(finding.since or record.fitted_at, record.fitted_at)
        end = record.course.at[-1]
        found = like_days(record.course, until=since, zone=self._programme.timezone)
        before = own_history(self._history(record), first=since.date(), last=end.date())
        if before is not None and (found is None or (before.seasonal and (end - since).days > LONG_GAP_DAYS)):
            return before
        if found is not None:
            return found
        uses = []
        for port in self._alike.get(record.meter_serial, []):
            meter = self._records.meter_at(port)
            other = "" if meter is None else self._record(meter, *port)
            if isinstance(other, str):
                continue
            days = Fraction((min(end, other.course.at[-1]) - since) // dt.timedelta(seconds=1), 86_400)
            if days > 1:
                uses.append((other.course.at_time(end) - other.course.at_time(since)) / days)
        return fleet_profile([use for use in uses if use >= 0])

    def _history(self, record: RegisterRecord) -> list[tuple[dt.date, dt.date, Fraction]]:
        """Return the billed periods before the fitting. [L]"""
        if self._billed is None:
            self._billed = {}
            table = self._programme.tables.get("use_history")
            for row in [] if table is None else table.to_pylist():
                if not row.get("estimated"):
                    self._billed.setdefault(keyed(row), []).append(row)
        return [
            (row["start"], row["end"], exact_decimal(str(row["volume"])) * litres_per(row["unit"]))
            for row in self._billed.get((record.meter_serial, record.register_role), [])
        ]
