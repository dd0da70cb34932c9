"""Which findings somebody has confirmed, set aside or corrected, from the table ``checks``."""

from __future__ import annotations

import dataclasses
from typing import Any

from dialtrue.domain.finding import Finding
from dialtrue.files.programme import Programme


class Confirmed:
    """What was found at each port by somebody who looked."""

    def __init__(self, rows: list[dict[str, Any]]) -> None:
        self._by_meter: dict[tuple[str, str], str] = {}
        self._by_port: dict[tuple[str, int], str] = {}
        for row in sorted(rows, key=lambda row: row["checked_at"]):
            if row.get("meter_serial"):
                self._by_meter[str(row["meter_serial"]), str(row.get("register_role") or "single")] = row["found"]
            if row.get("endpoint_serial"):
                self._by_port[str(row["endpoint_serial"]), int(row.get("port") or 1)] = row["found"]

    def of(self, finding: Finding) -> Finding | None:
        """Return the finding as confirmed, with the fault that was found; None where nobody looked. Never raises.

        Another fault than the one that was inferred keeps the inferred onset and volume, not the inferred ratio.
        """
        found = self._by_port.get((finding.endpoint_serial, finding.port)) or self._by_meter.get(
            (finding.meter_serial, finding.register_role)
        )
        if found is None or found == finding.fault:
            return finding if found is not None else None
        return dataclasses.replace(finding, fault=found, parameter=None)


def confirmed_by_checks(programme: Programme) -> Confirmed:
    """Return what the programme's checks say; the last look at a port stands. Never raises on normalised tables."""
    table = programme.tables.get("checks")
    return Confirmed([] if table is None else table.to_pylist())
