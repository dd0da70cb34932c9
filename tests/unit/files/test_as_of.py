"""Which reads were known, and what the tables held, at an earlier moment."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from dialtrue.files.programme import open_programme
from tests.support.folders import AT, SITE, SITES_HEADER, pulled, with_files

NOON = dt.datetime(2026, 3, 31, 12, tzinfo=dt.UTC)
READS = """endpoint_serial,port,at,index,received_at
E1,1,2026-03-31T11:00:00Z,1,2026-03-31T11:00:05Z
E1,1,2026-03-31T11:30:00Z,2,2026-03-31T12:00:01Z
E1,1,2026-03-31T12:00:00Z,3,
E1,1,2026-03-31T12:00:01Z,4,
"""


def indexes(folder: Path, *, zone: str = "UTC") -> list[int]:
    programme = open_programme(folder, at=AT, as_of=NOON)
    return [row[3] for row in pulled(programme)]


def test_a_read_counts_from_its_arrival_else_from_its_latching(tmp_path: Path) -> None:
    assert indexes(with_files(tmp_path, reads_csv=READS)) == [1, 3]


def test_a_naive_arrival_goes_through_the_zone(tmp_path: Path) -> None:
    naive = READS.replace("T11:", "T06:").replace("T12:", "T07:").replace("Z", "")
    folder = with_files(tmp_path, reads_csv=naive, programme_toml='timezone = "America/Chicago"\n')
    assert indexes(folder) == [1, 3]


def test_without_an_arrival_column_the_latching_tells(tmp_path: Path) -> None:
    lines = [line.rsplit(",", 1)[0] for line in READS.splitlines()]
    assert indexes(with_files(tmp_path, reads_csv="\n".join(lines) + "\n")) == [1, 2, 3]


@pytest.mark.parametrize("arrival", ["soon", "1999-01-01T00:00:00Z", "2199-01-01T00:00:00Z"])
def test_an_arrival_that_cannot_be_costs_no_read(tmp_path: Path, arrival: str) -> None:
    folder = with_files(tmp_path, reads_csv=READS.replace("2026-03-31T12:00:01Z\n", f"{arrival}\n"))
    assert indexes(folder) == [1, 2, 3]
    plain = open_programme(folder, at=AT)
    assert [row[3] for row in pulled(plain)] == [1, 2, 3, 4]
    assert plain.reads is not None
    assert plain.reads.problem_counts == {}


@pytest.mark.parametrize("unit", ["s", "us"])
@pytest.mark.parametrize("zone", ["UTC", None])
def test_parquet_tells_the_same(tmp_path: Path, unit: str, zone: str | None) -> None:
    rows = [line.split(",") for line in READS.splitlines()[1:]]

    def times(place: int) -> pa.Array:
        stamps = [dt.datetime.fromisoformat(row[place].replace("Z", "")) if row[place] else None for row in rows]
        return pa.array(stamps, pa.timestamp(unit)).cast(pa.timestamp(unit, tz=zone))

    table = pa.table({
        "endpoint_serial": ["E1"] * 4, "port": pa.array([1] * 4, pa.int32()), "at": times(2),
        "index": pa.array([1, 2, 3, 4]), "received_at": times(4),
    })  # fmt: skip
    pq.write_table(table, tmp_path / "reads.parquet")
    assert indexes(tmp_path) == [1, 3]


def test_records_stand_as_they_stood(tmp_path: Path) -> None:
    folder = with_files(
        tmp_path,
        sites_csv=f"{SITES_HEADER}\n{SITE}\n",
        fittings_csv="meter_serial,endpoint_serial,fitted_at,removed_at\n00123,E1,2026-01-01T00:00Z,2026-03-31T12:00Z\n"
        "00123,E2,2026-02-01T00:00Z,2026-03-31T12:01Z\n00123,E3,2026-03-31T12:01Z,\n",
        dial_reads_csv="meter_serial,at,dial\n00123,2026-03-31T12:00Z,000001\n00123,2026-03-31T12:01Z,000002\n",
        alarms_csv="endpoint_serial,port,at,alarm\nE1,1,2026-03-31T12:01Z,cut_wire\n",
        weather_csv="at,rain_mm\n2026-03-31T10:00Z,1\n2026-03-31T11:00Z,2\n2026-03-31T12:00Z,3\n",
        use_history_csv="meter_serial,start,end,volume,unit\n00123,2026-01-01,2026-03-30,5,gal\n"
        "00123,2026-03-30,2026-03-31,6,gal\n",
    )  # fmt: skip
    tables = open_programme(folder, at=AT, as_of=NOON).tables
    assert tables["fittings"]["endpoint_serial"].to_pylist() == ["E1", "E2"]
    assert tables["fittings"]["removed_at"].to_pylist() == [NOON, None]
    assert tables["dial_reads"]["dial"].to_pylist() == ["000001"]
    assert tables["alarms"].num_rows == 0
    assert tables["weather"]["rain_mm"].to_pylist() == [1, 2]  # the hour from noon on is not over
    assert tables["use_history"]["volume"].to_pylist() == ["5"]
    assert tables["sites"].num_rows == 1
