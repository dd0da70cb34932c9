"""Write a programme folder from Python values: one port at a time, then the tables and the reads."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

HOUR = dt.timedelta(hours=1)
DAY = dt.timedelta(days=1)
EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


@dataclass
class Port:
    """One register with the endpoint on it. Texts go to the files as they stand."""

    name: str
    fitted_at: dt.datetime
    dial_at_fit: str
    start_index: str
    read_at: Sequence[dt.datetime]
    index: Sequence[int]
    pulse_weight: str
    unit: str = "gal"
    dial_digits: int = 6
    fixed_zeros: int = 0
    dial_resolution: str = ""
    index_digits: int = 8
    index_resolution: str = "1"
    index_unit: str = ""
    weight_set: str = ""
    meter_size: str = "5/8in"
    dial_reads: Sequence[tuple[dt.datetime, str]] = ()
    history: Sequence[tuple[dt.date, dt.date, str]] = ()
    flags: Sequence[str] = field(default_factory=tuple)

    @property
    def meter(self) -> str:
        """Serial on the meter's plate."""
        return f"M-{self.name}"

    @property
    def endpoint(self) -> str:
        """Serial on the endpoint's label."""
        return f"E-{self.name}"


def dial_text(value: int, *, digits: int, fixed_zeros: int = 0) -> str:
    """Return the positions of a dial that has moved ``value`` least digits."""
    return f"{value % 10**digits:0{digits}d}" + "0" * fixed_zeros


def write_programme(folder: Path, ports: Sequence[Port], *, timezone: str = "UTC") -> Path:
    """Write sites, fittings, dial reads, use history and reads of the ports into ``folder``."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "programme.toml").write_text(f'timezone = "{timezone}"\n', encoding="utf-8")
    _csv(
        folder / "sites.csv",
        "site,meter_serial,meter_type,meter_size,dial_digits,fixed_zeros,dial_unit,dial_resolution,pulse_weight,pulse_unit",
        [
            (f"S-{p.name}", p.meter, "nutating_disc", p.meter_size, p.dial_digits, p.fixed_zeros, p.unit,
             p.dial_resolution, p.pulse_weight, p.unit)
            for p in ports
        ],
    )  # fmt: skip
    _csv(
        folder / "fittings.csv",
        "site,meter_serial,endpoint_serial,port,fitted_at,fitter,dial_at_fit,start_index,index_digits,index_unit,"
        "index_resolution,weight_set,weight_unit,tamper_loop",
        [
            (f"S-{p.name}", p.meter, p.endpoint, 1, p.fitted_at.isoformat(), "crew 1", p.dial_at_fit, p.start_index,
             p.index_digits, p.index_unit or p.unit, p.index_resolution, p.weight_set or p.pulse_weight, p.unit,
             "wired")
            for p in ports
        ],
    )  # fmt: skip
    _csv(
        folder / "dial_reads.csv",
        "meter_serial,at,dial,source",
        [(p.meter, at.isoformat(), text, "reader") for p in ports for at, text in p.dial_reads],
    )
    _csv(
        folder / "use_history.csv",
        "meter_serial,start,end,volume,unit",
        [(p.meter, start, end, volume, p.unit) for p in ports for start, end, volume in p.history],
    )
    columns: dict[str, list[object]] = {name: [] for name in ("endpoint_serial", "port", "at", "index", "flag")}
    for p in ports:
        columns["endpoint_serial"] += [p.endpoint] * len(p.index)
        columns["port"] += [1] * len(p.index)
        columns["at"] += [(at - EPOCH) // dt.timedelta(microseconds=1) for at in p.read_at]
        columns["index"] += [int(value) for value in p.index]
        columns["flag"] += list(p.flags) or [""] * len(p.index)
    types = (pa.string(), pa.int16(), pa.timestamp("us", tz="UTC"), pa.int64(), pa.string())
    arrays = [pa.array(values, type=kind) for values, kind in zip(columns.values(), types, strict=True)]
    pq.write_table(pa.table(dict(zip(columns, arrays, strict=True))), folder / "reads.parquet")
    return folder


def _csv(path: Path, header: str, rows: Sequence[Sequence[object]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream)
        writer.writerow(header.split(","))
        writer.writerows(rows)
