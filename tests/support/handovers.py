"""Programme folders with findings, to be handed over: every port passes until a test spoils it."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

AT = dt.datetime(2026, 3, 20, 12, tzinfo=dt.UTC)
FITTED = "2026-03-01T09:00:00Z"

SITE = {
    "site": "", "account": "", "address": "1 Kiln Row", "meter_serial": "", "register_role": "single",
    "dial_digits": "6", "fixed_zeros": "0", "dial_unit": "m3", "dial_resolution": "0.01", "pulse_weight": "10",
    "pulse_unit": "L",
}  # fmt: skip
FITTING = {
    "site": "", "meter_serial": "", "register_role": "single", "endpoint_serial": "", "port": "1", "fitted_at": FITTED,
    "fitter": "crew 1", "dial_at_fit": "012345", "start_index": "00123450", "index_digits": "8", "index_unit": "L",
    "index_resolution": "1", "weight_set": "10", "weight_unit": "L", "tamper_loop": "wired", "removed_at": "",
}  # fmt: skip
FINDING = {
    "meter_serial": "", "endpoint_serial": "", "port": "1", "register_role": "single", "fault": "sound",
    "probability": "0.97", "runner_up": "dead_input", "runner_up_probability": "0.01", "action": "none", "since": "",
    "next_check": "", "remedy": "",
}  # fmt: skip

Spoilt = Mapping[str, Mapping[str, Any]]


def make_programme(folder: Path, ports: Mapping[str, Spoilt], *, checks: Sequence[Mapping[str, str]] = ()) -> Path:
    """Write a programme of named ports and its findings beside it; return the file of findings.

    A port may give ``site``, ``fitting`` and ``finding`` cells that differ, and ``reads`` as (at, index, flag); a port
    with ``finding`` None has none.
    """
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "programme.toml").write_text('timezone = "Europe/Rome"\n', encoding="utf-8")
    sites, fittings, findings, reads = [], [], [], []
    for name, spoilt in ports.items():
        known = {"site": f"S-{name}", "meter_serial": f"M-{name}", "endpoint_serial": f"E-{name}"}
        sites.append({**SITE, **_of(SITE, known), "account": f"A-{name}", **spoilt.get("site", {})})
        fitting = {**FITTING, **_of(FITTING, known), **spoilt.get("fitting", {})}
        fittings.append(fitting)
        if spoilt.get("finding", {}) is not None:
            findings.append({**FINDING, **_of(FINDING, fitting), **spoilt.get("finding", {})})
        for at, index, flag in spoilt.get("reads", hourly(48)):
            reads.append(
                {"endpoint_serial": fitting["endpoint_serial"], "port": fitting["port"], "at": at, "index": str(index),
                 "flag": flag}
            )  # fmt: skip
    _write(folder / "sites.csv", sites)
    _write(folder / "fittings.csv", fittings)
    _write(folder / "reads.csv", reads)
    if checks:
        _write(folder / "checks.csv", checks)
    path = folder.parent / "findings.csv"
    _write(path, findings or [{**FINDING, "meter_serial": "none", "endpoint_serial": "none"}])
    return path


def hourly(count: int, *, first: int = 123_450, step: int = 7, day: int = 2) -> list[tuple[str, int, str]]:
    """Return reads an hour apart from midnight, UTC, of a day of March; 8 digits."""
    start = dt.datetime(2026, 3, day, tzinfo=dt.UTC)
    return [
        (f"{start + dt.timedelta(hours=k):%Y-%m-%dT%H:%M:%SZ}", (first + k * step) % 10**8, "") for k in range(count)
    ]


def rows_of(path: Path) -> list[dict[str, str]]:
    """Return the rows of a CSV file."""
    with path.open(newline="", encoding="utf-8") as source:
        return list(csv.DictReader(source))


def _of(form: Mapping[str, str], known: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in known.items() if name in form and name in _NAMES}


_NAMES = ("site", "meter_serial", "endpoint_serial", "port", "register_role")


def _write(path: Path, rows: Sequence[Mapping[str, Any]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as sink:
        writer = csv.DictWriter(sink, list(rows[0]) if rows else ["endpoint_serial", "port", "at", "index", "flag"])
        writer.writeheader()
        writer.writerows(rows)
