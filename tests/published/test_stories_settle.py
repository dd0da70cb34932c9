"""The invented stories, the part of the bills: every figure was worked out by hand before the code was written."""

from __future__ import annotations

import datetime as dt
import itertools
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from dialtrue.domain.claims.claim_rule import EXAMPLES
from dialtrue.domain.finding import Crossing
from dialtrue.domain.settlement.settings import SettleSettings
from dialtrue.domain.tariff.rate_table import Block, RateTable, RateVersion
from dialtrue.services.settle import settle_folder
from tests.support.settled import day, finding, settled, write_folder


def flat(unit: str, *blocks: tuple[str | None, str]) -> RateTable:
    made = tuple(Block(None if end is None else Fraction(end), Fraction(cost)) for end, cost in blocks)
    versions = (RateVersion(since=dt.date(2020, 1, 1), blocks=made),)
    return RateTable(key="rate", unit=unit, currency="crowns", versions=versions)


MONTHS = [f"{2025 + month // 12}-{month % 12 + 1:02d}-01" for month in range(15)]
"""Firsts of fourteen months."""


@pytest.mark.parametrize(
    ("rules", "volume", "money"),
    [
        ("everything", 768_600, "4765.32"),
        ("twelve-months", 658_800, "4084.56"),
        ("half-of-twelve-months", 329_400, "2042.28"),
    ],
)
def test_the_laundry_pays_for_fourteen_months_by_the_rule_that_holds(tmp_path: Path, rules, volume, money):
    """Story 5: 1 pulse a 10 gal, set to 1 gal; 61,000 gal a month, 6,100 billed; 6.20 a thousand."""
    folder = write_folder(
        tmp_path,
        sites=["L,A1,M1,turbine,2in,single,7,0,gal,1,10,gal"],
        fittings=["L,M1,single,E1,1,2025-01-01T00:00:00Z,0100000,0100000,7,gal,1,1,gal"],
        reads=[f"E1,1,{month}T00:00:00Z,{100_000 + 6_100 * place}" for place, month in enumerate(MONTHS)],
        bills=[f"A1,M1,single,{a},{b},6100,gal," for a, b in itertools.pairwise(MONTHS)],
    )
    at_found = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
    settings = SettleSettings(
        assume=True, under=EXAMPLES[rules][0], over=EXAMPLES[rules][1], rates={"r": flat("kgal", (None, "6.20"))},
        rate="r",
    )  # fmt: skip
    found = settle_folder(
        folder, at=at_found, settings=settings, findings=((finding("M1", "E1", "weight_decade", parameter=0.1),), ())
    )
    assert len(found.adjustments) == 14
    assert {(row.billed, row.corrected, row.method) for row in found.adjustments} == {(6_100, 61_000, "exact")}
    assert sum(row.claimed for row in found.adjustments) == volume
    assert sum(row.claimed_amount for row in found.adjustments) == Decimal(money)


def crossed_folder(folder: Path) -> Path:
    """Numbers 14 and 16: dials 402.60 to 441.80 m3 and 1,187.30 to 1,199.10 m3, wires crossed."""
    return write_folder(
        folder,
        sites=[
            "S14,A14,M14,single_jet,DN15,single,6,0,m3,0.01,10,L",
            "S16,A16,M16,single_jet,DN15,single,6,0,m3,0.01,10,L",
        ],
        fittings=[
            "S14,M14,single,E14,1,2026-01-01T00:00:00Z,040260,040260,6,m3,0.01,10,L",
            "S16,M16,single,E16,1,2026-01-01T00:00:00Z,118730,118730,6,m3,0.01,10,L",
        ],
        reads=[
            "E14,1,2026-01-01T00:00:00Z,40260", "E14,1,2026-04-01T00:00:00Z,41440",
            "E16,1,2026-01-01T00:00:00Z,118730", "E16,1,2026-04-01T00:00:00Z,122650",
        ],
        dial_reads=["M14,single,2026-04-01T00:00:00Z,044180,reader", "M16,single,2026-04-01T00:00:00Z,119910,reader"],
        bills=["A14,M14,single,2026-01-01,2026-04-01,11.80,m3,q", "A16,M16,single,2026-01-01,2026-04-01,39.20,m3,q"],
    )  # fmt: skip


CROSSED = [finding("M14", "E14", "crossed"), finding("M16", "E16", "crossed")]
RING = [Crossing(1, "M14", "E14", "E16", 1, "wires", 0.99), Crossing(1, "M16", "E16", "E14", 1, "wires", 0.99)]


def test_numbers_fourteen_and_sixteen_exchange_their_bills(tmp_path: Path):
    """Story 6: A 17.70 for 76.08, B 76.08 for 17.70; the volume of both together is what it was."""
    found = settled(crossed_folder(tmp_path), CROSSED, RING, rates={"q": flat("m3", ("20", "1.50"), (None, "2.40"))})
    one, two = found.adjustments
    assert (one.account, one.billed, one.corrected) == ("A14", Fraction("11.8"), Fraction("39.2"))
    assert (two.account, two.billed, two.corrected) == ("A16", Fraction("39.2"), Fraction("11.8"))
    assert (one.amount_difference, two.amount_difference) == (Decimal("58.38"), Decimal("-58.38"))
    assert one.corrected + two.corrected == one.billed + two.billed == 51


def test_crossed_wires_without_the_partner_are_not_guessed(tmp_path: Path):
    found = settled(crossed_folder(tmp_path), CROSSED)
    assert found.adjustments == ()
    assert "watch both indexes" in found.left_out[0].why


def test_the_hospital_gets_back_twenty_eight_thousand_eight_hundred_gallons(tmp_path: Path):
    """Story 7: high 100 gal a pulse, low 10; ports swapped; 184,000 and 21,600 true, 18,400 and 216,000 registered."""
    folder = write_folder(
        tmp_path,
        sites=["H,A7,C7,compound,3in,high,8,0,gal,1,100,gal", "H,A7,C7,compound,3in,low,8,0,gal,1,10,gal"],
        fittings=[
            "H,C7,high,E7,1,2026-05-01T00:00:00Z,00500000,00500000,8,gal,1,100,gal",
            "H,C7,low,E7,2,2026-05-01T00:00:00Z,00070000,00070000,8,gal,1,10,gal",
        ],
        reads=[
            "E7,1,2026-05-01T00:00:00Z,500000", f"E7,1,2026-06-01T00:00:00Z,{500_000 + 216_000}",
            "E7,2,2026-05-01T00:00:00Z,70000", f"E7,2,2026-06-01T00:00:00Z,{70_000 + 18_400}",
        ],
        bills=["A7,C7,high,2026-05-01,2026-06-01,216000,gal,", "A7,C7,low,2026-05-01,2026-06-01,18400,gal,"],
    )  # fmt: skip
    swapped = [
        finding("C7", "E7", "ports_swapped", register_role="high", port=1),
        finding("C7", "E7", "ports_swapped", register_role="low", port=2),
    ]
    ring = [Crossing(1, "C7", "E7", "E7", 2, "wires", 0.99), Crossing(1, "C7", "E7", "E7", 1, "wires", 0.99)]
    found = settled(folder, swapped, ring)
    by_role = {row.register_role: row for row in found.adjustments}
    assert (by_role["high"].corrected, by_role["low"].corrected) == (184_000, 21_600)
    assert sum(row.billed for row in found.adjustments) == 234_400
    assert sum(row.difference for row in found.adjustments) == -28_800


def test_rain_in_the_splice_is_paid_back_and_twenty_gallons_stay(tmp_path: Path):
    """Story 8: index +1,290 gal, dial photographs +20 gal; refund 1,270."""
    folder = write_folder(
        tmp_path,
        sites=["R,A8,M8,nutating_disc,5/8in,single,7,0,gal,10,10,gal"],
        fittings=["R,M8,single,E8,1,2026-04-01T00:00:00Z,0045000,0045000,7,gal,10,10,gal"],
        reads=["E8,1,2026-05-01T00:00:00Z,45000", "E8,1,2026-05-31T00:00:00Z,45129"],
        dial_reads=["M8,single,2026-05-01T00:00:00Z,0045000,photo", "M8,single,2026-05-31T00:00:00Z,0045002,photo"],
        bills=["A8,M8,single,2026-05-01,2026-05-31,1290,gal,"],
    )
    wet = finding(
        "M8", "E8", "wet_counts", since=day("2026-05-01"), since_low=day("2026-05-01"), since_high=day("2026-05-02"),
        volume_error_l=4807.0, volume_error_low_l=4500.0, volume_error_high_l=5100.0,
    )  # fmt: skip
    (row,) = settled(folder, [wet]).adjustments
    assert (row.billed, row.corrected, row.difference, row.method) == (1_290, 20, -1_270, "differenced")
    assert row.low <= 20 <= row.high


def test_eleven_dead_days_belong_to_the_days_that_were_dead(tmp_path: Path):
    """Story 9: old start typed at the exchange; 17,410 gal in all, of which 2,160 in the eleven silent days."""
    folder = write_folder(
        tmp_path,
        sites=["N,A9,M9,nutating_disc,1in,single,6,0,gal,1,10,gal"],
        fittings=["N,M9,single,E9,1,2026-03-12T00:00:00Z,989060,986900,6,gal,1,10,gal"],
        reads=["E9,1,2026-03-12T00:00:00Z,986900", "E9,1,2026-04-23T00:00:00Z,2150"],
        dial_reads=["M9,single,2026-03-01T00:00:00Z,986900,reader", "M9,single,2026-04-23T00:00:00Z,004310,reader"],
        bills=["A9,M9,single,2026-03-01,2026-03-12,0,gal,", "A9,M9,single,2026-03-12,2026-04-23,15250,gal,"],
    )
    found = settled(folder, [finding("M9", "E9", "start_slip", parameter=-8176.0)])
    silent, after = found.adjustments
    assert (silent.corrected, silent.difference) == (2_160, 2_160)
    assert (after.corrected, after.difference) == (15_250, 0)
    assert "−" in silent.rule


def test_the_painted_zero_bills_four_thousand_five_hundred_and_seventy(tmp_path: Path):
    """Story 4: last read 418,900, dial 421,370 typed as 42137, billed 9,625,337 across a rollover that never was."""
    folder = write_folder(
        tmp_path,
        sites=["P,A4,M4,nutating_disc,5/8in,single,6,1,gal,,10,gal"],
        fittings=["P,M4,single,E4,1,2026-02-18T00:00:00Z,0421370,0042137,7,gal,1,10,gal"],
        reads=["E4,1,2026-02-18T00:00:00Z,42137", "E4,1,2026-03-04T00:00:00Z,44237"],
        dial_reads=["M4,single,2026-02-01T00:00:00Z,0418900,reader"],
        bills=["A4,M4,single,2026-02-01,2026-03-04,9625337,gal,"],
    )
    (row,) = settled(folder, [finding("M4", "E4", "start_slip")]).adjustments
    assert (row.corrected, row.method, row.low, row.high) == (4_570, "exact", 4_570, 4_570)
