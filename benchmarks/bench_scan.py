"""Measure the scan against the disk: a large Parquet of reads read bare, scanned, and done as a user would without us.

Run: ``python benchmarks/bench_scan.py [--reads 20000000] [--ports 2000] [--keep FOLDER]``. Figures go to stdout.
The file is sorted by port and time, with delta encoding for times and counts; it is written once and kept if asked.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import perf_counter

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from dialtrue.engine.fleet import NEVER, Fleet
from dialtrue.engine.scan import Calendar, Scanner, windows_of

HOUR_US = 3_600_000_000
START_US = 20_000 * 24 * HOUR_US
PER_BATCH = 1 << 20


def write_reads(path: Path, ports: int, hours: int) -> None:
    """Write hourly reads of every port: household-like steps, every index of six digits turning now and then."""
    rng = np.random.default_rng(1)
    at = START_US + np.arange(hours, dtype=np.int64) * HOUR_US
    schema = pa.schema([
        ("channel", pa.int32()), ("at", pa.timestamp("us", tz="UTC")), ("index", pa.int64()), ("flag", pa.int8()),
    ])  # fmt: skip
    per_group = max(1, PER_BATCH // hours)
    delta = dict.fromkeys(("channel", "at", "index"), "DELTA_BINARY_PACKED")
    with pq.ParquetWriter(path, schema, use_dictionary=["flag"], column_encoding=delta, compression="zstd") as writer:
        for first in range(0, ports, per_group):
            count = min(per_group, ports - first)
            steps = rng.poisson(rng.gamma(0.5, 20.0, (count, hours)))
            index = (rng.integers(0, 10**6, (count, 1)) + steps.cumsum(axis=1)) % 10**6
            columns = [
                pa.array(np.repeat(np.arange(first, first + count, dtype=np.int32), hours)),
                pa.array(np.tile(at, count)).cast(schema.field("at").type),
                pa.array(index.reshape(-1)),
                pa.array(np.zeros(count * hours, np.int8)),
            ]
            writer.write_table(pa.Table.from_arrays(columns, schema=schema))


def batches(path: Path):
    """Yield the file's batches, every column."""
    yield from pq.ParquetFile(path).iter_batches(batch_size=PER_BATCH)


def bare(path: Path) -> int:
    """Read every column and look at none."""
    return sum(batch.num_rows for batch in batches(path))


def columns_of(batch: pa.RecordBatch) -> list[np.ndarray]:
    """Return channel, time, index and flag as arrays without a copy."""
    at = batch.column(1).view(pa.int64())
    return [column.to_numpy(zero_copy_only=True) for column in (batch.column(0), at, batch.column(2), batch.column(3))]


def scanner_of(ports: int, hours: int) -> Scanner:
    """Return a scanner with a fitting on every channel and two dial reads each."""
    one, whole = np.ones(ports), np.ones(ports, np.int64)
    names = [f"{k:06d}" for k in range(ports)]
    fleet = Fleet(
        meter_serial=names, role=["single"] * ports, endpoint_serial=names, port=whole, site=names,
        channel=np.arange(ports, dtype=np.int64), fit_us=whole * START_US,
        removed_us=np.full(ports, NEVER), quantum_dial_l=one, capacity_dial_l=one * 1e6, dial_fit_l=one * 0,
        quantum_index_l=one, capacity_counts=whole * 10**6, start_count=whole * 0, weight_set_l=one,
        weight_meter_l=one, flow_limit_l_s=one, use_l_day=one * 240, use_spread=one * 0.3,
    )  # fmt: skip
    days = -(-hours // 24)
    unknown = np.full(days * 24, -1, np.int8)
    calendar = Calendar(START_US, (np.arange(days * 24) % 24).astype(np.int8), unknown, unknown)
    fitting = np.repeat(np.arange(ports, dtype=np.int64), 2)
    dial_us = START_US + np.tile(np.array([hours // 3, hours - 2], np.int64) * HOUR_US, ports)
    return Scanner(fleet, calendar, windows_of(fleet, fitting, dial_us, ports))


def scanned(path: Path, ports: int, hours: int) -> int:
    """Read and scan: every figure that the watch needs."""
    scanner = scanner_of(ports, hours)
    for batch in batches(path):
        scanner.feed(*columns_of(batch))
    return int(scanner.finish().figures["n"].sum())


def grouped(path: Path) -> int:
    """Do what a user would with a table library: first and last index of each port, nothing of the way between."""
    table = pq.read_table(path)
    ends = table.group_by("channel").aggregate([("index", "min"), ("index", "max"), ("at", "max"), ("index", "count")])
    return int(ends["index_count"].to_numpy().sum())


def differenced(path: Path) -> int:
    """Do what a user would with arrays: whole columns, hourly steps across rollovers, falls, still hours per day."""
    table = pq.read_table(path)
    channel = table["channel"].to_numpy()
    at = table["at"].cast(pa.int64()).to_numpy()
    index = table["index"].to_numpy()
    same = np.diff(channel) == 0
    step = np.where(same, np.diff(index), 0)
    step[step < -500_000] += 10**6
    np.bincount(channel[1:], weights=step)
    np.bincount(channel[1:], weights=step < 0)
    days = int((at.max() - START_US) // (24 * HOUR_US)) + 1
    key = channel[1:].astype(np.int64) * days + (at[1:] - START_US) // (24 * HOUR_US)
    np.bincount(key, weights=step)
    np.bincount(key, weights=step == 0)
    return len(index)


def timed(name: str, rows: int, job: Callable[[], int], *, repeats: int = 3) -> float:
    """Run a job a few times, print the best, and return its rows a second."""
    best = np.inf
    for _ in range(repeats):
        begun = perf_counter()
        counted = job()
        best = min(best, perf_counter() - begun)
        if counted != rows:
            raise SystemExit(f"{name}: {counted:,} rows counted, {rows:,} written")
    print(f"{name:<28} {best:7.2f} s  {rows / best / 1e6:8.1f} million reads/s")
    return rows / best


def main() -> None:
    """Write the file unless it stands, then time each way."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--reads", type=int, default=20_000_000)
    parser.add_argument("--ports", type=int, default=2_000)
    parser.add_argument("--keep", type=Path, help="folder to keep the file in")
    asked = parser.parse_args()
    hours = asked.reads // asked.ports
    rows = hours * asked.ports
    with tempfile.TemporaryDirectory(prefix="dialtrue-bench-") as scratch:
        path = (asked.keep or Path(scratch)) / f"reads-{asked.ports}x{hours}.parquet"
        if not path.exists():
            begun = perf_counter()
            write_reads(path, asked.ports, hours)
            print(f"written in {perf_counter() - begun:.1f} s")
        size = path.stat().st_size
        print(f"{rows:,} reads of {asked.ports:,} ports, {size / 1e6:,.0f} MB, {size / rows:.2f} bytes a read")
        scanned(path, asked.ports, hours)  # compiles
        plain = timed("bare scan of all columns", rows, lambda: bare(path))
        ours = timed("scan with every figure", rows, lambda: scanned(path, asked.ports, hours))
        print(f"{'the scan is slower by':<28} {plain / ours:7.2f} times")
        print(f"memory so far {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:,.0f} MB")
        timed("instead: group_by ends only", rows, lambda: grouped(path), repeats=1)
        timed("instead: whole-column diff", rows, lambda: differenced(path), repeats=1)
        print(f"memory at most {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:,.0f} MB")


if __name__ == "__main__":
    main()
