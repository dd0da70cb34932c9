"""Time the plan of a programme: python benchmarks/bench_plan.py [registers] [--odd].

A usual survey: runs to the decimetre, a handful of outputs, compound meters and shared sites. ``--odd``: every sheet,
every run another length, one row in ten with something missing or odd.
"""

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

from dialtrue.domain.planning.settings import PlanSettings
from dialtrue.files.sheets import shipped_catalogue
from dialtrue.files.sites_in import read_sites
from dialtrue.files.tables_out import write_table
from dialtrue.services.plan import plan_folder

AT = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
SIZES = (("5/8in", 6, "gal", "10"), ("3/4in", 7, "gal", "10"), ("1in", 7, "gal", "1"), ("2in", 7, "gal", "100"),
         ("5/8in", 6, "ft3", "1"), ("DN15", 8, "m3", "0.001"), ("DN50", 8, "m3", "0.1"))  # fmt: skip


def sites(count: int, *, odd: bool) -> pa.Table:
    """Return an invented survey."""
    rng, catalogue = np.random.default_rng(11), shipped_catalogue()
    kind = rng.integers(0, len(SIZES), count)
    site = np.arange(count) - np.cumsum(rng.random(count) < 0.04)  # some sites have two meters
    role = np.full(count, "single", dtype=object)
    serial = np.array([f"{number:08d}" for number in range(count)], dtype=object)
    twins = np.flatnonzero((site[1:] == site[:-1]) & (rng.random(count - 1) < 0.5))
    twins = twins[np.diff(twins, prepend=-9) > 1]
    role[twins], role[twins + 1], serial[twins + 1] = "high", "low", serial[twins]
    outputs = list(catalogue.outputs) if odd else ["reed-contact", "reed-one-in-five", "open-drain"]
    length = rng.gamma(2.0, 3.0, count) + 0.5
    mount = np.array(["pit", "pit", "wall", "indoor", "pole"], dtype=object)[rng.integers(0, 5, count)]
    mount[np.flatnonzero(np.diff(site, prepend=-1) == 0)] = mount[np.flatnonzero(np.diff(site, prepend=-1) == 0) - 1]
    columns = {
        "site": [f"S{number:06d}" for number in site],
        "meter_serial": serial.tolist(),
        "register_role": role.tolist(),
        "mount": mount.tolist(),
        "meter_size": [SIZES[k][0] for k in kind],
        "dial_digits": [SIZES[k][1] for k in kind],
        "dial_unit": [SIZES[k][2] for k in kind],
        "dial_resolution": [("0.001" if SIZES[k][2] == "m3" else "1") for k in kind],
        "pulse_weight": [SIZES[k][3] for k in kind],
        "pulse_unit": [SIZES[k][2] for k in kind],
        "output": np.array(outputs, dtype=object)[rng.integers(0, len(outputs), count)].tolist(),
        "cable_length_m": length if odd else np.round(length, 1),
        "use_l_per_day": np.round(rng.gamma(2.0, 300.0, count), 1),
    }
    if odd:
        for name in ("output", "mount", "meter_size"):
            held = np.array(columns[name], dtype=object)
            held[rng.random(count) < 0.03] = None
            columns[name] = held.tolist()
    return pa.table(columns)


def main() -> None:
    """Print the times: reading the file, planning, writing; and the planning as a multiple of the reading."""
    words = [word for word in sys.argv[1:] if not word.startswith("-")]
    count, odd = int(words[0]) if words else 100_000, "--odd" in sys.argv
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sites.parquet"
        pq.write_table(sites(count, odd=odd), path)
        plan_folder(path, at=AT, settings=PlanSettings())  # the first call loads and compiles
        begin, begin_cpu = time.perf_counter(), time.process_time()
        read_sites(path, at=AT)
        loaded = time.perf_counter()
        answer = plan_folder(path, at=AT, settings=PlanSettings())
        planned, cpu = time.perf_counter(), time.process_time() - begin_cpu
        write_table(Path(folder) / "plan.csv", answer.plan)
        written = time.perf_counter()
    reading, planning = loaded - begin, planned - loaded
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{answer.plan.num_rows:,} registers: read {reading:.2f} s, plan with reading {planning:.2f} s "
        f"({planning / reading:.1f} times the reading), {cpu:.2f} s of processor in all, "
        f"write CSV {written - planned:.2f} s, peak {peak:.0f} MB; "
        f"{answer.counts['ask']:,} to ask, {len(answer.questions)} questions, {answer.verdicts}"
    )


if __name__ == "__main__":
    main()
