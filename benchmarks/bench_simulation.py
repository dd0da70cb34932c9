"""Measure how fast a town is built, and how fast it is written.

Run: ``python benchmarks/bench_simulation.py [--registers 2000] [--days 90]``. Figures go to stdout.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
from pathlib import Path
from time import perf_counter, process_time

from dialtrue.engine.simulation.town import TownPlan, build_town
from dialtrue.services.simulate import simulate_town


def main() -> None:
    """Build one town, then build and write it, and print seconds and reads a second."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--registers", type=int, default=2000)
    parser.add_argument("--days", type=int, default=90)
    asked = parser.parse_args()
    plan = TownPlan(seed=1, registers=asked.registers, days=asked.days)
    begun, begun_cpu = perf_counter(), process_time()
    town = build_town(plan)
    built_s, built_cpu_s = perf_counter() - begun, process_time() - begun_cpu
    reads = town.reads.num_rows
    del town
    begun = perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        simulate_town(Path(folder) / "town", Path(folder) / "labels", plan)
        written_s = perf_counter() - begun
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{asked.registers:,} registers x {asked.days} days hourly: {reads:,} reads")
    print(f"built in {built_s:.1f} s, {built_cpu_s:.1f} s of one processor: {reads / built_s:,.0f} reads a second")
    print(f"built and written in {written_s:.1f} s")
    print(f"peak memory {peak_mb:,.0f} MB, one process")


if __name__ == "__main__":
    main()
