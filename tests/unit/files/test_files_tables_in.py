"""Tables in: forms, defaults, bad rows, repairs that wait to be accepted."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from dialtrue.domain.contracts import TABLE
from dialtrue.domain.errors.input_files import ColumnMissing, RowsRefused, UnknownRepair
from tests.support.folders import SITE, SITES_HEADER, opened, us, with_files

FITTINGS = "meter_serial,endpoint_serial,fitted_at\n"


def only_problem(folder: Path) -> tuple[int, str, str, str]:
    """Return row, column, value and code of the one bad row."""
    (problem,) = opened(folder).problems
    assert problem.expected
    assert problem.remedy
    return problem.row, problem.column, problem.value, problem.code


def test_every_contract_column_is_present_with_its_default(tmp_path: Path) -> None:
    table = opened(with_files(tmp_path, sites_csv=f"{SITES_HEADER},colour\n{SITE},red\n")).tables["sites"]
    names = [column.name for column in TABLE["sites"].columns]
    assert table.column_names == [*names, "colour", "_row"]
    (row,) = table.to_pylist()
    assert row["meter_serial"] == "00123"
    assert (row["register_role"], row["fixed_zeros"], row["dial_digits"]) == ("single", 0, 6)
    assert row["pulse_weight"] == "10"
    assert row["latitude"] is None
    assert (row["colour"], row["_row"]) == ("red", 2)


def test_byte_order_mark_old_line_ends_and_blank_rows_are_taken(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=f"\ufeff{SITES_HEADER}\r\n{SITE}\r\n,,,,,\r\n\r\nS2,2,6,gal,1,gal\r\n\r\n")
    programme = opened(tmp_path)
    assert programme.tables["sites"]["_row"].to_pylist() == [2, 5]
    assert any("2 blank rows (rows 3, 4)" in note for note in programme.notes)
    with_files(tmp_path, sites_csv=f"{SITES_HEADER}\r{SITE}\r")
    assert opened(tmp_path).tables["sites"].num_rows == 1


def test_cell_across_lines_keeps_the_row_numbers_right(tmp_path: Path) -> None:
    rows = 'S1,1,6,gal,1,gal,"a\nb"\nS2,2,x,gal,1,gal,\nS3,3,6,gal,1,gal,"c ""d"", e"\n'
    programme = opened(with_files(tmp_path, sites_csv=f"{SITES_HEADER},address\n{rows}"))
    assert programme.tables["sites"]["address"].to_pylist() == ["a\nb", 'c "d", e']
    assert programme.tables["sites"]["_row"].to_pylist() == [2, 5]
    assert [problem.row for problem in programme.problems] == [4]


@pytest.mark.parametrize(
    ("row", "column", "value", "code"),
    [
        ("S,,6,gal,10,gal", "meter_serial", "", "BLANK-CELL"),
        ("S,4.17E+05,6,gal,10,gal", "meter_serial", "4.17E+05", "SERIAL-ROUNDED"),
        ("S,M,6.5,gal,10,gal", "dial_digits", "6.5", "NOT-A-WHOLE-NUMBER"),
        ("S,M,0,gal,10,gal", "dial_digits", "0", "OUT-OF-RANGE"),
        ("S,M,13,gal,10,gal", "dial_digits", "13", "OUT-OF-RANGE"),
        ("S,M,6,gallons,10,gal", "dial_unit", "gallons", "NOT-A-CHOICE"),
        ("S,M,6,GAL,10,gal", "dial_unit", "GAL", "NOT-A-CHOICE"),
        ('S,M,6,gal,"0,1",gal', "pulse_weight", "0,1", "NOT-A-NUMBER"),
        ("S,M,6,gal,nan,gal", "pulse_weight", "nan", "NOT-A-NUMBER"),
        ("S,M,6,gal,0.0,gal", "pulse_weight", "0.0", "OUT-OF-RANGE"),
        ("S,M,6,gal,-1,gal", "pulse_weight", "-1", "OUT-OF-RANGE"),
        ("S,M,6,gal,1e999,gal", "pulse_weight", "1e999", "OUT-OF-RANGE"),
        ("S,M,6,gal,10", "", "5 cells", "ROW-SHAPE"),
        ("S" * 300 + ",M,6,gal,10,gal", "site", "S" * 57 + "…", "CELL-TOO-LONG"),
    ],
)
def test_bad_row_is_described_and_good_rows_load(tmp_path: Path, row: str, column: str, value: str, code: str) -> None:
    with_files(tmp_path, sites_csv=f"{SITES_HEADER}\n{SITE}\n{row}\nS9,9,6,gal,0.1,gal\n")
    assert only_problem(tmp_path) == (3, column, value, code)
    assert opened(tmp_path).tables["sites"]["site"].to_pylist() == ["S1", "S9"]


def test_first_fifty_bad_rows_are_kept_and_all_counted(tmp_path: Path) -> None:
    rows = "".join(f"S{n},{n},x,gal,10,gal\n" for n in range(70))
    programme = opened(with_files(tmp_path, sites_csv=f"{SITES_HEADER}\n{rows}"))
    assert len(programme.problems) == 50
    assert [programme.problems[0].row, programme.problems[-1].row] == [2, 51]
    assert programme.problem_counts == {"sites.csv": 70}


def test_strict_refuses_and_lists_every_bad_row(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=f"{SITES_HEADER}\nS,M,x,gal,10,gal\nS,N,6,gal,y,gal\n")
    with pytest.raises(RowsRefused) as caught:
        opened(tmp_path, strict=True)
    assert "row 2, dial_digits 'x'" in str(caught.value)
    assert "row 3, pulse_weight 'y'" in str(caught.value)


def test_whole_number_with_point_or_exponent_is_taken_and_said(tmp_path: Path) -> None:
    programme = opened(with_files(tmp_path, sites_csv=f"{SITES_HEADER}\nS,M,6.0,gal,10,gal\n"))
    assert programme.tables["sites"]["dial_digits"].to_pylist() == [6]
    assert any("dial_digits: 1 number (row 2)" in note for note in programme.notes)


def test_duplicate_serial_is_no_error_but_exact_copies_count_once(tmp_path: Path) -> None:
    rows = f"{SITE}\nS2,00123,6,gal,10,gal\n{SITE}\n"
    programme = opened(with_files(tmp_path, sites_csv=f"{SITES_HEADER}\n{rows}"))
    assert programme.tables["sites"]["site"].to_pylist() == ["S1", "S2"]
    assert programme.problems == []
    assert any("1 row (row 4) copying an earlier row" in note for note in programme.notes)


def test_dial_digits_keep_zeros_and_refuse_a_point(tmp_path: Path) -> None:
    with_files(tmp_path, dial_reads_csv="meter_serial,at,dial\nM,2026-01-01T00:00Z,004177\nM,2026-01-02T00:00Z,41.7\n")
    programme = opened(tmp_path)
    assert programme.tables["dial_reads"]["dial"].to_pylist() == ["004177"]
    assert [(p.row, p.code) for p in programme.problems] == [(3, "NOT-DIGITS")]


@pytest.mark.parametrize(
    ("at", "code"),
    [
        ("1970-01-01T00:00:00Z", "TIME-TOO-EARLY"),
        ("2026-06-04T00:00:00Z", "TIME-TOO-LATE"),
        ("2026-02-29T00:00:00Z", "NOT-A-TIME"),
        ("2026-02-30", "NOT-A-TIME"),
        ("2026-13-01T00:00:00Z", "NOT-A-TIME"),
        ("yesterday", "NOT-A-TIME"),
        ("", "BLANK-CELL"),
    ],
)
def test_bad_time_is_refused(tmp_path: Path, at: str, code: str) -> None:
    with_files(tmp_path, fittings_csv=f"{FITTINGS}M1,E1,2024-02-29T12:00Z\nM2,E2,{at}\n")
    assert only_problem(tmp_path)[3] == code
    assert opened(tmp_path).tables["fittings"].num_rows == 1


@pytest.mark.parametrize(
    ("written", "utc"),
    [
        ("2026-03-01T12:00:00Z", "2026-03-01T12:00:00+00:00"),
        ("2026-03-01 12:00+01:00", "2026-03-01T11:00:00+00:00"),
        ("2026-03-01T12:00:00-0530", "2026-03-01T17:30:00+00:00"),
        ("2026-03-01T12:00:00.123456789Z", "2026-03-01T12:00:00.123456+00:00"),
        (" 2026-03-01T12:00 ", "2026-03-01T18:00:00+00:00"),
        ("2026-03-01", "2026-03-01T06:00:00+00:00"),
        ("2026-07-01T12:00", None),
        ("2026-05-01T12:00", "2026-05-01T17:00:00+00:00"),
    ],
)
def test_time_with_and_without_offset_in_one_column(tmp_path: Path, written: str, utc: str | None) -> None:
    with_files(
        tmp_path,
        programme_toml='timezone = "America/Chicago"',
        fittings_csv=f"{FITTINGS}M1,E1,2026-01-01T00:00:00Z\nM2,E2,{written}\n",
    )
    found = opened(tmp_path).tables["fittings"]["fitted_at"].cast(pa.int64()).to_pylist()[1:]
    assert found == ([] if utc is None else [us(utc)])


def test_skipped_and_repeated_hours_are_said_with_their_rows(tmp_path: Path) -> None:
    with_files(
        tmp_path,
        programme_toml='timezone = "America/Chicago"',
        fittings_csv=f"{FITTINGS}M1,E1,2026-03-08 02:30\nM2,E2,2025-11-02 01:30\n",
    )
    programme = opened(tmp_path)
    found = programme.tables["fittings"]["fitted_at"].cast(pa.int64()).to_pylist()
    # 02:30 does not exist on that day; it is 03:30 daylight time, and 01:30 is first daylight time.
    assert found == [us("2026-03-08T03:30:00-05:00"), us("2025-11-02T01:30:00-05:00")]
    assert any("1 time (row 2) in an hour that America/Chicago skips" in note for note in programme.notes)
    assert any("1 time (row 3) in an hour that America/Chicago repeats" in note for note in programme.notes)


def test_zone_is_said_only_where_it_matters(tmp_path: Path) -> None:
    with_files(tmp_path, fittings_csv=f"{FITTINGS}M1,E1,2026-03-08T02:30Z\n")
    assert not any("UTC" in note for note in opened(tmp_path).notes)
    with_files(tmp_path, fittings_csv=f"{FITTINGS}M1,E1,2026-03-08T02:30\n")
    assert any("UTC" in note for note in opened(tmp_path).notes)


def test_use_history_days_and_flags(tmp_path: Path) -> None:
    rows = "M,2026-01-01,2026-02-01,12.50,ccf,yes\nM,2026-02-01 00:00:00,2026-03-01,7,ccf,\n"
    rows += "M,2026-03-01T10:00,2026-04-01,7,ccf,\n"
    with_files(tmp_path, use_history_csv=f"meter_serial,start,end,volume,unit,estimated\n{rows}")
    programme = opened(tmp_path)
    table = programme.tables["use_history"]
    assert table["start"].to_pylist() == [dt.date(2026, 1, 1), dt.date(2026, 2, 1)]
    assert table["volume"].to_pylist() == ["12.50", "7"]
    assert table["estimated"].to_pylist() == [True, None]
    assert [p.code for p in programme.problems] == ["NOT-A-DAY"]


def test_missing_tables_say_what_is_lost(tmp_path: Path) -> None:
    missing = {item.table: item.without_it for item in opened(with_files(tmp_path, sites_csv=SITES_HEADER)).missing}
    assert set(missing) == {"fittings", "dial_reads", "reads", "alarms", "weather", "use_history"}
    assert missing["reads"] == TABLE["reads"].without_it


# Repairs: offered, made only when accepted.


def test_lost_zeros_are_offered_and_made_only_when_accepted(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=f"{SITES_HEADER}\n{SITE}\n", fittings_csv=f"{FITTINGS}123,E1,2026-01-01T00:00Z\n")
    offered = opened(tmp_path)
    assert [(r.key, r.original, r.proposed) for r in offered.repairs] == [("zeros:fittings:123", "123", "00123")]
    assert offered.tables["fittings"]["meter_serial"].to_pylist() == ["123"]
    for word in ("zeros:fittings:123", "zeros:fittings", "zeros", "all"):
        taken = opened(tmp_path, accept=[word])
        assert taken.tables["fittings"]["meter_serial"].to_pylist() == ["00123"]
        assert (len(taken.repairs), len(taken.accepted)) == (0, 1)


def test_zeros_lost_in_sites_are_found_by_the_other_tables(tmp_path: Path) -> None:
    rows = f"{SITES_HEADER}\nS1,123,6,gal,10,gal\n"
    with_files(tmp_path, sites_csv=rows, fittings_csv=f"{FITTINGS}00123,E1,2026-01-01T00:00Z\n")
    assert [r.key for r in opened(tmp_path).repairs] == ["zeros:sites:123"]
    assert opened(tmp_path, accept=["all"]).tables["sites"]["meter_serial"].to_pylist() == ["00123"]


def test_zeros_are_not_offered_where_two_serials_would_fit(tmp_path: Path) -> None:
    rows = f"{SITES_HEADER}\n{SITE}\nS2,000123,6,gal,10,gal\n"
    with_files(tmp_path, sites_csv=rows, fittings_csv=f"{FITTINGS}123,E1,2026-01-01T00:00Z\n")
    assert opened(tmp_path).repairs == []


def test_exchanged_meter_and_endpoint_serials(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=f"{SITES_HEADER}\n{SITE}\n", fittings_csv=f"{FITTINGS}E1,00123,2026-01-01T00:00Z\n")
    assert [r.key for r in opened(tmp_path).repairs] == ["swap:fittings:E1:00123"]
    row = opened(tmp_path, accept=["swap"]).tables["fittings"].to_pylist()[0]
    assert (row["meter_serial"], row["endpoint_serial"]) == ("00123", "E1")


def test_exchanged_latitude_and_longitude(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=f"{SITES_HEADER},latitude,longitude\n{SITE},-95.1,41.2\n")
    assert only_problem(tmp_path)[1:] == ("latitude", "-95.1", "OUT-OF-RANGE")
    row = opened(tmp_path, accept=["swap:sites:S1"]).tables["sites"].to_pylist()[0]
    assert (row["latitude"], row["longitude"]) == (41.2, -95.1)


def test_one_day_above_twelve_settles_the_order_of_dates(tmp_path: Path) -> None:
    with_files(tmp_path, fittings_csv=f"{FITTINGS}M1,E1,03/04/2026 13:30\nM2,E2,31/03/2026 1:05 PM\n")
    offered = opened(tmp_path)
    assert [r.key for r in offered.repairs] == ["dates:fittings:day-first"]
    assert offered.tables["fittings"].num_rows == 0
    assert {p.code for p in offered.problems} == {"DATE-ORDER"}
    assert "accept dates:fittings:day-first" in offered.problems[0].remedy
    times = opened(tmp_path, accept=["dates"]).tables["fittings"]["fitted_at"].cast(pa.int64()).to_pylist()
    assert times == [us("2026-04-03T13:30:00+00:00"), us("2026-03-31T13:05:00+00:00")]


def test_undecided_dates_ask_and_are_not_taken_by_all(tmp_path: Path) -> None:
    with_files(tmp_path, fittings_csv=f"{FITTINGS}M1,E1,03/04/2026\n")
    for accept in ((), ("all",), ("dates",)):
        programme = opened(tmp_path, accept=accept)
        assert programme.repairs == programme.accepted == []
        assert "day-first or dates:fittings:month-first" in programme.problems[0].remedy
    times = opened(tmp_path, accept=["dates:fittings:month-first"]).tables["fittings"]["fitted_at"]
    assert times.cast(pa.int64()).to_pylist() == [us("2026-03-04T00:00:00+00:00")]


def test_contradicting_date_orders_are_refused(tmp_path: Path) -> None:
    with_files(tmp_path, fittings_csv=f"{FITTINGS}M1,E1,31/03/2026\nM2,E2,03/31/2026\n")
    programme = opened(tmp_path, accept=["all"])
    assert programme.problem_counts == {"fittings.csv": 2}


def test_headers_that_differ_by_capitals_are_offered(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=f"{SITES_HEADER.replace('meter_serial', 'Meter-Serial')}\n{SITE}\n")
    with pytest.raises(ColumnMissing, match="accept header:sites:meter_serial"):
        opened(tmp_path)
    assert opened(tmp_path, accept=["header"]).tables["sites"]["meter_serial"].to_pylist() == ["00123"]


def test_optional_header_that_differs_is_offered_and_carried_through(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=f"{SITES_HEADER},Fixed Zeros\n{SITE},1\n")
    programme = opened(tmp_path)
    assert [r.key for r in programme.repairs] == ["header:sites:fixed_zeros"]
    assert programme.tables["sites"]["fixed_zeros"].to_pylist() == [0]
    assert programme.tables["sites"]["Fixed Zeros"].to_pylist() == ["1"]
    assert opened(tmp_path, accept=["all"]).tables["sites"]["fixed_zeros"].to_pylist() == [1]


def test_spelling_and_spaces_are_offered(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=f"{SITES_HEADER},mount\nS1, 00123,6,M³,10,m3,Pit\n")
    assert {r.key for r in opened(tmp_path).repairs} == {
        "spaces:sites:meter_serial",
        "spelling:sites:dial_unit:M³",
        "spelling:sites:mount:Pit",
    }
    row = opened(tmp_path, accept=["spaces", "spelling"]).tables["sites"].to_pylist()[0]
    assert (row["meter_serial"], row["dial_unit"], row["mount"]) == ("00123", "m3", "pit")


def test_accepting_what_is_not_offered_is_refused(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=f"{SITES_HEADER}\n{SITE}\n")
    with pytest.raises(UnknownRepair, match="zeros:fittings:9"):
        opened(tmp_path, accept=["zeros:fittings:9"])
    opened(tmp_path, accept=["zeros"])


# Workbooks and Parquet.


def workbook(path: Path, rows: list[list[object]]) -> None:
    from openpyxl import Workbook

    book = Workbook()
    for row in rows:
        book.active.append(row)
    book.save(path)


def test_workbook_serials_as_text_load(tmp_path: Path) -> None:
    workbook(tmp_path / "sites.xlsx", [SITES_HEADER.split(","), ["S1", "00123", 6, "gal", 0.1, "gal"], [], ["S2"]])
    programme = opened(tmp_path)
    row = programme.tables["sites"].to_pylist()[0]
    assert (row["meter_serial"], row["dial_digits"], row["pulse_weight"]) == ("00123", 6, "0.1")
    assert [(p.row, p.column, p.code) for p in programme.problems] == [(4, "meter_serial", "BLANK-CELL")]


def test_workbook_serials_as_numbers_wait_for_acceptance(tmp_path: Path) -> None:
    workbook(tmp_path / "sites.xlsx", [SITES_HEADER.split(","), ["S1", 417733, 6, "gal", 10, "gal"]])
    offered = opened(tmp_path)
    assert [r.key for r in offered.repairs] == ["numbers:sites:meter_serial"]
    assert [(p.row, p.value, p.code) for p in offered.problems] == [(2, "417733", "NUMBER-CELL")]
    assert opened(tmp_path, accept=["numbers"]).tables["sites"]["meter_serial"].to_pylist() == ["417733"]


def test_parquet_table_of_typed_columns(tmp_path: Path) -> None:
    table = pa.table(
        {
            "site": pa.array(["S1", "S2"]).dictionary_encode(),
            "meter_serial": pa.array(["00123", "00124"], pa.large_string()),
            "dial_digits": pa.array([6, 99], pa.uint8()),
            "dial_unit": ["gal", "gal"],
            "pulse_weight": [0.1, 10.0],
            "pulse_unit": ["gal", "gal"],
            "latitude": pa.array([41, None], pa.float32()),
        }
    )
    pq.write_table(table, tmp_path / "sites.parquet")
    programme = opened(tmp_path)
    (row,) = programme.tables["sites"].to_pylist()
    assert (row["meter_serial"], row["pulse_weight"], row["latitude"], row["_row"]) == ("00123", "0.1", 41.0, 1)
    assert [(p.row, p.column) for p in programme.problems] == [(2, "dial_digits")]


def test_naive_parquet_times_follow_the_zone(tmp_path: Path) -> None:
    naive = dt.datetime(2026, 1, 1, 12)  # noqa: DTZ001
    table = pa.table(
        {"meter_serial": ["M"], "endpoint_serial": ["E"], "fitted_at": pa.array([naive], pa.timestamp("ns"))}
    )
    pq.write_table(table, tmp_path / "fittings.parquet")
    with_files(tmp_path, programme_toml='timezone = "America/Chicago"')
    found = opened(tmp_path).tables["fittings"]["fitted_at"].cast(pa.int64()).to_pylist()
    assert found == [us("2026-01-01T18:00:00+00:00")]
