"""Measure a night: 24 new reads for each of many ports, counted into the figures kept from the nights before.

Run: ``python benchmarks/bench_nightly.py [--ports 100000] [--days 4] [--nights 2] [--judge] [--keep FOLDER]``. Prints
seconds by stage, memory, and the size of what is kept. ``--judge`` adds the weighing of the evidence. The programme is
made up: sites and fittings as tables, one file of reads a night; the first run counts ``--days`` days.
"""

from __future__ import annotations

import argparse
import datetime as dt
import resource
import tempfile
from pathlib import Path
from time import perf_counter, process_time

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from dialtrue.files.programme import open_programme
from dialtrue.services.watch import watch_folder
from dialtrue.services.watch_state import count_night

START = dt.datetime(2026, 1, 5, tzinfo=dt.UTC)
HOUR_US = 3_600_000_000
PER_GROUP = 1 << 20
STAMP = pa.timestamp("us", tz="UTC")
DELTA = dict.fromkeys(("port", "at", "index"), "DELTA_BINARY_PACKED")


def serials(ports: int) -> pa.Array:
    """Return the endpoints' serials."""
    return pa.array([f"{k:08d}" for k in range(ports)])


def write_records(folder: Path, ports: int) -> None:
    """Write sites and fittings of that many ports."""
    names = serials(ports)

    def all_of(value: str) -> pa.Array:
        return pa.DictionaryArray.from_arrays(np.zeros(ports, np.int32), [value]).dictionary_decode()

    (folder / "programme.toml").write_text('timezone = "America/Chicago"\n', encoding="utf-8")
    sites = {"site": names, "meter_serial": names, "meter_size": all_of("5/8in"), "dial_digits": all_of("6"),
             "dial_unit": all_of("gal"), "pulse_weight": all_of("1"), "pulse_unit": all_of("gal")}  # fmt: skip
    pq.write_table(pa.table(sites), folder / "sites.parquet")
    fittings = {"meter_serial": names, "endpoint_serial": names, "fitted_at": all_of(START.isoformat()),
                "dial_at_fit": all_of("000000"), "start_index": all_of("0"), "index_digits": all_of("6"),
                "index_unit": all_of("gal"), "index_resolution": all_of("1"), "weight_set": all_of("1"),
                "weight_unit": all_of("gal")}  # fmt: skip
    pq.write_table(pa.table(fittings), folder / "fittings.parquet")
    (folder / "reads").mkdir()


def write_days(folder: Path, ports: int, first_day: int, days: int, index: np.ndarray) -> int:
    """Write hourly reads of some days as one file, sorted by port; ``index`` (ports,) is moved on. Returns bytes."""
    rng = np.random.default_rng(first_day)
    hours = 24 * days
    at = (START - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)) // dt.timedelta(microseconds=1)
    at_us = at + (24 * first_day + 1 + np.arange(hours, dtype=np.int64)) * HOUR_US
    path = folder / "reads" / f"{(START + dt.timedelta(days=first_day)):%Y-%m-%d}.parquet"
    names = serials(ports)
    schema = pa.schema([("endpoint_serial", pa.string()), ("port", pa.int32()), ("at", STAMP), ("index", pa.int64())])
    per_group = max(1, PER_GROUP // hours)
    with pq.ParquetWriter(
        path, schema, compression="zstd", use_dictionary=["endpoint_serial"], column_encoding=DELTA
    ) as writer:
        for low in range(0, ports, per_group):
            many = min(per_group, ports - low)
            steps = rng.poisson(rng.gamma(0.5, 20.0, (many, hours)))
            counts = index[low : low + many, None] + steps.cumsum(axis=1)
            index[low : low + many] = counts[:, -1]
            writer.write_table(pa.table([
                names.slice(low, many).take(pa.array(np.repeat(np.arange(many), hours))),
                pa.array(np.ones(many * hours, np.int32)), pa.array(np.tile(at_us, many)).cast(STAMP),
                pa.array(counts.reshape(-1) % 10**6),
            ], schema=schema))  # fmt: skip
    return path.stat().st_size


class Stages:
    """Seconds, and seconds of work on all cores, between the first words of one stage and those of the next."""

    def __init__(self) -> None:
        self.last, self.last_work = perf_counter(), process_time()
        self.now = "opening the tables"
        self.seconds: dict[str, float] = {}
        self.work: dict[str, float] = {}

    def say(self, what: str, done: int, total: int) -> None:
        """Take a progress report."""
        moment, work = perf_counter(), process_time()
        self.seconds[self.now] = self.seconds.get(self.now, 0.0) + moment - self.last
        self.work[self.now] = self.work.get(self.now, 0.0) + work - self.last_work
        self.last, self.last_work, self.now = moment, work, what

    def shown(self) -> str:
        """Return the stages in a line."""
        self.say("end", 1, 1)
        stages = ((what, spent, self.work[what]) for what, spent in self.seconds.items() if spent >= 0.05)
        return "".join(f"\n    {what:<28} {spent:6.1f} s, {work:5.1f} s of work" for what, spent, work in stages)


def size_of(folder: Path) -> int:
    """Return the bytes of all files below a folder."""
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())


def run_night(folder: Path, state: Path, moment: dt.datetime, *, judge: bool) -> tuple[int, Stages]:
    """Count one night; return the reads counted so far and the stages."""
    stages = Stages()
    if judge:
        result = watch_folder(folder, at=moment, state=state, traces=0, progress=stages.say)
        return result.summary.reads, stages
    counted = count_night(
        open_programme(folder, at=moment), state, at=moment, as_of=None, accept=(), keep=True, say=stages.say
    )
    assert counted is not None
    return counted.reads, stages


def main() -> None:
    """Write the days, count them, then night after night."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ports", type=int, default=100_000)
    parser.add_argument("--days", type=int, default=4)
    parser.add_argument("--nights", type=int, default=2)
    parser.add_argument("--judge", action="store_true", help="weigh the evidence too")
    parser.add_argument("--keep", type=Path, help="folder to work in; it must be empty or new")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="dialtrue-bench-") as scratch:
        home = asked.keep or Path(scratch)
        folder, state = home / "programme", home / "state"
        folder.mkdir(parents=True)
        index = np.zeros(asked.ports, np.int64)
        write_records(folder, asked.ports)
        size = write_days(folder, asked.ports, 0, asked.days, index)
        print(
            f"{asked.ports:,} ports, {asked.days} days, {24 * asked.days * asked.ports:,} reads, {size / 1e6:,.0f} MB"
        )
        for night in range(asked.nights + 1):
            day = asked.days + night
            if night:
                size = write_days(folder, asked.ports, day - 1, 1, index)
            begun, worked = perf_counter(), process_time()
            reads, stages = run_night(folder, state, START + dt.timedelta(days=day, minutes=30), judge=asked.judge)
            spent = perf_counter() - begun
            if reads != 24 * (day if night else asked.days) * asked.ports:
                raise SystemExit(f"{reads:,} reads counted, not what was written")
            name = f"night {night}" if night else "first run"
            print(f"{name:<32} {spent:6.1f} s, {process_time() - worked:5.1f} s of work{stages.shown()}")
            memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            print(f"    memory at most {memory:,.0f} MB, kept {size_of(state) / 1e6:,.0f} MB")


if __name__ == "__main__":
    main()
