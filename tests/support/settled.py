"""Programme folders for the settlement, written small: one register a line, moments as days."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from dialtrue.domain.finding import Crossing, Finding
from dialtrue.domain.settlement.settings import SettleSettings
from dialtrue.services.settle import Settlement, settle_folder

AT = dt.datetime(2026, 7, 1, tzinfo=dt.UTC)
SITES = (
    "site,account,meter_serial,meter_type,meter_size,register_role,dial_digits,fixed_zeros,dial_unit,dial_resolution,"
    "pulse_weight,pulse_unit"
)
FITTINGS = (
    "site,meter_serial,register_role,endpoint_serial,port,fitted_at,dial_at_fit,start_index,index_digits,index_unit,"
    "index_resolution,weight_set,weight_unit"
)
READS = "endpoint_serial,port,at,index"
DIALS = "meter_serial,register_role,at,dial,source"
BILLS = "account,meter_serial,register_role,start,end,volume,unit,rate"
CHECKS = "meter_serial,register_role,endpoint_serial,port,checked_at,found"
HISTORY = "meter_serial,register_role,start,end,volume,unit"


def write_folder(folder: Path, **tables: Sequence[str]) -> Path:
    """Write tables (sites=, fittings=, reads=, dial_reads=, bills=, checks=, use_history=) as lines of CSV."""
    heads = {
        "sites": SITES, "fittings": FITTINGS, "reads": READS, "dial_reads": DIALS, "bills": BILLS, "checks": CHECKS,
        "use_history": HISTORY,
    }  # fmt: skip
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "programme.toml").write_text('timezone = "UTC"\n')
    for name, lines in tables.items():
        (folder / f"{name}.csv").write_text("\n".join([heads[name], *lines]) + "\n", encoding="utf-8")
    return folder


def day(text: str) -> dt.datetime:
    """Return the start of a day, UTC."""
    return dt.datetime.fromisoformat(text).replace(tzinfo=dt.UTC)


def finding(meter: str, endpoint: str, fault: str, **more) -> Finding:
    """Return a finding with what the settlement looks at."""
    held = {
        "port": 1, "register_role": "single", "probability": 0.97, "runner_up": "sound", "runner_up_probability": 0.01,
        "action": "visit", "since": None, "volume_error_l": None, "volume_error_low_l": None,
        "volume_error_high_l": None, "parameter": None, "next_check": "", "remedy": "", "verdict": "",
    }  # fmt: skip
    return Finding(meter_serial=meter, endpoint_serial=endpoint, fault=fault, **{**held, **more})


def settled(folder: Path, findings: Sequence[Finding], crossings: Sequence[Crossing] = (), **settings) -> Settlement:
    """Settle given findings, assumed unless the folder's checks confirm them."""
    asked = SettleSettings(**{"assume": True, **settings})
    return settle_folder(folder, at=AT, settings=asked, findings=(tuple(findings), tuple(crossings)))
