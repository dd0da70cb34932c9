"""A small programme whose every explained figure can be worked out by hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

START = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
DAYS = 40
MORNING_L, EVENING_L = 30, 50
"""Gallons that pass between 7 and 8 and between 19 and 20 each day: 3 and 5 pulses of 10 gal."""
LOOK_DAY = 30


def _clock(hours: int) -> str:
    return (START + dt.timedelta(hours=hours)).isoformat()


def _reads(endpoint: str, port: int, *, morning: int, evening: int, start: int) -> list[str]:
    """Hourly reads whose index adds ``morning`` at 8 o'clock and ``evening`` at 20 o'clock."""
    rows, index = [], start
    for hour in range(24 * DAYS + 1):
        if hour % 24 == 8:
            index += morning
        if hour % 24 == 20:
            index += evening
        rows.append(f"{endpoint},{port},{_clock(hour)},{index}")
    return rows


def write_explained(folder: Path, *, extra_sites: Sequence[str] = ()) -> Path:
    """Write the programme: 00123 counts each pulse twice, 00200 counts true, C-9 is a sound compound meter.

    Each register passes 80 gal a day and was fitted at midnight of 1 March with dial 0100000 (C-9: 0500000).
    """
    folder.mkdir(parents=True, exist_ok=True)
    sites = ["site,meter_serial,register_role,meter_size,dial_digits,fixed_zeros,dial_unit,pulse_weight,pulse_unit"]
    fittings = [
        "site,meter_serial,register_role,endpoint_serial,port,fitted_at,dial_at_fit,start_index,index_digits,"
        "index_unit,index_resolution,weight_set,weight_unit"
    ]
    dials = ["meter_serial,register_role,at,dial,source"]
    reads = ["endpoint_serial,port,at,index"]
    day = (START + dt.timedelta(days=LOOK_DAY)).isoformat()
    for meter, role, endpoint, port, factor, dial in (
        ("00123", "single", "E-1", 1, 2, 100_000),
        ("00200", "single", "E-2", 1, 1, 100_000),
        ("C-9", "high", "E-3", 1, 1, 500_000),
        ("C-9", "low", "E-3", 2, 1, 500_000),
    ):
        sites.append(f"S-{meter},{meter},{role},5/8in,7,0,gal,10,gal")
        fittings.append(f"S-{meter},{meter},{role},{endpoint},{port},{_clock(0)},{dial:07d},{dial:08d},8,gal,1,10,gal")
        dials.append(f"{meter},{role},{day},{dial + LOOK_DAY * 80:07d},reader")
        reads += _reads(endpoint, port, morning=factor * MORNING_L, evening=factor * EVENING_L, start=dial)
    sites += extra_sites
    weather = ["at,rain_mm"]
    weather += [f"{_clock(hour)},{4.0 if (hour // 24) % 8 == 3 else 0.0}" for hour in range(24 * DAYS)]
    for name, rows in (
        ("sites", sites), ("fittings", fittings), ("dial_reads", dials), ("reads", reads), ("weather", weather),
    ):  # fmt: skip
        (folder / f"{name}.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return folder
