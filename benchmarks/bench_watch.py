"""Measure how fast a town is simulated and watched.

Run: ``python benchmarks/bench_watch.py [--registers 2000] [--days 90]``. Figures go to stdout.
"""

from __future__ import annotations

import argparse
import datetime as dt
import resource
import tempfile
from pathlib import Path
from time import perf_counter

from dialtrue.engine.simulation.town import TownPlan
from dialtrue.services.simulate import simulate_town
from dialtrue.services.watch import watch_folder


def main() -> None:
    """Simulate once, watch twice (the first run compiles), and print seconds and reads a second."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--registers", type=int, default=2000)
    parser.add_argument("--days", type=int, default=90)
    parser.add_argument("--seed", type=int, default=7)
    asked = parser.parse_args()
    plan = TownPlan(registers=asked.registers, days=asked.days, seed=asked.seed)
    with tempfile.TemporaryDirectory(prefix="dialtrue-bench-") as scratch:
        town = Path(scratch, "town")
        begun = perf_counter()
        made = simulate_town(town, Path(scratch, "labels"), plan)
        spent = perf_counter() - begun
        print(f"simulate  {asked.registers:,} registers, {asked.days} days, {made.reads:,} reads: {spent:.1f} s")
        for name in ("cold", "warm"):
            begun = perf_counter()
            result = watch_folder(town, at=plan.start + dt.timedelta(days=asked.days))
            spent = perf_counter() - begun
            reads = result.summary.reads
            print(f"watch     {name}: {reads:,} reads in {spent:.2f} s, {reads / spent:,.0f} reads/s")
    print(f"memory    {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:,.0f} MB at most")


if __name__ == "__main__":
    main()
