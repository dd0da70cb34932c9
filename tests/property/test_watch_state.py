"""Night by night is as good as all at once: figures kept between runs give just what all the reads give."""

from __future__ import annotations

import csv
import datetime as dt
import random
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dialtrue.files.programme import open_programme
from dialtrue.services import watch
from dialtrue.services.watch_state import count_night

START = dt.datetime(2026, 1, 5, tzinfo=dt.UTC)
HOUR, DAY = dt.timedelta(hours=1), dt.timedelta(days=1)
ZONE = "America/Chicago"


def quiet(*_: object) -> None:
    """Say nothing."""


@dataclass
class Life:
    """A programme as it grows: what is written at which night. Times are hours since ``START``."""

    seed: int
    nights: list[int] = field(default_factory=list)
    events: dict[int, list[str]] = field(default_factory=dict)


PORTS = [("E1", 1), ("E1", 2), ("E2", 1), ("E3", 1), ("E4", 1)]


@st.composite
def lives(draw: st.DrawFn) -> Life:
    """Nights one to forty days apart, each with what else comes to pass."""
    life = Life(draw(st.integers(0, 2**20)))
    hour = draw(st.integers(24, 30 * 24))
    kinds = st.sampled_from([
        "late", "late", "correction", "copy", "fitting", "removal", "weight", "digits", "early look", "look",
        "drop look", "weather late", "order", "rewrite", "append", "stranger", "unsorted", "estimated",
        "shuffle fittings", "spike",
    ])  # fmt: skip
    for _ in range(draw(st.integers(2, 6))):
        life.nights.append(hour)
        life.events[hour] = draw(st.lists(kinds, max_size=3))
        hour += draw(st.sampled_from([24, 24, 24, 30, 7 * 24, 40 * 24]))
    return life


class Folder:
    """The folder of one life, written night by night."""

    def __init__(self, folder: Path, life: Life) -> None:
        self.folder, self.rng = folder, random.Random(life.seed)
        self.count = {port: self.rng.randrange(9_000) for port in PORTS}
        self.step = {port: self.rng.choice([1, 1, 1, 1, 24, 5]) for port in PORTS}
        self.told = dict.fromkeys(PORTS, 0)
        self.sent: list[tuple[str, int, int, int, str, int]] = []
        self.waiting: list[tuple[str, int, int, int, str, int]] = []
        self.fittings: list[dict[str, Any]] = [
            {"meter_serial": f"M{k}", "endpoint_serial": serial, "port": port, "fitted_at": START - DAY + k * HOUR,
             "dial_at_fit": f"{self.count[serial, port]:05d}", "start_index": str(self.count[serial, port]),
             "index_digits": 4, "index_unit": "gal", "index_resolution": "1", "weight_set": "1", "weight_unit": "gal",
             "removed_at": None}
            for k, (serial, port) in enumerate(PORTS[:4])
        ]  # fmt: skip
        self.looks: list[tuple[str, int, str]] = []
        self.weather_until = 0
        self.rain = [self.rng.choice([0.0, 0.0, 0.0, 2.5]) for _ in range(24 * 400)]
        (folder / "reads").mkdir(parents=True)
        (folder / "programme.toml").write_text(f'timezone = "{ZONE}"\n', encoding="utf-8")
        sites = "site,meter_serial,meter_size,dial_digits,dial_unit,pulse_weight,pulse_unit\n" + "".join(
            f"S{k},M{k},5/8in,5,gal,1,gal\n" for k in range(8)
        )
        (folder / "sites.csv").write_text(sites, encoding="utf-8")
        self.night_number = 0

    def night(self, hour: int, events: Sequence[str]) -> None:
        """Write what has come by ``hour``."""
        self.night_number += 1
        fresh, self.waiting = self.waiting, []
        tardy = self.rng.choice(PORTS)
        for port in PORTS:
            fresh += self.reads_of(port, hour, events, tardy=port == tardy)
        for event in events:
            self.happen(event, hour, fresh)
        if "weather late" not in events:
            self.weather_until = hour
        if "unsorted" in events:
            self.rng.shuffle(fresh)
        self.sent += fresh
        self.write_reads(fresh, events)
        self.write_tables(hour)

    def reads_of(self, port: tuple[str, int], hour: int, events: Sequence[str], *, tardy: bool) -> list[Any]:
        """Count on up to the hour; some reads are lost, some wait for a later night."""
        out = []
        for at in range(self.told[port] + self.step[port], hour + 1, self.step[port]):
            self.told[port] = at
            self.count[port] = (self.count[port] + self.rng.choice([0, 0, 1, 7, 30]) * self.step[port]) % 10_000
            flag = "estimated" if "estimated" in events and self.rng.random() < 0.05 else ""
            shown = self.count[port]
            if "spike" in events and self.rng.random() < 0.02:
                shown = (shown + 4_000) % 10_000
            row = (*port, at, shown, flag, at)
            draw = self.rng.random()
            if draw < 0.03:
                continue
            (self.waiting if tardy and "late" in events and draw < 0.1 else out).append(row)
        return out

    def happen(self, event: str, hour: int, fresh: list[Any]) -> None:
        """Let one thing come to pass."""
        some = self.rng.choice(self.fittings)
        if event == "correction" and self.sent:
            serial, port, at, count, flag, _ = self.rng.choice(self.sent)
            fresh.append((serial, port, at, (count + 11) % 10_000, flag, hour))
        elif event == "copy" and self.sent:
            fresh.append(self.rng.choice(self.sent))
        elif event == "fitting" and len(self.fittings) < 7:
            serial, port = self.rng.choice(PORTS)
            new = dict(some, meter_serial=f"M{len(self.fittings)}", endpoint_serial=serial, port=port)
            new["fitted_at"] = START + HOUR * self.rng.randrange(hour)
            self.fittings.insert(self.rng.choice([len(self.fittings), 0]), new)
        elif event == "removal":
            some["removed_at"] = START + HOUR * self.rng.randrange(hour)
        elif event == "weight":
            some["weight_set"] = self.rng.choice(["1", "10", "0.1"])
        elif event == "digits":
            some["index_digits"] = self.rng.choice([4, 5, 3])
        elif event in ("look", "early look"):
            back = self.rng.randrange(30) if event == "look" else self.rng.randrange(hour)
            self.looks.append((some["meter_serial"], max(hour - back, 0), f"{self.rng.randrange(99_999):05d}"))
        elif event == "drop look" and self.looks:
            self.looks.pop(self.rng.randrange(len(self.looks)))
        elif event == "shuffle fittings":
            self.rng.shuffle(self.fittings)
        elif event == "stranger":
            fresh += [("E9", 1, hour - k, k, "", hour) for k in range(5)]

    def write_reads(self, fresh: list[Any], events: Sequence[str]) -> None:
        """Put the reads into a new file, or a rewritten or a longer old one."""
        folder = self.folder / "reads"
        files = sorted(folder.iterdir())
        if "order" not in events and "unsorted" not in events:
            fresh.sort(key=lambda row: row[:3])
        old = [path for path in files if path.suffix == ".parquet"]
        if "append" in events and old:
            path = self.rng.choice(old)
            whole = pq.ParquetFile(path)
            groups = [whole.read_row_group(k) for k in range(whole.num_row_groups)]
            with pq.ParquetWriter(path, groups[0].schema) as writer:
                for group in [*groups, table(fresh)]:
                    writer.write_table(group)
            return
        texts = [path for path in files if path.suffix == ".csv"]
        if "append" in events and texts:
            with texts[0].open("a", encoding="utf-8", newline="") as stream:
                csv.writer(stream).writerows(lines(fresh))
            return
        if "rewrite" in events and old:
            path = self.rng.choice(old)
            held = pq.read_table(path)
            pq.write_table(held.slice(0, max(held.num_rows - 3, 1)), path)
        name = self.rng.choice(["a", "m", "z"]) + f"{self.night_number:02d}"
        if self.rng.random() < 0.3:
            with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as stream:
                csv.writer(stream).writerows([["endpoint_serial", "port", "at", "index", "flag", "received_at"],
                                              *lines(fresh)])  # fmt: skip
        else:
            pq.write_table(table(fresh), folder / f"{name}.parquet", row_group_size=max(len(fresh) // 2, 1))

    def write_tables(self, hour: int) -> None:
        """Write the records as they stand, and the weather so far."""
        rows = [{name: value.isoformat() if isinstance(value, dt.datetime) else value for name, value in row.items()}
                for row in self.fittings]  # fmt: skip
        cells = [{name: None if value is None else str(value) for name, value in row.items()} for row in rows]
        schema = pa.schema([(name, pa.string()) for name in self.fittings[0]])
        pq.write_table(pa.Table.from_pylist(cells, schema), self.folder / "fittings.parquet")
        with (self.folder / "dial_reads.csv").open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows([["meter_serial", "at", "dial", "source"],
                                          *((meter, (START + HOUR * at).isoformat(), dial, "reader")
                                            for meter, at, dial in self.looks)])  # fmt: skip
        with (self.folder / "weather.csv").open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows([["at", "rain_mm", "temp_c"],
                                          *(((START + HOUR * at).isoformat(), self.rain[at], at % 13 - 3)
                                            for at in range(self.weather_until))])  # fmt: skip


def table(rows: list[Any]) -> pa.Table:
    stamp = pa.timestamp("us", tz="UTC")
    return pa.table({
        "endpoint_serial": pa.array([row[0] for row in rows], pa.string()),
        "port": pa.array([row[1] for row in rows], pa.int32()),
        "at": pa.array([START + HOUR * row[2] for row in rows], stamp),
        "index": pa.array([row[3] for row in rows], pa.int64()),
        "flag": pa.array([row[4] or None for row in rows], pa.string()),
        "received_at": pa.array([START + HOUR * row[5] for row in rows], stamp),
    })  # fmt: skip


def lines(rows: list[Any]) -> list[list[str]]:
    return [[row[0], str(row[1]), (START + HOUR * row[2]).isoformat(), str(row[3]), row[4],
             (START + HOUR * row[5]).isoformat()] for row in rows]  # fmt: skip


def all_at_once(folder: Path, run: dt.datetime):
    return watch._count(open_programme(folder, at=run), quiet)


def night_by_night(folder: Path, state: Path, run: dt.datetime):
    counted = count_night(open_programme(folder, at=run), state, at=run, as_of=None, accept=(), keep=True, say=quiet)
    assert counted is not None
    return counted


def assert_same(one, other) -> None:
    for name in ("reads", "first_us", "last_us", "heard"):
        assert getattr(one, name) == getattr(other, name), name
    for name in one.scan.__slots__:
        if name == "calendar":
            assert one.scan.calendar.start_us == other.scan.calendar.start_us
            continue
        mine, theirs = getattr(one.scan, name), getattr(other.scan, name)
        assert mine.shape == theirs.shape, name
        assert mine.dtype == theirs.dtype, name
        fields = mine.dtype.names or (None,)
        for field_name in fields:
            a, b = (mine, theirs) if field_name is None else (mine[field_name], theirs[field_name])
            np.testing.assert_array_equal(a, b, err_msg=f"{name} {field_name}")


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(lives())
def test_night_by_night_gives_what_all_at_once_gives(life: Life) -> None:
    with tempfile.TemporaryDirectory() as scratch:
        folder = Folder(Path(scratch, "programme"), life)
        for hour in life.nights:
            folder.night(hour, life.events[hour])
            run = START + HOUR * (hour + 2)
            whole = all_at_once(folder.folder, run)
            assert_same(night_by_night(folder.folder, Path(scratch, "state"), run), whole)


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(lives(), st.data())
def test_a_replay_over_one_folder_gives_what_looking_back_gives(life: Life, data: st.DataObject) -> None:
    with tempfile.TemporaryDirectory() as scratch:
        folder = Folder(Path(scratch, "programme"), life)
        for hour in life.nights:
            folder.night(hour, life.events[hour])
        now = START + HOUR * (life.nights[-1] + 2)
        moments = sorted(data.draw(st.lists(st.integers(12, life.nights[-1]), min_size=1, max_size=4)))
        for hour in moments:
            then = START + HOUR * hour
            whole = watch._count(open_programme(folder.folder, at=now, as_of=then), quiet)
            programme = open_programme(folder.folder, at=now, as_of=then)
            state = Path(scratch, "state")
            kept = count_night(programme, state, at=now, as_of=then, accept=(), keep=True, say=quiet)
            if kept is not None:
                assert_same(kept, whole)
        assert_same(night_by_night(folder.folder, Path(scratch, "state"), now), all_at_once(folder.folder, now))


def test_the_last_two_days_cost_no_port_a_second_look(tmp_path: Path) -> None:
    folder, state = Folder(tmp_path / "programme", Life(3)), tmp_path / "state"
    for night in range(1, 6):
        folder.night(24 * night + 240, ["correction"] if night == 1 else [])
        # What has come within the two days before the run may come late and out of order.
        folder.waiting = [row for row in folder.sent if row[2] > 24 * night + 200 and folder.rng.random() < 0.2]
        run = START + HOUR * (24 * night + 242)
        counted = night_by_night(folder.folder, state, run)
        assert_same(counted, all_at_once(folder.folder, run))
        assert counted.said == []


def test_one_late_read_sends_its_own_port_back_and_no_other(tmp_path: Path) -> None:
    folder, state = Folder(tmp_path / "programme", Life(4)), tmp_path / "state"
    folder.night(300, [])
    night_by_night(folder.folder, state, START + HOUR * 302)
    folder.waiting = [("E2", 1, 17, 4_321, "", 324)]
    folder.night(324, [])
    counted = night_by_night(folder.folder, state, START + HOUR * 326)
    assert_same(counted, all_at_once(folder.folder, START + HOUR * 326))
    assert len(counted.said) == 1
    assert counted.said[0].startswith("1 of 4 ports")


def test_a_spike_taken_back_after_a_long_silence_mends_a_day_in_a_closed_block(tmp_path: Path) -> None:
    folder, state = Folder(tmp_path / "programme", Life(6)), tmp_path / "state"
    port = ("E3", 1)
    folder.step[port] = 10**9  # says nothing of its own accord
    folder.fittings[3]["index_digits"] = 8
    counts = [(*port, hour, 1_000 + hour, "", hour) for hour in range(1, 100)]
    folder.waiting = [*counts, (*port, 100, 5_000_000, "", 100)]
    folder.night(200, [])
    night_by_night(folder.folder, state, START + HOUR * 202)
    folder.waiting = [(*port, 45 * 24, 1_700, "", 45 * 24)]
    for hour in (45 * 24, 48 * 24):
        folder.night(hour, [])
        counted = night_by_night(folder.folder, state, START + HOUR * (hour + 2))
        whole = all_at_once(folder.folder, START + HOUR * (hour + 2))
        assert whole.scan.figures["spikes"][3] == 1
        assert_same(counted, whole)
