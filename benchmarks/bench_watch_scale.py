"""Measure the whole watch on a programme of many ports against a bare sum over the same Parquet file.

Run: ``python benchmarks/bench_watch_scale.py [--ports 11547] [--hours 8660] [--keep FOLDER] [--curve]``. Each watch
runs in a process of its own, after one on a small programme has compiled what there is to compile. Figures go to
stdout: seconds of the imports and of each stage, memory at most, and the ratio to a sum over all columns by DuckDB
(development extras). ``--curve`` runs a hundredth and a tenth of the ports too.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import perf_counter, process_time

import numpy as np
import pyarrow as pa
import pyarrow.csv as pacsv
import pyarrow.parquet as pq

HOUR_US = 3_600_000_000
START = dt.datetime(2024, 10, 1, tzinfo=dt.UTC)
START_US = round(START.timestamp()) * 10**6
GROUP_ROWS = 1_000_000
TURN = 10**7
DIAL_EVERY_H = 24 * 30
LOST_SHARE = 0.004
PER_YEAR = 8_760_000_000
STAGES = (
    "open_programme", "span_of", "gather", "build_calendar", "count_reads", "_case", "gather_evidence", "combine",
    "compose",
)  # fmt: skip


def write_programme(folder: Path, ports: int, hours: int) -> None:
    """Write a programme of single meters in gallons: hourly reads of a year or so, a dial read a month, bills before.

    A few ports lose counts; all others are true to the dial.
    """
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(3)
    (folder / "programme.toml").write_text('name = "a bench"\ntimezone = "America/Chicago"\n', encoding="utf-8")
    meter = np.char.add("04", np.char.zfill(np.arange(ports).astype(str), 7))
    endpoint = np.char.add("2", np.char.zfill(np.arange(ports).astype(str), 8))
    site = np.char.add("S", np.char.zfill(np.arange(ports).astype(str), 7))
    start = rng.integers(0, TURN, ports)
    use = rng.lognormal(np.log(150.0), 0.6, ports)
    at_h = np.arange(hours // 12, hours, DIAL_EVERY_H)
    seen = np.zeros((ports, len(at_h)), np.int64)
    _write_reads(folder / "reads.parquet", endpoint, start, use, hours, at_h, seen, rng)
    all_of = np.full
    _write_csv(folder / "sites.csv", {
        "site": site, "mount": all_of(ports, "pit"), "meter_serial": meter,
        "meter_type": all_of(ports, "nutating_disc"), "meter_size": all_of(ports, "5/8in"),
        "dial_digits": all_of(ports, 7), "dial_unit": all_of(ports, "gal"), "pulse_weight": all_of(ports, 1),
        "pulse_unit": all_of(ports, "gal"), "use_l_per_day": np.round(use * 3.785, 1),
    })  # fmt: skip
    began = f"{START - dt.timedelta(minutes=30):%Y-%m-%dT%H:%M:%SZ}"
    digits = np.char.zfill(start.astype(str), 7)
    _write_csv(folder / "fittings.csv", {
        "site": site, "meter_serial": meter, "endpoint_serial": endpoint, "port": all_of(ports, 1),
        "fitted_at": all_of(ports, began), "fitter": np.char.add("crew-", (np.arange(ports) % 7).astype(str)),
        "dial_at_fit": digits, "start_index": digits, "index_digits": all_of(ports, 7),
        "index_unit": all_of(ports, "gal"), "index_resolution": all_of(ports, 1), "weight_set": all_of(ports, 1),
        "weight_unit": all_of(ports, "gal"), "cable_lot": np.char.add("L", (np.arange(ports) % 5).astype(str)),
    })  # fmt: skip
    when = np.array([f"{START + dt.timedelta(hours=int(h)):%Y-%m-%dT%H:%M:%SZ}" for h in at_h])
    _write_csv(folder / "dial_reads.csv", {
        "meter_serial": np.repeat(meter, len(at_h)), "at": np.tile(when, ports),
        "dial": np.char.zfill((seen.reshape(-1) % TURN).astype(str), 7),
        "source": all_of(ports * len(at_h), "reader"),
    })  # fmt: skip
    edges = [START.date() - dt.timedelta(days=30 * k) for k in range(12, -1, -1)]
    billed = np.maximum(np.round(use[:, None] * 30 * rng.lognormal(0.0, 0.2, (ports, 12))), 0).astype(np.int64)
    _write_csv(folder / "use_history.csv", {
        "meter_serial": np.repeat(meter, 12), "start": np.tile([f"{day}" for day in edges[:-1]], ports),
        "end": np.tile([f"{day}" for day in edges[1:]], ports), "volume": billed.reshape(-1),
        "unit": all_of(ports * 12, "gal"),
    })  # fmt: skip
    hour = np.arange(hours)
    rain = np.where(rng.random(hours) < 0.06, np.round(rng.gamma(0.6, 2.0, hours), 1), 0.0)
    _write_csv(folder / "weather.csv", {
        "at": [f"{START + dt.timedelta(hours=int(h)):%Y-%m-%dT%H:%M:%SZ}" for h in hour], "rain_mm": rain,
        "temp_c": np.round(12 - 14 * np.cos(hour / 8766 * 2 * np.pi + 1.4), 1),
    })  # fmt: skip


def _write_csv(path: Path, columns: dict[str, object]) -> None:
    pacsv.write_csv(pa.table({name: pa.array(values) for name, values in columns.items()}), path)


def _write_reads(path, endpoint, start, use, hours, at_h, seen, rng) -> None:
    """Write the reads sorted by endpoint and time, row groups cut between ports, delta encoding for time and count."""
    at = START_US + np.arange(hours, dtype=np.int64) * HOUR_US
    day = np.exp(1.5 * np.sin((np.arange(24) - 13) / 24 * 2 * np.pi))
    hourly = np.tile(day / day.mean() / 24, hours // 24 + 1)[:hours]
    schema = pa.schema([
        ("endpoint_serial", pa.string()), ("port", pa.int32()), ("at", pa.timestamp("us", tz="UTC")),
        ("index", pa.int64()), ("flag", pa.string()),
    ])  # fmt: skip
    delta = dict.fromkeys(("port", "at", "index"), "DELTA_BINARY_PACKED")
    words = ["endpoint_serial", "flag"]
    each = max(1, GROUP_ROWS // hours)
    with pq.ParquetWriter(path, schema, use_dictionary=words, column_encoding=delta, compression="zstd") as writer:
        for first in range(0, len(endpoint), each):
            here = slice(first, first + each)
            count = len(endpoint[here])
            mean = use[here, None] * hourly
            drawn = rng.poisson(rng.gamma(0.4, 1.0, (count, hours)) * mean / 0.4)
            seen[here] = start[here, None] + drawn.cumsum(axis=1)[:, at_h]
            lost = rng.random(count) < LOST_SHARE
            drawn[lost] = rng.binomial(drawn[lost], 0.8)
            index = (start[here, None] + drawn.cumsum(axis=1)) % TURN
            codes = pa.array(np.repeat(np.arange(count, dtype=np.int32), hours))
            columns = [
                pa.DictionaryArray.from_arrays(codes, pa.array(endpoint[here])).cast(pa.string()),
                pa.array(np.ones(count * hours, np.int32)),
                pa.array(np.tile(at, count)).cast(schema.field("at").type),
                pa.array(index.reshape(-1)),
                pa.nulls(count * hours, pa.string()),
            ]
            writer.write_table(pa.Table.from_arrays(columns, schema=schema), row_group_size=count * hours)


def timed_watch(folder: Path) -> dict[str, float]:
    """Watch a programme in this process; return seconds of each stage, of the whole, and memory at most [MB].

    Figures named ``cpu`` are seconds of all cores: they say what the work is where others use the machine too.
    """
    begun = perf_counter()
    from dialtrue.services import watch

    # Arrow looks for a table library at its first value and imports it where one is installed.
    pa.scalar(0)
    spent: dict[str, float] = {"imports": perf_counter() - begun}

    def clocked(name: str, job: Callable[..., object]) -> Callable[..., object]:
        def run(*values: object, **named: object) -> object:
            begun, worked = perf_counter(), process_time()
            try:
                return job(*values, **named)
            finally:
                spent[name] = spent.get(name, 0.0) + perf_counter() - begun
                spent[f"{name} cpu"] = spent.get(f"{name} cpu", 0.0) + process_time() - worked

        return run

    for name in STAGES:
        if hasattr(watch, name):
            setattr(watch, name, clocked(name, getattr(watch, name)))
    begun, worked = perf_counter(), process_time()
    result = watch.watch_folder(folder, at=START + dt.timedelta(days=800))
    spent["watch"], spent["watch cpu"] = perf_counter() - begun, process_time() - worked
    spent["reads"] = result.summary.reads
    spent["memory_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    spent["findings"] = sum(finding.action != "none" for finding in result.findings)
    return spent


def duckdb_sum(path: Path, threads: int, *, repeats: int = 3) -> tuple[float, float]:
    """Return the seconds, and the seconds of all cores, of a sum over every column by DuckDB, the best."""
    import duckdb

    asked = (
        'select count(endpoint_serial), sum(port), sum(epoch_us("at")), sum("index"), count(flag) '
        f"from read_parquet('{path}')"
    )
    with duckdb.connect() as connection:
        connection.execute(f"set threads = {threads}")
        seconds = []
        for _ in range(repeats):
            begun, worked = perf_counter(), process_time()
            connection.execute(asked).fetchall()
            seconds.append((perf_counter() - begun, process_time() - worked))
    return min(seconds)[0], min(cpu for _, cpu in seconds)


def in_fresh_process(folder: Path) -> dict[str, float]:
    """Watch a programme in a process of its own."""
    asked = [sys.executable, __file__, "--watch", str(folder)]
    return json.loads(subprocess.run(asked, check=True, capture_output=True, text=True).stdout)


def measure(folder: Path, threads: int) -> dict[str, float]:
    """Print the stages of one programme and how it compares with the bare sum; return the watch's figures."""
    bare, bare_cpu = duckdb_sum(folder / "reads.parquet", threads)
    spent = min((in_fresh_process(folder) for _ in range(2)), key=lambda run: run["watch"])
    reads = int(spent["reads"])
    print(f"{reads:,} reads, {spent['memory_mb']:,.0f} MB at most, {spent['findings']:.0f} to look at")
    print(f"    seconds  sum {bare:.2f}, scan {spent['count_reads']:.2f}, watch {spent['watch']:.2f}: scan "
          f"{spent['count_reads'] / bare:.1f} and watch {spent['watch'] / bare:.1f} times the sum; the scan takes "
          f"{reads / spent['count_reads'] / 1e6:.0f} million reads/s")  # fmt: skip
    scan, watch = spent["count_reads cpu"], spent["watch cpu"]
    print(f"    of cores sum {bare_cpu:.2f}, scan {scan:.2f}, watch {watch:.2f}: scan {scan / bare_cpu:.1f} and watch "
          f"{watch / bare_cpu:.1f} times the sum")  # fmt: skip
    print(f"    imports before the first read: {spent['imports']:.2f} seconds")
    for title, ending in (("seconds", ""), ("of cores", " cpu")):
        stages = "  ".join(f"{name.strip('_')} {spent[name + ending]:.2f}" for name in STAGES if name in spent)
        print(f"    {title:<8} {stages}")
    return spent


def main() -> None:
    """Write the programmes unless they stand, then time each."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ports", type=int, default=11_547)
    parser.add_argument("--hours", type=int, default=8_660)
    parser.add_argument("--threads", type=int, default=2, help="threads of the sum, the same as the machine's cores")
    parser.add_argument("--keep", type=Path, help="folder to keep the programmes in")
    parser.add_argument("--curve", action="store_true", help="a hundredth and a tenth of the ports first")
    parser.add_argument("--watch", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.watch:
        print(json.dumps(timed_watch(asked.watch)))
        return
    with tempfile.TemporaryDirectory(prefix="dialtrue-bench-") as scratch:
        home = asked.keep or Path(scratch)
        shares = (100, 10, 1) if asked.curve else (1,)
        small = home / "small"
        if not (small / "weather.csv").exists():
            write_programme(small, 40, 1500)
        in_fresh_process(small)  # compiles
        for share in shares:
            ports = max(1, asked.ports // share)
            folder = home / f"{ports}x{asked.hours}"
            if not (folder / "weather.csv").exists():
                write_programme(folder, ports, asked.hours)
            spent = measure(folder, asked.threads)
        year = spent["watch"] * PER_YEAR / spent["reads"]
        print(f"a million ports for a year, {PER_YEAR:,} reads, at this pace: {year / 60:.1f} minutes")


if __name__ == "__main__":
    main()
