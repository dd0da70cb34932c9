"""Who is heard, and what the records say of each port that is: capacity, flow, fittings, alarms."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from dialtrue.engine.fleet import NEVER, Ints
from dialtrue.engine.read_checks import PortRecords
from dialtrue.services.fleet_records import FleetRecords
from dialtrue.services.table_columns import moments_us, texts, whole_numbers

POWER_ALARMS = ("cut_wire", "low_battery")
"""Alarms that throw doubt on the count beside them: the line or the cell was down. Our assumption."""


@dataclass(slots=True)
class HeardPorts:
    """Every (endpoint, port) heard, in order of serial and port; ``keys`` are sorted, ``rank`` their place."""

    names: list[tuple[str, int]]
    keys: Ints
    rank: Ints
    first_us: int
    last_us: int
    reads: int
    until_us: int = 0
    """Up to when reads of a port are looked for; what nearly all ports have reached. [µs]"""

    @classmethod
    def of(cls, keys: set[int], endpoints: list[str], first_us: int, last_us: int, reads: int) -> HeardPorts:
        """Number the ports heard."""
        ordered = sorted(keys, key=lambda key: (endpoints[key >> 32], key & 0xFFFFFFFF))
        place = {key: number for number, key in enumerate(ordered)}
        by_key = sorted(keys)
        names = [(endpoints[key >> 32], key & 0xFFFFFFFF) for key in ordered]
        rank = np.array([place[key] for key in by_key], np.int64)
        return cls(names, np.array(by_key, np.int64), rank, first_us, last_us, reads)

    @property
    def size(self) -> int:
        """Ports heard."""
        return len(self.names)

    def channel_of(self, endpoint: np.ndarray, port: np.ndarray) -> np.ndarray:
        """Return the number of each read's port."""
        keys = (endpoint.astype(np.int64) << 32) + port
        # Reads of one port mostly stand together: look each stretch up once.
        begin = np.flatnonzero(np.diff(keys, prepend=keys[0] - 1)) if len(keys) else np.zeros(0, np.int64)
        number = self.rank[np.searchsorted(self.keys, keys[begin])].astype(np.int32)
        return np.repeat(number, np.diff(np.append(begin, len(keys))))


@dataclass(slots=True)
class KnownPorts:
    """What the records say of some runs. ``fitting`` (runs,) is the last fitting of each, -1 where there is none."""

    names: list[tuple[str, int]]
    meters: list[str]
    fitting: Ints
    arrays: PortRecords
    until_us: Ints
    alarm_first: Ints
    alarms_us: Ints
    active: list[bool | None]


def port_records(
    runs: np.ndarray, heard: HeardPorts, records: FleetRecords, tables: dict[str, pa.Table], *, until_us: int
) -> KnownPorts:
    """Gather what the records say of some ports.

    Parameters
    ----------
    runs : int array
        Numbers of the ports, in order.
    heard : HeardPorts
        All ports heard.
    records : FleetRecords
        The fleet.
    tables : dict
        Normalised tables, for alarms and for the column ``active`` of sites.
    until_us : int
        Up to then reads were to come. [µs]

    Returns
    -------
    KnownPorts

    Raises
    ------
    Never raises.
    """
    fleet = records.fleet
    names = [heard.names[k] for k in runs.tolist()]
    number = {name: k for k, name in enumerate(names)}
    channel = {records.channels[name]: k for k, name in enumerate(names) if name in records.channels}
    fitting = np.full(len(names), -1, np.int64)
    breaks: list[list[int]] = [[] for _ in names]
    rows = np.flatnonzero(np.isin(fleet.channel, np.array(list(channel), np.int64)))
    for f in rows[np.argsort(fleet.fit_us[rows], kind="stable")].tolist():
        k = channel[int(fleet.channel[f])]
        fitting[k] = f
        breaks[k] += [int(us) for us in (fleet.fit_us[f], fleet.removed_us[f]) if 0 < us < NEVER]
    there, at = fitting >= 0, np.maximum(fitting, 0)
    capacity = np.zeros(len(names), np.int64)
    most, until = np.full(len(names), np.inf), np.full(len(names), until_us, np.int64)
    if fleet.size:
        capacity = np.where(there, fleet.capacity_counts[at], 0)
        per_us = fleet.flow_limit_l_s[at] / fleet.quantum_index_l[at] / 1e6
        most = np.where(there & np.isfinite(per_us), per_us, np.inf)
        until = np.where(there, np.minimum(fleet.removed_us[at], until_us), until_us)
    alarms: list[list[int]] = [[] for _ in names]
    table = tables.get("alarms")
    if table is not None and table.num_rows:
        ports, moments = whole_numbers(table["port"], 1).tolist(), moments_us(table["at"], 0).tolist()
        raised = zip(texts(table["endpoint_serial"]), ports, moments, texts(table["alarm"]), strict=True)
        for serial, port, moment, alarm in raised:
            if alarm in POWER_ALARMS and (serial, port) in number:
                alarms[number[serial, port]].append(moment)
    break_first, breaks_us = _runs_of(breaks)
    alarm_first, alarms_us = _runs_of(alarms)
    meters = [fleet.meter_serial[f] if f >= 0 else "" for f in fitting.tolist()]
    arrays = PortRecords(capacity, most, break_first, breaks_us)
    return KnownPorts(names, meters, fitting, arrays, until, alarm_first, alarms_us, _active(fitting, records))


def _active(fitting: Ints, records: FleetRecords) -> list[bool | None]:
    """Return whether the site of each is in use, None where no column ``active`` says so."""
    said: list[bool | None] = []
    for f in fitting.tolist():
        row = records.site_rows[f] if f >= 0 else None
        word = str((row or {}).get("active") or "").strip().lower()
        said.append(True if word in ("true", "yes", "1") else False if word in ("false", "no", "0") else None)
    return said


def _runs_of(lists: list[list[int]]) -> tuple[Ints, Ints]:
    first = np.zeros(len(lists) + 1, np.int64)
    first[1:] = np.cumsum([len(some) for some in lists])
    return first, np.array([each for some in lists for each in sorted(some)], np.int64)
