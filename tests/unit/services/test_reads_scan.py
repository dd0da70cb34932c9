"""The reads of a programme counted: whatever the order of the rows, the cut of the file, its form, or the threads."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv as pacsv
import pyarrow.parquet as pq
import pytest

from dialtrue.engine.scan import Scan
from dialtrue.files import reads_aside
from dialtrue.services.calendar import build_calendar
from dialtrue.services.fleet_records import gather
from dialtrue.services.reads_scan import CountedReads, count_reads, span_of
from tests.property.test_watch_scan import same
from tests.support.fleets import HOUR_US
from tests.support.folders import opened

PORTS, HOURS = 12, 400
START_US = 1_770_000_000_000_000 // (24 * HOUR_US) * 24 * HOUR_US
SCHEMA = pa.schema([
    ("endpoint_serial", pa.string()), ("port", pa.int32()), ("at", pa.timestamp("us", tz="UTC")), ("index", pa.int64()),
    ("flag", pa.string()), ("received_at", pa.timestamp("us", tz="UTC")),
])  # fmt: skip


def quiet(what: str, done: int, total: int) -> None:
    """Show nothing."""


def reads_of(rng: np.random.Generator, *, arrival: bool = False) -> pa.Table:
    """Hourly reads of two-port endpoints, sorted, with standstills, flags and one endpoint that nobody fitted."""
    index = rng.integers(0, 900_000, (PORTS, 1)) + rng.poisson(rng.gamma(0.4, 10.0, (PORTS, HOURS))).cumsum(axis=1)
    index[3, 100:160] = index[3, 100]
    flag = np.full((PORTS, HOURS), None, object)
    flag[5, ::50], flag[6, 7::90] = "estimated", "repeated"
    at = START_US + np.arange(HOURS) * HOUR_US
    columns = [
        [f"E{k // 2:03d}" for k in range(PORTS) for _ in range(HOURS)],
        np.repeat(np.arange(PORTS) % 2 + 1, HOURS).astype(np.int32),
        np.tile(at, PORTS), (index % 10**6).reshape(-1), flag.reshape(-1),
        np.tile(at + 600_000_000, PORTS) if arrival else None,
    ]  # fmt: skip
    arrays = [
        pa.nulls(PORTS * HOURS, field.type) if values is None else pa.array(values).cast(field.type)
        for values, field in zip(columns, SCHEMA, strict=True)
    ]
    return pa.table(arrays, schema=SCHEMA)


def programme_with(folder: Path, reads: pa.Table, *, group: int = 10_000, csv: bool = False) -> Path:
    """Write a programme with a fitting on every channel but the last, and a dial read for each."""
    folder.mkdir()
    fitted = "2026-01-01T00:00:00Z"
    lines = ["meter_serial,endpoint_serial,port,fitted_at,start_index,index_digits,index_unit,index_resolution"]
    looks = ["meter_serial,at,dial"]
    for k in range(PORTS - 1):
        lines.append(f"M{k:03d},E{k // 2:03d},{k % 2 + 1},{fitted},000000,6,gal,1")
        looks.append(f"M{k:03d},2026-02-08T05:30:00Z,001234")
    (folder / "fittings.csv").write_text("\n".join(lines), encoding="utf-8")
    (folder / "dial_reads.csv").write_text("\n".join(looks), encoding="utf-8")
    if csv:
        blank = [name for name in ("received_at",) if reads[name].null_count == reads.num_rows]
        pacsv.write_csv(reads.drop_columns(blank), folder / "reads.csv")
    else:
        pq.write_table(reads, folder / "reads.parquet", row_group_size=group)
    return folder


def counted(folder: Path, *, threads: int = 1) -> CountedReads:
    """Count a programme's reads."""
    programme = opened(folder)
    span = span_of(programme.reads, quiet)
    records = gather(programme.tables)
    calendar = build_calendar(span.first_us, span.last_us, "UTC", None)
    return count_reads(programme.reads, records, calendar, say=quiet, kept=span.kept, threads=threads)


@pytest.fixture
def sound(tmp_path: Path) -> tuple[pa.Table, Scan, CountedReads]:
    reads = reads_of(np.random.default_rng(8))
    given = counted(programme_with(tmp_path / "sound", reads))
    return reads, given.scan, given


def test_the_files_own_statistics_give_first_and_last_time_without_a_look(tmp_path: Path) -> None:
    reads = reads_of(np.random.default_rng(8))
    told = span_of(opened(programme_with(tmp_path / "parquet", reads)).reads, quiet)
    looked = span_of(opened(programme_with(tmp_path / "csv", reads, csv=True)).reads, quiet)
    assert (told.first_us, told.last_us) == (looked.first_us, looked.last_us)
    assert (told.first_us, told.last_us) == (START_US, START_US + (HOURS - 1) * HOUR_US)
    assert told.kept is None
    assert looked.kept is not None


@pytest.mark.parametrize("group", [97, 400, 1_111])
@pytest.mark.parametrize("threads", [1, 3])
def test_neither_row_groups_nor_threads_change_a_figure(
    sound: tuple[pa.Table, Scan, CountedReads], tmp_path: Path, group: int, threads: int
) -> None:
    again = counted(programme_with(tmp_path / "again", sound[0], group=group), threads=threads)
    same(sound[1], again.scan)
    assert again.heard == sound[2].heard == {("E005", 2): HOURS}
    assert again.reads == PORTS * HOURS


def test_text_gives_what_parquet_gives(sound: tuple[pa.Table, Scan, CountedReads], tmp_path: Path) -> None:
    same(sound[1], counted(programme_with(tmp_path / "csv", sound[0], csv=True), threads=2).scan)


@pytest.mark.parametrize("order", ["by time", "at random", "one port backwards"])
def test_any_order_of_rows_gives_what_the_sorted_file_gives(
    sound: tuple[pa.Table, Scan, CountedReads], tmp_path: Path, order: str
) -> None:
    rows = np.arange(PORTS * HOURS)
    if order == "by time":
        rows = np.argsort(rows % HOURS, kind="stable")
    elif order == "at random":
        rows = np.random.default_rng(3).permutation(rows)
    else:
        rows[2 * HOURS : 3 * HOURS] = rows[2 * HOURS : 3 * HOURS][::-1]
    again = counted(programme_with(tmp_path / "again", sound[0].take(pa.array(rows)), group=700), threads=2)
    same(sound[1], again.scan)
    assert again.reads == PORTS * HOURS


def test_many_ports_out_of_order_go_through_files(
    sound: tuple[pa.Table, Scan, CountedReads], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reads_aside, "ASIDE_ROWS", 500)
    rows = np.random.default_rng(4).permutation(PORTS * HOURS)
    same(sound[1], counted(programme_with(tmp_path / "again", sound[0].take(pa.array(rows)), group=700)).scan)


def test_a_file_read_twice_over_changes_nothing(sound: tuple[pa.Table, Scan, CountedReads], tmp_path: Path) -> None:
    twice = pa.concat_tables([sound[0], sound[0]])
    again = counted(programme_with(tmp_path / "twice", twice, group=700), threads=2)
    # What is only counted is counted twice; what is evidence is not.
    for name in ("estimated", "repeated"):
        assert (again.scan.figures[name] == 2 * sound[1].figures[name]).all()
        again.scan.figures[name] = sound[1].figures[name]
    same(sound[1], again.scan)


def test_a_read_that_arrives_a_day_later_corrects_and_one_at_once_clashes(tmp_path: Path) -> None:
    reads = reads_of(np.random.default_rng(8), arrival=True)
    wrong = reads.to_pylist()
    late, at_once = dict(wrong[HOURS + 50]), dict(wrong[2 * HOURS + 50])
    good = late["index"]
    wrong[HOURS + 50]["index"] = good + 500_000
    late["received_at"] += np.timedelta64(1, "D").astype(object)
    at_once["index"] += 7
    table = pa.Table.from_pylist([*wrong, late, at_once], schema=SCHEMA)
    right = counted(programme_with(tmp_path / "right", reads)).scan
    mended = counted(programme_with(tmp_path / "mended", table, group=700), threads=2).scan
    assert mended.figures["clashes"].tolist() == [0, 0, 1, *[0] * (PORTS - 4)]
    mended.figures["clashes"] = 0
    same(right, mended)


def test_a_scan_that_goes_on_names_the_ports_that_later_reads_have_overtaken(tmp_path: Path) -> None:
    reads = reads_of(np.random.default_rng(8))
    row = np.arange(PORTS * HOURS) % HOURS
    port = np.arange(PORTS * HOURS) // HOURS
    old = (row < 300) & ~((port == 4) & (row == 20))
    new = ~old
    whole = opened(programme_with(tmp_path / "whole", reads))
    records = gather(whole.tables)
    calendar = build_calendar(START_US, START_US + (HOURS - 1) * HOUR_US, "UTC", None)
    early = opened(programme_with(tmp_path / "early", reads.filter(pa.array(old)))).reads
    late = opened(programme_with(tmp_path / "late", reads.filter(pa.array(new)))).reads
    first = count_reads(early, records, calendar, say=quiet)
    then = count_reads(late, records, calendar, say=quiet, earlier=first.scan)
    assert then.overtaken.tolist() == [4]
    at_once = count_reads(whole.reads, records, calendar, say=quiet).scan
    rest = [f for f in range(PORTS - 1) if f != 4]
    assert (at_once.figures[rest] == then.scan.figures[rest]).all()


def test_a_bad_row_stops_no_thread(tmp_path: Path) -> None:
    table = reads_of(np.random.default_rng(8))
    index = table["index"].to_numpy().copy()
    index[1_500] = -4
    folder = programme_with(tmp_path / "bad", table.set_column(3, "index", pa.array(index)), group=300)
    programme = opened(folder)
    records = gather(programme.tables)
    calendar = build_calendar(START_US, START_US + HOURS * HOUR_US, "UTC", None)
    given = count_reads(programme.reads, records, calendar, say=quiet, threads=3)
    assert given.reads == PORTS * HOURS - 1
    assert programme.reads is not None
    assert programme.reads.problem_counts == {"reads.parquet": 1}
