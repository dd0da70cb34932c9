"""Programme folders for the figures: sites with a status, fittings, a read or none for each, checks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pyarrow as pa

from dialtrue.domain.finding import Finding
from dialtrue.files.findings import write_findings
from dialtrue.files.tables_out import write_reads

NOW = dt.datetime(2026, 6, 1, 12, tzinfo=dt.UTC)
DAY = dt.timedelta(days=1)
SOUND = Finding(
    meter_serial="", endpoint_serial="", port=1, register_role="single", fault="sound", probability=0.99,
    runner_up="vacant", runner_up_probability=0.005, action="none", since=None, volume_error_l=0.0,
    volume_error_low_l=0.0, volume_error_high_l=0.0, parameter=None, next_check="", remedy="", verdict="Counts true.",
)  # fmt: skip


@dataclass(frozen=True)
class Place:
    """One register: ``fitted`` and ``heard`` are days before ``NOW``, None if never; ``dial`` a look's day and step."""

    number: int
    fitted: float | None = 90.0
    heard: float | None = 0.5
    status: str = ""
    crew: str = "A"
    area: str = "North"
    lot: str = "K1"
    endpoint: str = ""
    port: int = 1
    look: tuple[float, int] | None = None
    at: tuple[float, float] | None = None

    @property
    def meter(self) -> str:
        """Serial on the plate."""
        return f"W{self.number:05}"

    @property
    def serial(self) -> str:
        """Serial on the endpoint; six marks apart from every other's."""
        return self.endpoint or f"E{self.number * 7919 % 100_000:05}-{self.number:05}"


def _csv(path: Path, header: str, rows: Iterable[Sequence[object]]) -> None:
    lines = [header, *(",".join("" if cell is None else str(cell) for cell in row) for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _ago(days: float) -> str:
    return (NOW - days * DAY).isoformat()


def town(folder: Path, places: Sequence[Place], *, settings: str = "", checks: Sequence[str] | None = None) -> Path:
    """Write the folder. Every meter passes 100 gal a day; index and dial begin at nought, in gallons."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "programme.toml").write_text(f'timezone = "UTC"\n{settings}', encoding="utf-8")
    _csv(
        folder / "sites.csv",
        "site,address,area,latitude,longitude,meter_serial,dial_digits,dial_unit,pulse_weight,pulse_unit,status",
        [
            (f"S{p.number:05}", f"{p.number} Long Lane", p.area, *(p.at or (None, None)), p.meter, 7, "gal", 10, "gal",
             p.status)
            for p in places
        ],
    )  # fmt: skip
    _csv(
        folder / "fittings.csv",
        "site,meter_serial,endpoint_serial,port,fitted_at,fitter,cable_lot,dial_at_fit,start_index,index_digits,index_unit,"
        "index_resolution,weight_set,weight_unit",
        [
            (f"S{p.number:05}", p.meter, p.serial, p.port, _ago(p.fitted), p.crew, p.lot, "0000000", "0000000", 7,
             "gal", 1, 10, "gal")
            for p in places
            if p.fitted is not None
        ],
    )  # fmt: skip
    looks = [
        (
            p.meter,
            (NOW - (p.fitted - p.look[0]) * DAY).isoformat(),
            f"{round(100 * p.look[0]) + p.look[1]:07}",
            "reader",
        )
        for p in places
        if p.look is not None and p.fitted is not None
    ]
    if looks:
        _csv(folder / "dial_reads.csv", "meter_serial,at,dial,source", looks)
    _reads(folder, [p for p in places if p.fitted is not None and p.heard is not None])
    if checks is not None:
        header = "meter_serial,checked_at,found,put_right,why"
        (folder / "checks.csv").write_text("\n".join([header, *checks]) + "\n", encoding="utf-8")
    return folder


def _reads(folder: Path, heard: Sequence[Place]) -> None:
    serials, ports, times, counts = [], [], [], []
    for p in heard:
        assert p.fitted is not None
        assert p.heard is not None
        steps = max(1, int((p.fitted - p.heard) * 2))
        for step in range(steps, -1, -1) if p.look is not None else (steps // 2, 0):
            days = p.heard + step / 2
            if days > p.fitted:
                continue
            serials.append(p.serial)
            ports.append(p.port)
            times.append(NOW - days * DAY)
            counts.append(round(100 * (p.fitted - days)) // 10 * 10)
    table = pa.table(
        {
            "endpoint_serial": serials, "port": pa.array(ports, pa.int32()),
            "at": pa.array(times, pa.timestamp("us", tz="UTC")), "index": pa.array(counts, pa.int64()),
        }
    )  # fmt: skip
    write_reads(folder / "reads.parquet", table)


def findings_file(
    path: Path, places: Sequence[Place], change: Callable[[Place], dict[str, object]] = lambda _: {}
) -> Path:
    """Write a finding for every fitted place: sound but for what ``change`` says of it."""
    found = [
        replace(SOUND, meter_serial=p.meter, endpoint_serial=p.serial, port=p.port, **change(p))  # type: ignore[arg-type]
        for p in places
        if p.fitted is not None
    ]
    write_findings(path, found)
    return path
