"""Periods at the edges: past the reads, across an endpoint's removal, with nothing but the dial to tell."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from dialtrue.domain.claims.claim_rule import ClaimRule
from tests.support.settled import FITTINGS, day, finding, settled, write_folder

SITE = "S,A,M1,nutating_disc,5/8in,single,7,0,gal,1,10,gal"
FIT = "S,M1,single,E1,1,2026-01-01T00:00:00Z,0001000,0001000,7,gal,1,1,gal"
BILLS = ["A,M1,single,2026-01-01,2026-02-01,300,gal,", "A,M1,single,2026-02-01,2026-03-01,300,gal,"]


def monthly(folder: Path, *ends: str, **more) -> Path:
    reads = [f"E1,1,{end}T00:00:00Z,{1000 + 300 * place}" for place, end in enumerate(ends)]
    return write_folder(folder, **{"sites": [SITE], "fittings": [FIT], "reads": reads, "bills": BILLS, **more})


def decade():
    return finding("M1", "E1", "weight_decade", parameter=0.1)


def test_a_bill_that_goes_on_past_the_reads_is_not_settled_by_half(tmp_path: Path):
    found = settled(monthly(tmp_path, "2026-01-01", "2026-02-01", "2026-02-15"), [decade()])
    assert [row.corrected for row in found.adjustments] == [3000]
    assert "the reads end within it, on 2026-02-15" in found.left_out[0].why
    close = settled(monthly(tmp_path / "close", "2026-01-01", "2026-02-01", "2026-02-27"), [decade()])
    assert [row.corrected for row in close.adjustments] == [3000, 3000]


def test_the_count_of_a_removed_endpoint_is_not_taken_for_the_whole_period(tmp_path: Path):
    folder = monthly(tmp_path, "2026-01-01", "2026-02-01", "2026-02-10", "2026-03-01")
    (folder / "fittings.csv").write_text(
        f"{FITTINGS},removed_at\n{FIT},2026-02-10T12:00:00Z\n"
        "S,M1,single,E2,1,2026-02-10T12:00:00Z,0004000,0004000,7,gal,1,10,gal,\n"
    )
    found = settled(folder, [decade()])
    assert [str(row.period_end) for row in found.adjustments] == ["2026-02-01"]
    assert [left.period for left in found.left_out] == ["2026-02-01 to 2026-03-01"]
    assert "taken off within it, on 2026-02-10" in found.left_out[0].why


def test_two_meters_under_one_serial_are_never_billed_from_their_reads(tmp_path: Path):
    """The dial passed 600 gal from January to 1 February; the reads jump between two registers."""
    folder = monthly(
        tmp_path,
        "2026-01-01",
        reads=["E1,1,2026-01-01T00:00:00Z,1000", "E1,1,2026-01-10T00:00:00Z,77000", "E1,1,2026-03-01T00:00:00Z,1900"],
        dial_reads=["M1,single,2026-02-01T00:00:00Z,0001600,reader"],
    )
    found = settled(folder, [finding("M1", "E1", "duplicate_serial")])
    assert [(row.corrected, row.method) for row in found.adjustments] == [(600, "differenced")]
    assert "only the dial tells" in found.left_out[0].why
    assert "2026-02-01" in found.left_out[0].why


def test_a_dial_that_is_wrong_to_the_water_settles_nothing(tmp_path: Path):
    folder = monthly(tmp_path, "2026-01-01", "2026-03-01", dial_reads=["M1,single,2026-02-01T00:00:00Z,0001600,r"])
    found = settled(folder, [finding("M1", "E1", "register_mismatch")])
    assert found.adjustments == ()
    assert "the dial itself is wrong" in found.left_out[0].why


def test_a_last_digit_that_came_to_be_worth_ten_has_its_range(tmp_path: Path):
    found = settled(monthly(tmp_path, "2026-01-01", "2026-02-01", "2026-03-01"), [decade()])
    assert [(row.low, row.corrected, row.high) for row in found.adjustments] == [(2990, 3000, 3010)] * 2


@pytest.mark.parametrize(("months", "claimed"), [(None, 5400), (5, 2700), (4, 0)])
def test_the_limit_counts_back_from_the_day_of_the_finding(tmp_path: Path, months, claimed):
    """Found on 1 July 2026: five months reach back to 1 February, four to 1 March."""
    rule = ClaimRule(key="here", months_back=months)
    found = settled(monthly(tmp_path, "2026-01-01", "2026-02-01", "2026-03-01"), [decade()], under=rule)
    assert sum((row.claimed for row in found.adjustments), Fraction(0)) == claimed


def test_an_onset_between_two_bills_leaves_the_first_alone(tmp_path: Path):
    since = day("2026-02-01")
    folder = monthly(tmp_path, "2026-01-01", "2026-02-01", "2026-03-01")
    found = settled(
        folder,
        [finding("M1", "E1", "weight_decade", parameter=0.1, since=since, since_low=since, since_high=since)],
    )
    assert [(str(row.period_start), row.corrected) for row in found.adjustments] == [("2026-02-01", 3000)]


def test_bills_that_end_on_days_of_dial_reads_add_up_to_the_dial_though_a_read_came_earlier_that_day(tmp_path: Path):
    """Read by radio at 03:00, looked at by eye at 10:00; the chain was dead, the dial went from 3,000 to 11,700."""
    folder = write_folder(
        tmp_path,
        sites=[SITE],
        fittings=["S,M1,single,E1,1,2026-01-10T15:00:00Z,0005000,0005000,7,gal,1,10,gal"],
        reads=[f"E1,1,2026-{edge}T03:00:00Z,5000" for edge in ("01-17", "02-15", "03-18")],
        dial_reads=["M1,single,2025-12-20T10:00:00Z,0003000,reader", "M1,single,2026-03-18T10:00:00Z,0011700,reader"],
        bills=[
            "A,M1,single,2025-12-20,2026-01-17,2000,gal,", "A,M1,single,2026-01-17,2026-02-15,0,gal,",
            "A,M1,single,2026-02-15,2026-03-18,0,gal,",
        ],
    )  # fmt: skip
    found = settled(folder, [finding("M1", "E1", "dead_input", since=day("2026-01-10"))])
    assert sum((row.corrected for row in found.adjustments), Fraction(0)) == 8_700
    assert {row.method for row in found.adjustments} == {"differenced"}
