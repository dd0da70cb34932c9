"""Measure how fast tables and reads come in: sites as CSV and XLSX, reads as CSV and Parquet against a bare scan.

Run: ``python benchmarks/bench_sites_load.py [--sites 100000] [--ports 400] [--hours 8760]``. Figures go to stdout.
"""

from __future__ import annotations

import argparse
import datetime as dt
import resource
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import perf_counter

import numpy as np
import pyarrow as pa
import pyarrow.csv as pacsv
import pyarrow.parquet as pq

from dialtrue.files.programme import open_programme
from dialtrue.files.tables_out import write_reads, write_table

AT = dt.datetime(2026, 6, 1, tzinfo=dt.UTC)
FIRST_US = int(dt.datetime(2025, 5, 1, tzinfo=dt.UTC).timestamp()) * 1_000_000


def sites_table(rows: int) -> pa.Table:
    """Return a sites table with every column of the contract filled in."""
    numbers = np.arange(rows)
    text = lambda form: pa.array([form.format(n) for n in numbers.tolist()])  # noqa: E731
    same = lambda value: pa.array([value] * rows)  # noqa: E731
    return pa.table(
        {
            "site": text("S{:06d}"), "account": text("{:08d}"), "address": text("{} Long Lane"),
            "latitude": pa.array(41.0 + numbers / 1e6), "longitude": pa.array(-95.0 + numbers / 1e6),
            "mount": same("pit"), "meter_serial": text("{:09d}"), "meter_type": same("nutating_disc"),
            "meter_size": same("5/8in"), "register_role": same("single"), "dial_digits": same(6),
            "fixed_zeros": same(1), "dial_unit": same("gal"), "pulse_weight": same("10"), "pulse_unit": same("gal"),
            "output": same("dry_contact"), "cable_length_m": pa.array(numbers % 30 + 0.5),
            "use_l_per_day": pa.array(numbers % 900 + 100.0),
        }
    )  # fmt: skip


def reads_table(ports: int, hours: int) -> pa.Table:
    """Return hourly reads of ``ports`` endpoints."""
    rng = np.random.default_rng(1)
    codes = np.repeat(np.arange(ports, dtype=np.int32), hours)
    names = pa.array([f"E{n:07d}" for n in range(ports)])
    at = np.tile(FIRST_US + np.arange(hours, dtype=np.int64) * 3_600_000_000, ports)
    index = np.cumsum(rng.poisson(3, (ports, hours)), axis=1).ravel()
    return pa.table(
        {
            "endpoint_serial": pa.DictionaryArray.from_arrays(pa.array(codes), names),
            "port": pa.array(np.ones(len(at), np.int32)),
            "at": pa.array(at).cast(pa.timestamp("us")).cast(pa.timestamp("us", tz="UTC")),
            "index": pa.array(index),
        }
    )


def best(work: Callable[[], object], times: int = 3) -> float:
    """Return the least of several timings. [s]"""
    found = []
    for _ in range(times):
        start = perf_counter()
        work()
        found.append(perf_counter() - start)
    return min(found)


def take(folder: Path) -> int:
    """Pull every batch; return the number of reads."""
    source = open_programme(folder, at=AT).reads
    return 0 if source is None else sum(len(batch.index) for batch in source.batches())


def bare_scan(path: Path) -> None:
    """Read every row group and drop it."""
    opened = pq.ParquetFile(path, read_dictionary=["endpoint_serial"])
    for group in range(opened.num_row_groups):
        opened.read_row_group(group)


def write_xlsx(path: Path, table: pa.Table) -> None:
    """Write a workbook, serials as text."""
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    sheet = book.create_sheet()
    sheet.append(table.column_names)
    for row in zip(*(column.to_pylist() for column in table.columns), strict=True):
        sheet.append(row)
    book.save(path)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sites", type=int, default=100_000)
    parser.add_argument("--ports", type=int, default=1000)
    parser.add_argument("--hours", type=int, default=8760)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        sites = sites_table(options.sites)
        for kind in ("csv", "csv.gz", "parquet", "xlsx"):
            here = folder / kind
            here.mkdir()
            write_xlsx(here / "sites.xlsx", sites) if kind == "xlsx" else write_table(here / f"sites.{kind}", sites)
            seconds = best(lambda here=here: open_programme(here, at=AT), 2)
            print(f"sites.{kind}: {options.sites:,} rows in {seconds:.2f} s")
        reads = reads_table(options.ports, options.hours)
        rows = reads.num_rows
        for kind in ("parquet", "csv", "csv.gz", "naive.csv", "odd.csv"):
            here = folder / f"reads-{kind}"
            here.mkdir()
            path = here / f"reads.{kind.rpartition('.')[2] if '.csv' in kind else kind}"
            if kind == "csv.gz":
                path = here / "reads.csv.gz"
            part = reads.slice(0, min(rows, 3_000_000)) if kind in ("csv.gz", "odd.csv") else reads
            if kind == "parquet":
                write_reads(path, part)
            else:
                write_table(path, part)
            if kind == "naive.csv":
                path.write_bytes(path.read_bytes().replace(b"Z,", b","))
                (here / "programme.toml").write_text('timezone = "America/Chicago"\n')
            if kind == "odd.csv":
                path.write_bytes(path.read_bytes().replace(b"12:00:00Z,", b"12:00:00Z,0.5e1"))
            seconds = best(lambda here=here: take(here))
            bare = best(lambda p=path: bare_scan(p) if p.suffix == ".parquet" else None)
            if path.suffix == ".csv":
                bare = best(lambda p=path: pacsv.read_csv(p))
            size = path.stat().st_size / part.num_rows
            print(
                f"reads.{kind}: {part.num_rows / seconds / 1e6:.1f} million reads/s, {size:.2f} bytes a read"
                + (f"; bare {part.num_rows / bare / 1e6:.1f} million/s" if bare > 1e-4 else "")
            )
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f} GB")


if __name__ == "__main__":
    main()
