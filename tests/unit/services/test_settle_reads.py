"""The reads that a settlement keeps of a channel give the same figures as all of them."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from pathlib import Path

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from dialtrue.domain.settlement.course import course_of
from dialtrue.files.programme import open_programme
from dialtrue.services.settle_reads import channels_of, local_days
from tests.support.settled import AT, day, write_folder

FIRST = dt.datetime(2026, 1, 1, 0, 20, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)


def folder_of(root: Path, reads: list[str]) -> Path:
    return write_folder(
        root,
        sites=["S,A,M,nutating_disc,5/8in,single,7,0,gal,1,1,gal"],
        fittings=["S,M,single,E,1,2026-01-01T00:00:00Z,0000000,0000000,7,gal,1,1,gal"],
        reads=reads,
    )


def test_edges_pins_and_falls_are_as_with_every_read(tmp_path: Path):
    counts = [3 * place for place in range(400)] + [5 * place for place in range(200)]  # a fall at read 400
    rows = [(FIRST + place * HOUR, count) for place, count in enumerate(counts)]
    lines = [f"E,1,{at:%Y-%m-%dT%H:%M:%SZ},{count}" for at, count in rows]
    pin = day("2026-01-09") + dt.timedelta(hours=13, minutes=47)
    programme = open_programme(folder_of(tmp_path, lines), at=AT)
    kept = channels_of(programme, [("E", 1), ("E", 2)], pinned={("E", 1): {pin}})
    assert kept["E", 2] == []
    assert len(kept["E", 1]) < len(rows) / 5
    thin, full = (course_of(each, capacity_l=10**7, most_lpm=1) for each in (kept["E", 1], rows))
    assert len(thin.falls) == len(full.falls) == 1
    assert thin.at[thin.falls[0]] == full.at[full.falls[0]]
    for moment in [pin, *(day(f"2026-01-{number:02d}") for number in range(2, 26))]:
        assert (thin.upto(moment), thin.at_time(moment)) == (full.upto(moment), full.at_time(moment)), moment


def test_of_two_reads_of_one_moment_the_later_row_stands(tmp_path: Path):
    programme = open_programme(
        folder_of(tmp_path, ["E,1,2026-01-02T00:00:00Z,5", "E,1,2026-01-03T00:00:00Z,9", "E,1,2026-01-02T00:00:00Z,6"]),
        at=AT,
    )
    held = channels_of(programme, [("E", 1)])["E", 1]
    assert len({at for at, _ in held}) == len(held)


@given(
    st.lists(st.integers(0, 400 * 24 * 60), min_size=1, max_size=50).map(sorted),
    st.sampled_from(["UTC", "America/Chicago", "Asia/Kolkata", "Australia/Lord_Howe"]),
)
def test_local_days_are_the_calendar_s(minutes, zone):
    moments = [FIRST + dt.timedelta(minutes=minute) for minute in minutes]
    at = np.asarray([int(moment.timestamp()) * 1_000_000 for moment in moments], dtype=np.int64)
    where = zoneinfo.ZoneInfo(zone)
    assert local_days(at, zone).tolist() == [
        (moment.astimezone(where).date() - dt.date(1970, 1, 1)).days for moment in moments
    ]


def test_letting_reads_go_on_the_way_changes_nothing(tmp_path: Path, monkeypatch):
    lines = [f"E,1,{FIRST + place * HOUR:%Y-%m-%dT%H:%M:%SZ},{(7 * place) % 900}" for place in range(500)]
    pin = FIRST + dt.timedelta(days=11, minutes=31)
    folder = folder_of(tmp_path, lines)
    whole = channels_of(open_programme(folder, at=AT), [("E", 1)], pinned={("E", 1): {pin}})
    monkeypatch.setattr("dialtrue.services.settle_reads.MOST_ROWS", 0)
    assert channels_of(open_programme(folder, at=AT), [("E", 1)], pinned={("E", 1): {pin}}) == whole
