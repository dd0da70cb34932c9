"""Findings and crossings come back from their files as they were written; what is wrong with a row is said."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest

from dialtrue.domain.errors import DialtrueError
from dialtrue.domain.finding import Crossing, Evidence, Finding
from dialtrue.files.findings import write_crossings, write_findings
from dialtrue.services.findings_file import read_crossings, read_findings

AT = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
FINDING = Finding(
    meter_serial="00123", endpoint_serial="E-1", port=2, register_role="low", fault="weight_decade", probability=0.97,
    runner_up="unit_slip", runner_up_probability=0.02, action="visit", since=dt.datetime(2026, 1, 5, 7, tzinfo=dt.UTC),
    volume_error_l=-1234.5, volume_error_low_l=-1300.0, volume_error_high_l=-1200.0, parameter=0.1,
    next_check='Draw "ten" pulses, then look.', remedy="Set it.", verdict="Counts one in ten.",
    evidence=(Evidence("pairs", "The dial moved.", {"dial_moved_l": 9658.5, "looks": 2, "note": None}, 12.25),),
    priority=3.5, since_low=dt.datetime(2026, 1, 4, tzinfo=dt.UTC), since_high=dt.datetime(2026, 1, 6, tzinfo=dt.UTC),
)  # fmt: skip
SOUND = replace(
    FINDING, meter_serial="", endpoint_serial="E-2", fault="sound", runner_up="vacant", action="none", since=None,
    volume_error_l=None, volume_error_low_l=None, volume_error_high_l=None, parameter=None, since_low=None,
    since_high=None, evidence=(),
)  # fmt: skip


@pytest.mark.parametrize("ending", ["csv", "csv.gz", "parquet"])
def test_findings_come_back_as_they_went(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"findings.{ending}"
    write_findings(path, [FINDING, SOUND])
    assert read_findings(path, zone="UTC", at=AT) == ((FINDING, SOUND), [])


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"fault": "weight_decad"}, "weight_decade"),
        ({"probability": 1.5}, "NOT-A-PROBABILITY"),
        ({"volume_error_low_l": 0.0}, "ENDS-EXCHANGED"),
        ({"since_low": dt.datetime(2026, 2, 1, tzinfo=dt.UTC)}, "ENDS-EXCHANGED"),
        ({"action": "phone"}, "remote_check"),
    ],
)
def test_a_bad_row_is_left_out_and_said_with_its_line(tmp_path: Path, change: dict[str, object], told: str) -> None:
    path = tmp_path / "f.csv"
    write_findings(path, [replace(FINDING, endpoint_serial="E-9", **change), SOUND])  # type: ignore[arg-type]
    found, said = read_findings(path, zone="UTC", at=AT)
    assert found == (SOUND,)
    assert said[0].startswith("f.csv, row 2, ")
    assert told in said[0]


def test_a_register_without_an_endpoint_comes_back_and_a_row_that_names_nobody_does_not(tmp_path: Path) -> None:
    bare = replace(SOUND, meter_serial="M-7", endpoint_serial="", register_role="high", fault="port_unread")
    write_findings(tmp_path / "f.csv", [bare, replace(SOUND, endpoint_serial="")])
    found, said = read_findings(tmp_path / "f.csv", zone="UTC", at=AT)
    assert found == (bare,)
    assert said[0].startswith("f.csv, row 3, endpoint_serial")


def test_evidence_that_is_no_list_of_reasons_is_said(tmp_path: Path) -> None:
    path = tmp_path / "f.csv"
    write_findings(path, [FINDING])
    path.write_text(path.read_text().replace('""rule""', '""rul""'))
    assert read_findings(path, zone="UTC", at=AT)[1][0].endswith("[BAD-EVIDENCE]")


def test_a_port_that_stands_twice_keeps_its_first_row(tmp_path: Path) -> None:
    path = tmp_path / "f.csv"
    write_findings(path, [FINDING, replace(FINDING, probability=0.5)])
    found, said = read_findings(path, zone="UTC", at=AT)
    assert found == (FINDING,)
    assert "[PORT-TWICE]" in said[0]


def test_a_file_that_is_not_there_or_lacks_a_column_is_told(tmp_path: Path) -> None:
    with pytest.raises(DialtrueError, match="no such file"):
        read_findings(tmp_path / "none.csv", zone="UTC", at=AT)
    (tmp_path / "f.csv").write_text("meter_serial,endpoint_serial\nM1,E1\n")
    with pytest.raises(DialtrueError, match="COLUMN-MISSING"):
        read_findings(tmp_path / "f.csv", zone="UTC", at=AT)


PAIR = (Crossing(1, "A", "E1", "E2", 1, "wires", 0.9), Crossing(1, "B", "E2", "E1", 1, "wires", 0.9))


def test_crossings_come_back_as_they_went(tmp_path: Path) -> None:
    write_crossings(tmp_path / "c.csv", PAIR)
    assert read_crossings(tmp_path / "c.csv", zone="UTC", at=AT) == (PAIR, [])


def test_half_an_exchange_is_no_exchange(tmp_path: Path) -> None:
    lone = Crossing(2, "C", "E3", "E4", 1, "", 0.9)
    odd = (Crossing(3, "D", "E5", "E6", 1, "", 1.9), Crossing(3, "E", "E6", "E5", 1, "", 0.9))
    write_crossings(tmp_path / "c.csv", [*PAIR, lone, *odd])
    found, said = read_crossings(tmp_path / "c.csv", zone="UTC", at=AT)
    assert found == PAIR
    assert [sentence for sentence in said if "ring 2 (1 row)" in sentence]
    assert [sentence for sentence in said if "ring 3 (2 rows)" in sentence]
