"""Prices: worked by hand, and laws that any tariff keeps."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dialtrue.domain.errors import BackwardPeriod, NegativeUse, RateTableFault
from dialtrue.domain.quantity import convert
from dialtrue.domain.tariff.price import money, price
from dialtrue.domain.tariff.rate_table import Block, RateTable, RateVersion

NEW_YEAR = dt.date(2025, 1, 1)
QUARTER = (dt.date(2025, 1, 1), dt.date(2025, 4, 1))
CENT = Fraction(1, 100)


def table_of(*blocks: tuple[str | None, str], since: dt.date = NEW_YEAR, unit: str = "kgal", **more) -> RateTable:
    """Return a table of one version, blocks as (end, price)."""
    made = tuple(Block(None if end is None else Fraction(end), Fraction(cost)) for end, cost in blocks)
    return RateTable(
        key="home", unit=unit, currency="crowns", versions=(RateVersion(since=since, blocks=made, **more),)
    )


# The structure of many public tariffs: a fixed charge for the meter and three rising blocks. The figures are invented.
# By hand for 14.3 kgal: 18.75 + 4 x 3.42 + 8 x 5.10 + 2.3 x 7.85 = 18.75 + 13.68 + 40.80 + 18.055 = 91.285 -> 91.29
# (18.055 is rounded half up to 18.06 as a line of its own).
BLOCKS = table_of(("4", "3.42"), ("12", "5.10"), (None, "7.85"), fixed_per_bill=Fraction("18.75"))


def test_three_blocks_and_a_fixed_charge_by_hand():
    found = price(Fraction("14.3"), "kgal", dt.date(2025, 3, 1), dt.date(2025, 4, 1), BLOCKS)
    assert [line.amount for line in found.lines] == [Decimal(x) for x in ("18.75", "13.68", "40.80", "18.06")]
    assert found.amount == Decimal("91.29")
    assert [line.words for line in found.lines] == [
        "Fixed charge", "First 4 kgal", "From 4 to 12 kgal", "Above 12 kgal",
    ]  # fmt: skip


def test_fourteen_and_sixteen_pay_for_what_each_used():
    """Story 6 of the trade notes: 20 m3 at 1.50, above 2.40; 11.8 m3 is 17.70, 39.2 m3 is 76.08."""
    tariff = table_of(("20", "1.50"), (None, "2.40"), unit="m3")
    assert price(Fraction("11.80"), "m3", *QUARTER, tariff).amount == Decimal("17.70")
    assert price(Fraction("39.20"), "m3", *QUARTER, tariff).amount == Decimal("76.08")


def test_a_flat_rate_for_the_laundry():
    """Story 5: 768,600 gal at 6.20 a thousand are 4,765.32; 658,800 are 4,084.56; 329,400 are 2,042.28."""
    flat = table_of((None, "6.20"))
    for used, due in (("768600", "4765.32"), ("658800", "4084.56"), ("329400", "2042.28")):
        assert price(Fraction(used), "gal", *QUARTER, flat).amount == Decimal(due)


def test_blocks_of_thirty_days_stretch_with_the_days_of_the_bill():
    tariff = table_of(("4", "1"), (None, "2"), basis="day", nominal_days=30)
    assert price(Fraction(8), "kgal", NEW_YEAR, dt.date(2025, 3, 2), tariff).amount == 8  # 60 days: 8 kgal in block one
    assert price(Fraction(8), "kgal", NEW_YEAR, dt.date(2025, 1, 31), tariff).amount == 12


def test_a_rate_that_changes_within_the_period_parts_it_by_days_and_says_so():
    versions = (
        RateVersion(since=NEW_YEAR, blocks=(Block(None, Fraction(1)),), fixed_per_bill=Fraction(3)),
        RateVersion(since=dt.date(2025, 1, 11), blocks=(Block(None, Fraction(2)),), fixed_per_bill=Fraction(6)),
    )
    tariff = RateTable(key="home", unit="m3", currency="crowns", versions=versions)
    found = price(Fraction(30), "m3", NEW_YEAR, dt.date(2025, 1, 31), tariff)
    assert found.amount == 1 + 10 * 1 + 4 + 20 * 2
    assert found.notes == (
        "The rate changed within the period; the volume is parted by days: 10 days from 2025-01-01, 20 days from "
        "2025-01-11.",
    )


def test_the_least_charge_is_reached_by_a_line_of_its_own():
    found = price(Fraction(1), "kgal", *QUARTER, table_of((None, "3.42"), least=Fraction(10)))
    assert (found.amount, found.lines[-1].amount) == (10, Decimal("6.58"))


def test_no_use_still_shows_a_line():
    assert price(Fraction(0), "kgal", *QUARTER, table_of((None, "3.42"))).lines[0].amount == 0


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: table_of(("4", "1")), "no price above 4 kgal"),
        (lambda: table_of(("4", "1"), ("4", "2"), (None, "3")), "not above 4"),
        (lambda: table_of((None, "1"), (None, "2")), "no end"),
        (lambda: table_of(), "no block"),
        (lambda: table_of((None, "-1")), "below nought"),
        (lambda: RateTable(key="home", unit="m3", currency="c", versions=()), "no version"),
    ],
)
def test_a_rate_table_with_a_hole_is_refused(make, says):
    with pytest.raises(RateTableFault, match=says):
        make()


def test_a_hole_in_time_is_refused_with_its_day():
    with pytest.raises(RateTableFault, match="nothing before 2025-01-01"):
        price(Fraction(1), "kgal", dt.date(2024, 12, 1), dt.date(2025, 2, 1), BLOCKS)
    ending = RateTable(key="home", unit="kgal", currency="c", versions=BLOCKS.versions, ends=dt.date(2025, 2, 1))
    with pytest.raises(RateTableFault, match="ends on 2025-02-01"):
        price(Fraction(1), "kgal", *QUARTER, ending)


def test_negative_use_and_a_period_without_days_are_refused():
    with pytest.raises(NegativeUse, match="−12 kgal"):
        price(Fraction(-12), "kgal", *QUARTER, BLOCKS)
    with pytest.raises(BackwardPeriod):
        price(Fraction(1), "kgal", NEW_YEAR, NEW_YEAR, BLOCKS)


@given(st.fractions(0, 10_000), st.fractions(0, 500))
def test_more_water_never_costs_less(used, more):
    assert price(used + more, "gal", *QUARTER, BLOCKS).amount >= price(used, "gal", *QUARTER, BLOCKS).amount


@given(st.fractions(0, 100_000))
def test_the_unit_of_the_volume_does_not_matter(used):
    litres = convert(used, "gal", "L")
    assert price(used, "gal", *QUARTER, BLOCKS).amount == price(litres, "L", *QUARTER, BLOCKS).amount


@given(st.fractions(-1000, 1000), st.sampled_from(["0.01", "0.05", "1", "0.001"]))
def test_money_is_the_nearest_whole_coin(amount, coin):
    found = Fraction(money(amount, Fraction(coin)))
    assert (found / Fraction(coin)).denominator == 1
    assert abs(found - amount) <= Fraction(coin) / 2
