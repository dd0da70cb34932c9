"""The fitted ports of a programme as they may be handed over: records joined, findings beside them, rules applied."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Any, Final

import pyarrow as pa

from dialtrue.domain.dial import Dial
from dialtrue.domain.errors import DialtrueError
from dialtrue.domain.figures import decimal_places
from dialtrue.domain.handover.exact import MOST_PLACES, volume_unit
from dialtrue.domain.handover.port import HandedPort, hidden_key
from dialtrue.domain.handover.rules import HandoverSettings, PortCase, Reason, counts_true, reasons_against
from dialtrue.domain.index import Index
from dialtrue.domain.quantity import convert, exact_decimal
from dialtrue.domain.start_index import start_index_for
from dialtrue.services.table_columns import table_of

Row = dict[str, Any]

_EPOCH: Final = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_END_US: Final = 2**62
_NEEDED: Final = (
    "dial_at_fit", "start_index", "index_digits", "index_unit", "index_resolution", "weight_set", "weight_unit",
)  # fmt: skip


@dataclass(slots=True)
class Candidate:
    """A fitting with all that is known of it; ``handed`` is None where its volumes cannot be stated."""

    row: Row
    site: Row | None
    case: PortCase
    handed: HandedPort | None

    @property
    def seated(self) -> bool:
        """Whether reads can be tied to it."""
        return self.handed is not None and not self.case.shared

    def against(self, settings: HandoverSettings) -> tuple[Reason, ...]:
        """Return why it must not be handed over, none if it may."""
        return reasons_against(
            self.case, least_probability=settings.least_probability, allow_checks=settings.allow_checks
        )


def port_key(row: Row) -> tuple[str, str, int]:
    """Return what names a fitted port in findings: meter, endpoint, port."""
    return row["meter_serial"] or "", row["endpoint_serial"] or "", int(row["port"] or 1)


def candidates(tables: dict[str, pa.Table], findings: pa.Table, *, personal: bool, salt: str) -> list[Candidate]:
    """Return every fitting with its site, finding, repair and figures, in the order in which they are handed over.

    Parameters
    ----------
    tables : dict
        Normalised contract tables; fittings, sites, and checks if any.
    findings : pa.Table
        As the contract says, one row a fitted port.
    personal : bool
        Accounts are needed, and serials go out as they are.
    salt : str
        For the keys that stand for serials otherwise.

    Returns
    -------
    list of Candidate
        ``case.reads`` is -1: nobody has counted them yet.

    Raises
    ------
    Never raises on normalised tables.
    """
    by_key: dict[tuple[str, str, int], Row] = {}
    for told in sorted(findings.to_pylist(), key=_ease):
        by_key.setdefault(port_key(told), told)
    sites = {
        (row["meter_serial"], row["register_role"] or "single"): row for row in table_of(tables, "sites").to_pylist()
    }
    fittings = table_of(tables, "fittings").to_pylist()
    shared = _shared(fittings)
    repairs = _Repairs(table_of(tables, "checks").to_pylist())
    found = []
    for number, row in enumerate(fittings):
        site = sites.get((row["meter_serial"], row["register_role"] or "single"))
        finding = by_key.get(port_key(row))
        repaired = repairs.of(row, finding)
        case = _case(row, site, finding, personal=personal, shared=number in shared, repaired=repaired)
        handed = None if case.missing else _handed(row, site or {}, case, personal=personal, salt=salt)
        found.append(Candidate(row, site, replace(case, exact=bool(case.missing) or handed is not None), handed))
    return sorted(found, key=lambda each: _order(each, personal=personal, salt=salt))


def microseconds(at: dt.datetime | None, default: int) -> int:
    """Return a time as microseconds since 1970. Never raises."""
    return default if at is None else (at - _EPOCH) // dt.timedelta(microseconds=1)


def shown_endpoint(row: Row, *, personal: bool, salt: str) -> str:
    """Return the endpoint's serial, or what stands for it. Never raises."""
    serial = row["endpoint_serial"] or ""
    return serial if personal else hidden_key(salt, serial)


def _ease(finding: Row) -> tuple[bool, bool, float]:
    """Order findings by how little may rest on them: an endpoint fitted twice to one meter is judged by the worse."""
    fault = finding["fault"] or ""
    return (finding["action"] in (None, "none"), counts_true(fault), finding["probability"] or 0.0)


def _order(candidate: Candidate, *, personal: bool, salt: str) -> tuple[str, int, int]:
    row = candidate.row
    return (
        shown_endpoint(row, personal=personal, salt=salt), int(row["port"] or 1), microseconds(row["fitted_at"], 0),
    )  # fmt: skip


def _shared(fittings: Sequence[Row]) -> set[int]:
    """Return the numbers of fittings that stood on the same endpoint and port at the same time as another."""
    by_port: dict[tuple[str, int], list[int]] = defaultdict(list)
    for number, row in enumerate(fittings):
        by_port[row["endpoint_serial"], int(row["port"] or 1)].append(number)
    shared: set[int] = set()
    for numbers in by_port.values():
        numbers.sort(key=lambda number: microseconds(fittings[number]["fitted_at"], 0))
        for one, two in pairwise(numbers):
            if microseconds(fittings[one]["removed_at"], _END_US) > microseconds(fittings[two]["fitted_at"], 0):
                shared |= {one, two}
    return shared


class _Repairs:
    """When a fault of a port was found and put right, by what ``checks`` says."""

    def __init__(self, checks: Sequence[Row]) -> None:
        self._by_meter: dict[tuple[str, str], list[Row]] = defaultdict(list)
        self._by_port: dict[tuple[str, int], list[Row]] = defaultdict(list)
        for row in checks:
            if row["endpoint_serial"]:
                self._by_port[row["endpoint_serial"], int(row["port"] or 1)].append(row)
            elif row["meter_serial"]:
                self._by_meter[row["meter_serial"], row["register_role"] or "single"].append(row)

    def of(self, fitting: Row, finding: Row | None) -> dt.datetime | None:
        """Return the last repair, if no later check found a fault that was left and it follows what the watch saw."""
        rows = [
            *self._by_port[fitting["endpoint_serial"], int(fitting["port"] or 1)],
            *self._by_meter[fitting["meter_serial"], fitting["register_role"] or "single"],
        ]
        rows = [row for row in rows if row["checked_at"] is not None and row["checked_at"] >= fitting["fitted_at"]]
        faults = sorted((row for row in rows if row["found"] != "sound"), key=lambda row: row["checked_at"])
        if not faults or faults[-1]["put_right"] is False:
            return None
        at: dt.datetime = faults[-1]["checked_at"]
        since = finding["since"] if finding is not None else None
        return None if since is not None and since > at else at


def _case(
    row: Row, site: Row | None, finding: Row | None, *, personal: bool, shared: bool, repaired: dt.datetime | None
) -> PortCase:
    missing = [name for name in _NEEDED if row[name] in (None, "")]
    if site is None:
        missing.insert(0, "the meter's row in sites")
    elif personal and not site["account"]:
        missing.insert(0, "account in sites")
    told = finding or {}
    return PortCase(
        fault=told.get("fault") or "",
        probability=told.get("probability") or 0.0,
        runner_up=told.get("runner_up") or "",
        runner_up_probability=told.get("runner_up_probability") or 0.0,
        action=told.get("action") or "none",
        # The watch's own words may name meters and dials; the general ones of the catalogue never do.
        next_check=(told.get("next_check") or "") if personal else "",
        remedy=(told.get("remedy") or "") if personal else "",
        repaired_at=repaired,
        missing=tuple(missing),
        start_keyed="" if missing else _keyed(row),
        start_wanted="" if missing or site is None else _wanted(row, site),
        shared=shared,
        exact=True,
        reads=-1,
    )


def _index(row: Row) -> Index:
    return Index.of(digits=row["index_digits"], unit=row["index_unit"], resolution=row["index_resolution"])


def _keyed(row: Row) -> str:
    """Return the start index as the index holds it; as keyed where it does not fit."""
    try:
        index = _index(row)
        return index.show(index.keyed(row["start_index"]))
    except DialtrueError:
        return str(row["start_index"])


def _wanted(row: Row, site: Row) -> str:
    """Return the start index that belongs to the dial at the fitting; a word where the dial's text is no reading."""
    try:
        dial = Dial.of(
            moving_digits=site["dial_digits"], unit=site["dial_unit"], fixed_zeros=site["fixed_zeros"] or 0,
            resolution=site["dial_resolution"] or None,
        )  # fmt: skip
        return start_index_for(dial, row["dial_at_fit"], _index(row)).digits
    except DialtrueError as error:
        return f"not known ({error.as_dict()['message'].rstrip('.')})"


def _handed(row: Row, site: Row, case: PortCase, *, personal: bool, salt: str) -> HandedPort | None:
    """Return the port as it goes out, None where its volumes have too many decimal places."""
    step = exact_decimal(row["index_resolution"])
    unit = volume_unit(row["index_unit"], site["dial_unit"])
    in_unit, in_m3 = (convert(step, row["index_unit"], name) for name in (unit, "m3"))
    if not all(value > 0 and (decimal_places(value) or 0) <= MOST_PLACES for value in (in_unit, in_m3)):
        return None
    serial = shown_endpoint(row, personal=personal, salt=salt)
    fitted_us = microseconds(row["fitted_at"], 0)
    port = int(row["port"] or 1)
    return HandedPort(
        key=hidden_key("", serial, str(port), str(fitted_us)),
        endpoint_serial=serial,
        port=port,
        meter_serial=row["meter_serial"] if personal else "",
        register_role=row["register_role"] or "single",
        site=(row["site"] or site["site"] or "") if personal else "",
        account=(site["account"] or "") if personal else "",
        fitted_us=fitted_us,
        dial_at_fit=row["dial_at_fit"],
        start_index=row["start_index"],
        index_digits=row["index_digits"],
        index_unit=row["index_unit"],
        index_resolution=_plain(row["index_resolution"]),
        weight_set=_plain(row["weight_set"]),
        weight_unit=row["weight_unit"],
        tamper_loop=row["tamper_loop"] or "",
        dial_unit=site["dial_unit"],
        volume_unit=unit,
        step=in_unit,
        step_m3=in_m3,
        modulus=10 ** int(row["index_digits"]),
        fault=case.fault,
        probability=case.probability,
        accepted=True,
        from_us=fitted_us if case.repaired_at is None else microseconds(case.repaired_at, fitted_us),
        to_us=microseconds(row["removed_at"], _END_US),
    )


def _plain(text: str) -> str:
    """Write a decimal without an exponent, exactly."""
    value: Fraction = exact_decimal(text)
    places = decimal_places(value) or 0
    whole = str(value.numerator * (10**places // value.denominator)).rjust(places + 1, "0")
    return f"{whole[:-places]}.{whole[-places:]}" if places else whole
