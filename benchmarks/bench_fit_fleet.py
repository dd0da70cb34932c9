"""Time the fit check of a sites table: python benchmarks/bench_fit_fleet.py [registers]."""

from __future__ import annotations

import datetime as dt
import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from dialtrue.domain.pulse_chain.chain import FitSettings
from dialtrue.engine.fleet_fit import judge_fleet
from dialtrue.files.sheets import shipped_catalogue
from dialtrue.files.sites_in import read_sites
from dialtrue.services.fit_population import Blanks, fleet_of_sites, plan_table


def sites(count: int) -> pa.Table:
    """Return an invented population of every sheet, size and length."""
    rng, catalogue = np.random.default_rng(7), shipped_catalogue()

    def pick(names: list[str]) -> np.ndarray:
        return np.array(names, dtype=object)[rng.integers(0, len(names), count)]

    return pa.table(
        {
            "site": [f"S{number:06d}" for number in range(count)],
            "meter_serial": [f"{number:08d}" for number in range(count)],
            "meter_size": pick(["5/8in", "1in", "2in", "DN15", "DN50"]).tolist(),
            "dial_digits": np.full(count, 6),
            "dial_unit": pick(["gal", "m3"]).tolist(),
            "pulse_weight": pick(["1", "10", "0.1"]).tolist(),
            "pulse_unit": pick(["gal", "L"]).tolist(),
            "output": pick(list(catalogue.outputs)).tolist(),
            "input": pick(list(catalogue.inputs)).tolist(),
            "cable": pick(list(catalogue.cables)).tolist(),
            "cable_length_m": rng.uniform(0.5, 120.0, count),
        }
    )


def main() -> None:
    """Print the times."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sites.parquet"
        pq.write_table(sites(count), path)
        start = time.perf_counter()
        table, _ = read_sites(path, at=dt.datetime(2026, 1, 1, tzinfo=dt.UTC))
        loaded = time.perf_counter()
        fleet, _ = fleet_of_sites(table, shipped_catalogue(), FitSettings(), Blanks())
        fit = judge_fleet(fleet)
        plan = plan_table(table, fit)
        done = time.perf_counter()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{plan.num_rows:,} registers: load {loaded - start:.2f} s, judge {done - loaded:.2f} s, peak {peak:.0f} MB")


if __name__ == "__main__":
    main()
