"""Ports as rows of what is handed over, and of what is left out."""

from __future__ import annotations

from typing import Any

from dialtrue.domain.handover.port import HandedPort
from dialtrue.domain.handover.rules import Reason
from dialtrue.services.handover_ports import Candidate, microseconds, shown_endpoint


def install_row(port: HandedPort) -> dict[str, Any]:
    """Return the row of a port in ``installs``; times in UTC [µs]. Never raises."""
    return {
        "site": port.site, "account": port.account, "meter_serial": port.meter_serial,
        "register_role": port.register_role, "endpoint_serial": port.endpoint_serial, "port": port.port,
        "fitted_at": port.fitted_us, "dial_at_fit": port.dial_at_fit, "start_index": port.start_index,
        "index_digits": port.index_digits, "index_unit": port.index_unit, "index_resolution": port.index_resolution,
        "weight_set": port.weight_set, "weight_unit": port.weight_unit, "tamper_loop": port.tamper_loop,
        "volume_unit": port.volume_unit, "valid_from": port.from_us, "verdict": port.fault,
        "probability": f"{port.probability:.4f}", "status": "accepted" if port.accepted else "doubtful",
    }  # fmt: skip


def left_out_row(each: Candidate, against: tuple[Reason, ...], *, personal: bool, salt: str) -> dict[str, Any]:
    """Return the row of a port in ``left_out``, with every reason; times in UTC [µs]. Never raises."""
    row, site = each.row, each.site or {}
    return {
        "meter_serial": row["meter_serial"], "register_role": row["register_role"] or "single",
        "endpoint_serial": shown_endpoint(row, personal=personal, salt=salt), "port": int(row["port"] or 1),
        "fitted_at": microseconds(row["fitted_at"], 0), "site": row["site"] or site.get("site") or "",
        "account": site.get("account") or "", "verdict": each.case.fault,
        "probability": f"{each.case.probability:.4f}" if each.case.fault else "",
        "rules": " ".join(reason.code for reason in against),
        "reason": "; ".join(reason.says for reason in against),
        "remedy": " ".join(reason.remedy for reason in against),
    }  # fmt: skip
