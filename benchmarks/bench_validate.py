"""Measure the checks of reads and the filling of gaps, written to Parquet.

Run: ``python benchmarks/bench_validate.py [--ports 1141] [--hours 8766]``. Figures go to stdout: seconds, seconds of
all cores, reads a second and memory at most. The files are those of ``bench_watch_scale.py``: hourly reads of a year,
of which 2 in 100 are taken out one by one and 1 in 100 in stretches of half a day. Beside it stands what a table
library needs for nothing but finding the steps longer than the usual one.
"""

from __future__ import annotations

import argparse
import datetime as dt
import multiprocessing
import resource
import tempfile
from pathlib import Path
from time import perf_counter, process_time

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from bench_watch_scale import START, write_programme


def make(folder: Path, ports: int, hours: int) -> None:
    """Write the programme that is measured."""
    write_programme(folder, ports, hours)
    thin_out(folder / "reads.parquet")


def thin_out(path: Path) -> None:
    """Take reads out, one by one and in stretches."""
    table = pq.read_table(path)
    rng = np.random.default_rng(5)
    kept = rng.random(len(table)) >= 0.02
    for begin in rng.choice(len(table) - 12, len(table) // 1200, replace=False).tolist():
        kept[begin : begin + 12] = False
    pq.write_table(table.filter(pa.array(kept)), path, compression="zstd", row_group_size=1_000_000)


def validated(folder: Path, out: Path) -> tuple[float, float, int, int]:
    """Validate and write; return seconds, seconds of all cores, reads and estimates."""
    from dialtrue.domain.read_checks.settings import ValidateSettings
    from dialtrue.files.validated_out import write_validated
    from dialtrue.services.read_validation import open_validation

    began, worked = perf_counter(), process_time()
    validation = open_validation(folder, at=START + dt.timedelta(days=3650), settings=ValidateSettings())
    write_validated(out, validation.blocks())
    account = validation.account
    return perf_counter() - began, process_time() - worked, account.reads, account.estimated


def steps_by_columns(path: Path) -> tuple[float, int]:
    """Find the long steps of a sorted file by whole columns, as one would without us."""
    began = perf_counter()
    table = pq.read_table(path, columns=["endpoint_serial", "at"], read_dictionary=["endpoint_serial"])
    codes = table["endpoint_serial"].unify_dictionaries().combine_chunks().indices.to_numpy()
    at_us = table["at"].cast("int64").to_numpy()
    long = int(((np.diff(codes) == 0) & (np.diff(at_us) > 5_400_000_000)).sum())
    return perf_counter() - began, long


def main() -> None:
    """Measure once cold for the compiler, then once warm."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--ports", type=int, default=1141)
    words.add_argument("--hours", type=int, default=8766)
    asked = words.parse_args()
    with tempfile.TemporaryDirectory(prefix="dialtrue-bench-") as kept:
        small, folder = Path(kept) / "small", Path(kept) / "whole"
        write_programme(small, 5, 1000)
        # In a process of its own: what it takes is no part of what is measured.
        maker = multiprocessing.get_context("spawn").Process(target=make, args=(folder, asked.ports, asked.hours))
        maker.start()
        maker.join()
        validated(small, Path(kept) / "small.parquet")
        seconds, cores, reads, estimates = validated(folder, Path(kept) / "validated.parquet")
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{reads:,} reads, {estimates:,} estimates: {seconds:.1f} s, {cores:.1f} s of all cores, "
            f"{reads / seconds / 1e6:.2f} million a second, {most:,.0f} MB at most"
        )
        alone, long = steps_by_columns(folder / "reads.parquet")
        print(f"long steps by whole columns: {long:,} in {alone:.1f} s")


if __name__ == "__main__":
    main()
