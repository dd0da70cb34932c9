"""Measure the scan of reads against the disk and against a bare sum by DuckDB, on one Parquet file.

Run: ``python benchmarks/bench_scan.py [--ports 11547] [--hours 8660] [--keep FOLDER] [--no-curve]``. Figures go to
stdout, each measured in a process of its own: seconds, seconds of all cores (what the work is, where others use the
machine too), reads a second and memory at most, for a hundredth and a tenth of the ports and for all. Up to twenty
million reads also what a user would do without us: first and last index by a table library, steps by whole columns.
The files are those of ``bench_watch_scale.py``: sorted by endpoint and time, row groups cut between ports.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import threading
from pathlib import Path
from time import perf_counter, process_time

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from bench_watch_scale import START, START_US, TURN, duckdb_sum, write_programme

DAY_US = 86_400_000_000
FEW = 20_000_000
REPEATS = 3


def bare(folder: Path, threads: int) -> int:
    """Read every column, row group by row group, and look at none."""
    path = folder / "reads.parquet"
    groups = iter(range(pq.ParquetFile(path).metadata.num_row_groups))
    turn, rows = threading.Lock(), []

    def work() -> None:
        opened = pq.ParquetFile(path, read_dictionary=["endpoint_serial", "flag"], pre_buffer=False)
        while True:
            with turn:
                group = next(groups, None)
            if group is None:
                return
            rows.append(opened.read_row_group(group, use_threads=False).num_rows)

    workers = [threading.Thread(target=work) for _ in range(threads)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    return sum(rows)


def scanned(folder: Path, threads: int) -> int:
    """Read and count: every figure that the watch needs."""
    from dialtrue.services.reads_scan import count_reads, span_of

    programme, records, calendar = _records(folder)
    span = span_of(programme.reads, _quiet)
    counted = count_reads(programme.reads, records, calendar, say=_quiet, kept=span.kept, threads=threads)
    if int(counted.scan.figures["n"].sum()) != counted.reads:
        raise SystemExit("a read was not counted")
    return counted.reads


_OPENED: dict[Path, tuple] = {}


def _records(folder: Path) -> tuple:
    """Open a programme once: the records are no part of the scan."""
    if folder not in _OPENED:
        import datetime as dt

        from dialtrue.files.programme import open_programme
        from dialtrue.services.calendar import build_calendar
        from dialtrue.services.fleet_records import gather
        from dialtrue.services.reads_scan import span_of

        programme = open_programme(folder, at=START + dt.timedelta(days=800))
        span = span_of(programme.reads, _quiet)
        calendar = build_calendar(span.first_us, span.last_us, programme.timezone, programme.tables.get("weather"))
        _OPENED[folder] = (programme, gather(programme.tables), calendar)
    return _OPENED[folder]


def _quiet(what: str, done: int, total: int) -> None:
    """Show nothing."""


def summed(folder: Path, threads: int) -> int:
    """Sum every column by DuckDB."""
    duckdb_sum(folder / "reads.parquet", threads, repeats=1)
    return int(pq.ParquetFile(folder / "reads.parquet").metadata.num_rows)


def grouped(folder: Path, threads: int) -> int:
    """Do what a user would with a table library: first and last index of each port, nothing of the way between."""
    table = pq.read_table(folder / "reads.parquet")
    sums = [("index", "min"), ("index", "max"), ("at", "max"), ("index", "count")]
    return int(table.group_by("endpoint_serial").aggregate(sums)["index_count"].to_numpy().sum())


def differenced(folder: Path, threads: int) -> int:
    """Do what a user would with arrays: whole columns, hourly steps across rollovers, falls, still hours per day."""
    table = pq.read_table(folder / "reads.parquet", read_dictionary=["endpoint_serial"]).unify_dictionaries()
    port = table["endpoint_serial"].combine_chunks().indices.to_numpy()
    at, index = table["at"].cast(pa.int64()).to_numpy(), table["index"].to_numpy()
    step = np.where(np.diff(port) == 0, np.diff(index), 0)
    step[step < -TURN // 2] += TURN
    np.bincount(port[1:], weights=step)
    np.bincount(port[1:], weights=step < 0)
    days = int((at.max() - START_US) // DAY_US) + 1
    key = port[1:].astype(np.int64) * days + (at[1:] - START_US) // DAY_US
    np.bincount(key, weights=step)
    np.bincount(key, weights=step == 0)
    return len(index)


JOBS = {
    "sum by DuckDB": summed, "bare read": bare, "scan, every figure": scanned, "instead: ends only": grouped,
    "instead: whole columns": differenced,
}  # fmt: skip


def timed(name: str, folder: Path, threads: int) -> dict[str, float]:
    """Run a job a few times in this process; return the best seconds, the rows and memory at most [MB]."""
    runs = []
    for _ in range(REPEATS):
        begun, worked = perf_counter(), process_time()
        rows = JOBS[name](folder, threads)
        runs.append((perf_counter() - begun, process_time() - worked))
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return {"seconds": min(runs)[0], "cpu": min(cpu for _, cpu in runs), "rows": rows, "memory": memory}


def main() -> None:
    """Write the files unless they stand, then time each job on each."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ports", type=int, default=11_547)
    parser.add_argument("--hours", type=int, default=8_660)
    parser.add_argument("--threads", type=int, default=len(os.sched_getaffinity(0)))
    parser.add_argument("--keep", type=Path, help="folder to keep the files in")
    parser.add_argument("--no-curve", action="store_true", help="all ports only")
    parser.add_argument("--job", nargs=2, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.job:
        print(json.dumps(timed(asked.job[0], Path(asked.job[1]), asked.threads)))
        return
    with tempfile.TemporaryDirectory(prefix="dialtrue-bench-") as scratch:
        for share in (1,) if asked.no_curve else (100, 10, 1):
            ports = max(1, asked.ports // share)
            folder = (asked.keep or Path(scratch)) / f"{ports}x{asked.hours}"
            if not (folder / "weather.csv").exists():
                write_programme(folder, ports, asked.hours)
            size, rows = (folder / "reads.parquet").stat().st_size, ports * asked.hours
            print(f"{rows:,} reads of {ports:,} ports, {size / 1e6:,.0f} MB, {size / rows:.2f} bytes a read")
            basis = None
            for name in JOBS:
                if name.startswith("instead") and rows > FEW:
                    continue
                command = [sys.executable, __file__, "--threads", str(asked.threads), "--job", name, str(folder)]
                run = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
                if run["rows"] != rows:
                    raise SystemExit(f"{name}: {run['rows']:,} rows counted, {rows:,} written")
                basis = basis or run
                print(f"  {name:<24} {run['seconds']:7.2f} s {rows / run['seconds'] / 1e6:7.1f} million reads/s "
                      f"{run['seconds'] / basis['seconds']:6.2f} times the sum; of cores {run['cpu']:7.2f} s "
                      f"{run['cpu'] / basis['cpu']:6.2f} times; {run['memory']:6,.0f} MB")  # fmt: skip


if __name__ == "__main__":
    main()
