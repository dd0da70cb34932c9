"""Serials across tables: dropped leading zeros and exchanged columns, offered one by one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import pyarrow as pa
import pyarrow.compute as pc

from dialtrue.files.problems import ProblemLog, Repair


@dataclass(slots=True)
class KnownSerials:
    """Serials that are on record, found again when their leading zeros are lost."""

    serials: set[str] = field(default_factory=set)
    _by_stripped: dict[str, set[str]] | None = None

    @classmethod
    def of(cls, serials: Iterable[str | None]) -> KnownSerials:
        """Gather the serials on record."""
        return cls({serial for serial in serials if serial})

    @property
    def by_stripped(self) -> dict[str, set[str]]:
        """The serials on record by what is left without leading zeros; gathered when first asked for."""
        if self._by_stripped is None:
            self._by_stripped = {}
            for serial in self.serials:
                self._by_stripped.setdefault(stripped(serial), set()).add(serial)
        return self._by_stripped

    def padded(self, serial: str) -> str | None:
        """Return the one serial on record that is this one but for leading zeros, or None. Never raises."""
        if serial in self.serials:
            return None
        alike = self.by_stripped.get(stripped(serial), set())
        return next(iter(alike)) if len(alike) == 1 else None


def stripped(serial: str) -> str:
    """Return a serial of digits without its leading zeros; any other text as it is.

    Never raises.

    Examples
    --------
    >>> stripped("00123"), stripped("00A1"), stripped("000")
    ('123', '00A1', '0')
    """
    return (serial.lstrip("0") or "0") if serial.isascii() and serial.isdigit() else serial


def offer_serial_repairs(tables: dict[str, pa.Table], files: dict[str, str], log: ProblemLog) -> None:
    """Offer repairs of serials that match nothing on record, and make those that are accepted.

    Parameters
    ----------
    tables : dict
        Normalised tables; changed in place where a repair is accepted.
    files : dict
        Table name to the file it came from.
    log : ProblemLog
        Takes the offers.

    Notes
    -----
    First, meter and endpoint serial of a fitting exchanged: the meter is no meter on record and the endpoint is. Then
    leading zeros: the shorter of two serials that differ by zeros alone has lost them, be it in sites or elsewhere.
    Never raises.
    """
    _offer_exchanged(tables, files, log)
    if "sites" in tables:
        _offer_lost_in_sites(tables, files, log)
    meters = _serials(tables, "sites" if "sites" in tables else "fittings", "meter_serial")
    for name in ("fittings", "dial_reads", "use_history"):
        if name in tables and meters.serials and not (name == "fittings" and "sites" not in tables):
            _offer_zeros(tables, files, name, "meter_serial", meters, log)
    endpoints = _serials(tables, "fittings", "endpoint_serial")
    if "alarms" in tables and endpoints.serials:
        _offer_zeros(tables, files, "alarms", "endpoint_serial", endpoints, log)


def _serials(tables: dict[str, pa.Table], name: str, column: str) -> KnownSerials:
    return KnownSerials.of(pc.unique(tables[name][column]).to_pylist() if name in tables else ())


def _offer_exchanged(tables: dict[str, pa.Table], files: dict[str, str], log: ProblemLog) -> None:
    if "sites" not in tables or "fittings" not in tables:
        return
    fittings = tables["fittings"]
    meters = pc.unique(tables["sites"]["meter_serial"])
    wrong = pc.and_(
        pc.invert(pc.is_in(fittings["meter_serial"], value_set=meters)),
        pc.is_in(fittings["endpoint_serial"], value_set=meters),
    )
    rows = [row for row, odd in enumerate(wrong.to_pylist()) if odd]
    if not rows:
        return
    columns = {name: fittings[name].to_pylist() for name in ("meter_serial", "endpoint_serial")}
    lines = fittings["_row"].to_pylist()
    taken = False
    for row in rows:
        meter, endpoint = columns["meter_serial"][row], columns["endpoint_serial"][row]
        if log.offer(
            Repair(
                f"swap:fittings:{meter}:{endpoint}", "swap", files["fittings"], lines[row],
                "meter_serial, endpoint_serial", f"{meter}, {endpoint}", f"{endpoint}, {meter}",
                "the meter serial is not in sites and the endpoint serial is: the two are exchanged",
            )):  # fmt: skip
            columns["meter_serial"][row], columns["endpoint_serial"][row] = endpoint, meter
            taken = True
    if taken:
        for name, values in columns.items():
            tables["fittings"] = _with(tables["fittings"], name, values)


def _offer_lost_in_sites(tables: dict[str, pa.Table], files: dict[str, str], log: ProblemLog) -> None:
    """Offer longer serials for sites whose meter is named with more zeros everywhere else."""
    others = KnownSerials.of(
        serial
        for name in ("fittings", "dial_reads", "use_history")
        if name in tables
        for serial in pc.unique(tables[name]["meter_serial"]).to_pylist()
    )
    if not others.serials:
        return
    sites = tables["sites"]
    own = KnownSerials.of(sites["meter_serial"].to_pylist())
    longer = {}
    for serial in own.serials - others.serials:
        padded = others.padded(serial)
        if padded is not None and len(padded) > len(serial) and len(own.by_stripped[stripped(serial)]) == 1:
            longer[serial] = padded
    _offer_each(tables, files, "sites", "meter_serial", longer, log, "every other table names it with leading zeros")


def _offer_zeros(
    tables: dict[str, pa.Table], files: dict[str, str], name: str, column: str, known: KnownSerials, log: ProblemLog
) -> None:
    """Offer the serial on record for those that match none and are one but for leading zeros."""
    proposals = {}
    for serial in set(pc.unique(tables[name][column]).to_pylist()) - known.serials:
        padded = known.padded(serial) if serial else None
        if padded is not None and len(padded) > len(serial):
            proposals[serial] = padded
    why = "no such serial is on record; with leading zeros exactly one is"
    _offer_each(tables, files, name, column, proposals, log, why)


def _offer_each(
    tables: dict[str, pa.Table], files: dict[str, str], name: str, column: str, proposals: dict[str, str],
    log: ProblemLog, why: str,
) -> None:  # fmt: skip
    if not proposals:
        return
    values = tables[name][column].to_pylist()
    lines = tables[name]["_row"].to_pylist()
    taken = False
    for row, serial in enumerate(values):
        padded = proposals.get(serial)
        if padded is None:
            continue
        line = lines[row]
        if log.offer(Repair(f"zeros:{name}:{serial}", "zeros", files[name], line, column, serial, padded, why)):
            values[row] = padded
            taken = True
    if taken:
        tables[name] = _with(tables[name], column, values)


def _with(table: pa.Table, column: str, values: list[str | None]) -> pa.Table:
    place = table.column_names.index(column)
    return table.set_column(place, column, pa.array(values, pa.string()))
