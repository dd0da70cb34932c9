"""repairs.csv: decisions kept, read again, replayed while the text still stands."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import pytest

from dialtrue.domain.errors import ColumnMissing
from dialtrue.domain.survey.repair_line import LINE_COLUMNS, RepairLine
from dialtrue.files.repairs_file import guarded, merged, read_decisions, read_lines, unguarded, write_lines
from dialtrue.files.routes_in import read_route_tables
from tests.support.folders import AT, SITE, SITES_HEADER, opened, pulled, with_files

LINE = RepairLine("zeros:sites:123", "sites.csv", 2, column="meter_serial", was="123", becomes="00123", rule="zeros",
                  decision="accept", by="Ines", at="2026-06-01T00:00:00Z")  # fmt: skip
BARE = f"{SITES_HEADER}\nS1,123,6,gal,10,gal\nS2,00456,6,gal,10,gal\n"


def sites(folder: Path) -> list[str]:
    return opened(folder).tables["sites"]["meter_serial"].to_pylist()


@pytest.mark.parametrize(
    "text", ["00123", "03/04/2026", "1.50", "4e5", "=1+1", "-41.2", "'tis", " x", "123456789012", "@a"]
)
def test_texts_that_a_spreadsheet_spoils_are_guarded_and_come_back(text: str) -> None:
    assert guarded(text) == "'" + text
    assert unguarded(guarded(text)) == text


@pytest.mark.parametrize("text", ["", "417733", "W-1042", "10", "gal", "2in", "zeros:sites:00123"])
def test_other_texts_stand_as_they_are(text: str) -> None:
    assert guarded(text) == text
    assert unguarded(text) == text


def test_lines_come_back_as_they_were_written(tmp_path: Path) -> None:
    odd = RepairLine(
        "near:sites:a,b", was='a "quoted", text', becomes="=cmd|' /C calc'!A0", why="line\nbreak", decision=""
    )
    write_lines(tmp_path / "repairs.csv", [LINE, odd])
    lines, said = read_lines(tmp_path / "repairs.csv")
    assert lines[0] == LINE
    assert (lines[1].was, lines[1].becomes) == (odd.was, odd.becomes)
    assert said == []


def test_an_accepted_line_is_made_and_told_with_its_name(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=BARE)
    write_lines(tmp_path / "repairs.csv", [LINE])
    assert sites(tmp_path) == ["00123", "00456"]
    (made,) = opened(tmp_path).accepted
    assert (made.original, made.proposed, made.accepted) == ("123", "00123", True)
    assert "accepted by Ines, 2026-06-01" in made.says()
    assert (tmp_path / "sites.csv").read_text() == BARE, "the sheet itself is never written to"


@pytest.mark.parametrize("decision", ["", "refuse", "perhaps"])
def test_nothing_is_made_without_acceptance(tmp_path: Path, decision: str) -> None:
    with_files(
        tmp_path,
        sites_csv=BARE,
        repairs_csv=f"key,column,was,becomes,decision\nzeros:sites:123,meter_serial,123,00123,{decision}\n",
    )
    assert sites(tmp_path) == ["123", "00456"]


def test_rows_may_move_and_columns_may_change_places(tmp_path: Path) -> None:
    with_files(
        tmp_path,
        sites_csv="pulse_unit,site,meter_serial,dial_digits,dial_unit,pulse_weight\ngal,S2,00456,6,gal,10\ngal,S1,123,6,gal,10\n",
    )
    write_lines(tmp_path / "repairs.csv", [LINE])
    assert sites(tmp_path) == ["00456", "00123"]


def test_a_changed_text_is_left_alone_and_said(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=BARE.replace("S1,123", "S1,124"))
    write_lines(tmp_path / "repairs.csv", [LINE])
    programme = opened(tmp_path)
    assert programme.tables["sites"]["meter_serial"].to_pylist() == ["124", "00456"]
    assert any("no longer meet" in note and "zeros:sites:123" in note for note in programme.notes)


def test_a_line_with_a_site_changes_that_site_only(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=f"{SITES_HEADER}\nS1,1,6,gal,7,gal\nS2,2,6,gal,7,gal\n")
    line = RepairLine("weight:sites:7-gal:S2", site="S2", meter_serial="2", register_role="single",
                      column="pulse_weight", was="7", becomes="10", rule="weight", decision="accept")  # fmt: skip
    write_lines(tmp_path / "repairs.csv", [line])
    assert opened(tmp_path).tables["sites"]["pulse_weight"].to_pylist() == ["7", "10"]


def test_blank_empties_a_cell_and_a_pair_is_changed_together(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=f"{SITES_HEADER},latitude,longitude,use_l_per_day\n{SITE},-41.2,39.5,see Bob\n")
    swap = RepairLine("swap:sites:S1", site="S1", column="latitude, longitude", was="-41.2, 39.5",
                      becomes="39.5, -41.2", rule="swap", decision="accept")  # fmt: skip
    note = RepairLine("free_text:sites:use_l_per_day:S1", site="S1", column="use_l_per_day", was="see Bob",
                      becomes="(blank)", rule="free_text", decision="accept")  # fmt: skip
    write_lines(tmp_path / "repairs.csv", [swap, note])
    (row,) = opened(tmp_path).tables["sites"].to_pylist()
    assert (row["latitude"], row["longitude"], row["use_l_per_day"]) == (39.5, -41.2, None)


def test_two_lines_for_one_cell_are_not_both_made(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=BARE)
    other = RepairLine(
        "near:sites:123", column="meter_serial", was="123", becomes="00132", rule="near", decision="accept"
    )
    write_lines(tmp_path / "repairs.csv", [LINE, other])
    programme = opened(tmp_path)
    assert programme.tables["sites"]["meter_serial"].to_pylist()[0] == "00132", "the first by key"
    assert any("zeros:sites:123 would change a cell that another line changes" in note for note in programme.notes)


def test_one_key_decided_in_two_ways_decides_nothing(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=BARE)
    write_lines(tmp_path / "repairs.csv", [LINE, RepairLine(LINE.key, decision="refuse")])
    assert sites(tmp_path)[0] == "123"
    assert any("in two ways" in note for note in opened(tmp_path).notes)


def test_an_accepted_question_without_an_answer_is_said(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=BARE)
    write_lines(
        tmp_path / "repairs.csv",
        [
            RepairLine(
                "duplicate:sites:123:S1",
                site="S1",
                column="meter_serial",
                was="123",
                decision="accept",
                rule="duplicate",
            )
        ],
    )
    assert any("gives no answer" in note for note in opened(tmp_path).notes)


def test_offers_of_the_reading_are_accepted_and_refused_by_key(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=f"{SITES_HEADER},mount\nS1, 00123,6,gal,10,gal,Pit\n")
    lines = [
        RepairLine("spaces:sites", decision="accept", by="Ines"),
        RepairLine("spelling:sites:mount:Pit", was="Pit", decision="refuse", by="Ines"),
    ]
    write_lines(tmp_path / "repairs.csv", lines)
    programme = opened(tmp_path)
    assert programme.repairs == []
    assert [repair.key for repair in programme.accepted] == ["spaces:sites:meter_serial"]


def test_dates_that_nothing_settles_are_read_by_the_key_that_is_accepted(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=f"{SITES_HEADER},visit_day\n{SITE},03/04/2026\n")
    assert opened(tmp_path).tables["sites"].num_rows == 0
    write_lines(tmp_path / "repairs.csv", [RepairLine("dates:sites:month-first", decision="accept")])
    assert str(opened(tmp_path).tables["sites"]["visit_day"][0]) == "2026-03-04"


def test_repairs_of_other_tables_are_honoured_too(tmp_path: Path) -> None:
    with_files(
        tmp_path,
        sites_csv=f"{SITES_HEADER}\n{SITE}\n",
        fittings_csv="meter_serial,endpoint_serial,fitted_at\n123,E1,2026-01-01T00:00Z\n",
    )
    (offer,) = opened(tmp_path).repairs
    assert offer.key == "zeros:fittings:123"
    write_lines(
        tmp_path / "repairs.csv",
        [RepairLine(offer.key, column=offer.column, was="123", becomes="00123", rule="zeros", decision="accept")],
    )
    assert opened(tmp_path).tables["fittings"]["meter_serial"].to_pylist() == ["00123"]
    write_lines(
        tmp_path / "repairs.csv",
        [RepairLine(offer.key, column=offer.column, was="123", becomes="00123", rule="zeros", decision="refuse")],
    )
    programme = opened(tmp_path)
    assert programme.repairs == programme.accepted == []


def test_a_repairs_file_without_its_columns_is_refused(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=BARE, repairs_csv="was,becomes\n1,2\n")
    with pytest.raises(ColumnMissing, match="key, decision"):
        read_decisions(tmp_path)


def test_odd_decisions_and_missing_names_are_said(tmp_path: Path) -> None:
    (tmp_path / "repairs.csv").write_text("Key;x\n".replace(";x", ",Decision") + "a:sites:1,maybe\nb:sites:1,ACCEPT\n")
    lines, said = read_lines(tmp_path / "repairs.csv")
    assert [line.decision for line in lines] == ["", "accept"]
    assert any("row 2" in words and "taken as open" in words for words in said)
    assert any("1 accepted repair without a name" in words for words in said)


def test_the_file_begins_with_the_columns_in_their_order(tmp_path: Path) -> None:
    write_lines(tmp_path / "repairs.csv", [LINE])
    with (tmp_path / "repairs.csv").open(encoding="utf-8", newline="") as source:
        header, row = csv.reader(source)
    assert tuple(header) == LINE_COLUMNS
    assert row[LINE_COLUMNS.index("becomes")] == "'00123"


def test_decided_lines_stay_and_open_ones_follow_the_survey() -> None:
    gone = RepairLine("far:sites:S9")
    typed = RepairLine("duplicate:sites:1:S1", was="1", becomes="2")
    offered = [RepairLine("zeros:sites:123", was="123"), RepairLine(typed.key, was="1"), RepairLine("new:sites:1")]
    assert merged(offered, [LINE, gone, typed]) == [LINE, typed, offered[2]]


def test_reads_under_a_serial_without_its_zeros_follow_the_decision(tmp_path: Path) -> None:
    with_files(
        tmp_path,
        sites_csv=f"{SITES_HEADER}\n{SITE}\n",
        fittings_csv="meter_serial,endpoint_serial,fitted_at\n00123,0007,2026-01-01T00:00Z\n",
        reads_csv="endpoint_serial,at,index\n7,2026-01-02T00:00Z,5\n",
    )
    for decision, heard in (("", "7"), ("accept", "0007"), ("refuse", "7")):
        write_lines(tmp_path / "repairs.csv", [RepairLine("zeros:reads:7", was="7", becomes="0007", decision=decision)])
        programme = opened(tmp_path)
        assert [row[0] for row in pulled(programme)] == [heard]
        assert programme.decided_reads == (("zeros:reads:7",) if decision == "accept" else ())
        assert [repair.key for repair in programme.repairs] == (["zeros:reads:7"] if decision == "" else [])


def test_routes_and_the_plan_see_the_decided_table(tmp_path: Path) -> None:
    with_files(
        tmp_path,
        sites_csv=BARE,
        fittings_csv="meter_serial,endpoint_serial,fitted_at\n123,0007,2026-01-01T00:00Z\n",
        use_history_csv="meter_serial,start,end,volume,unit\n00123,2025-01-01,2025-12-31,36400,gal\n",
    )
    write_lines(tmp_path / "repairs.csv", [LINE, replace(LINE, key="zeros:fittings:123")])
    routed = read_route_tables(tmp_path, at=AT)
    assert routed.tables["sites"]["meter_serial"].to_pylist() == ["00123", "00456"]
    assert routed.tables["fittings"]["meter_serial"].to_pylist() == ["00123"]
