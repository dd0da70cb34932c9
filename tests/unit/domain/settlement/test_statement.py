"""The words of a letter: plain, true for every fault, silent about the customer's life."""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal
from fractions import Fraction

import pytest

from dialtrue.domain.claims.claim import Claim, ClaimedPeriod
from dialtrue.domain.faults import CATALOGUE
from dialtrue.domain.quantity import litres_per
from dialtrue.domain.settlement.adjustment import Adjustment
from dialtrue.domain.settlement.statement import account_headline, money_texts, statement_of

MADE = dt.date(2026, 7, 1)


def row(**more) -> Adjustment:
    held = {
        "meter_serial": "M1", "register_role": "single", "account": "A1", "period_start": dt.date(2026, 1, 1),
        "period_end": dt.date(2026, 2, 1), "billed": Fraction(300), "corrected": Fraction(3000), "unit": "gal",
        "method": "exact", "low": Fraction(3000), "high": Fraction(3000), "finding": "weight_decade at E1 port 1",
        "rule": "M3, exact: the weight set is 0.1 times the meter's, by the records; counts divided by 0.1",
        "basis": "confirmed",
    }  # fmt: skip
    return Adjustment(**{**held, **more})


def claim_of(direction: str, gallons: int, amount: str | None) -> Claim:
    litres = gallons * litres_per("gal")
    money = None if amount is None else Decimal(amount)
    part = ClaimedPeriod(31, litres, money, Decimal(0), Fraction(1))
    return Claim(direction, (part,), litres, money, Decimal(0), "By the rule here this counts: the whole time.")


def words_of(statement) -> str:
    return " ".join([statement.headline, statement.what, statement.how, statement.sure, statement.claim])


@pytest.mark.parametrize("code", sorted(CATALOGUE))
@pytest.mark.parametrize("method", ["exact", "differenced", "estimated"])
def test_no_letter_holds_the_trade_s_own_words_or_speaks_of_the_customer_s_life(code, method):
    made = statement_of([row(finding=f"{code} at E1 port 1", method=method)], looks=[], claim=None, made=MADE)
    words = words_of(made)
    assert not re.search(r"\bM[1-5]\b|\bE1\b|port|index|pulse|endpoint|vacan|empty|_", words), words
    assert made.what.count(".") == 2


def test_a_double_count_is_not_said_to_have_missed_turns():
    made = statement_of(
        [row(finding="double_count at E1 port 1", corrected=Fraction(150))], looks=[], claim=None, made=MADE
    )
    assert "twice" in made.what
    assert made.headline == "150 gal were billed that did not pass."


def test_what_an_estimate_rests_on_is_said_in_the_customer_s_words():
    for rule, words in (
        ("M4, like days: the same weekday in the 40 days before", "your own use on the same days of the week"),
        ("M4, own history: the same season before", "what you were billed for earlier periods"),
        ("M4, fleet profile: the middle of 40 registers", "other meters of the same size"),
    ):
        made = statement_of(
            [row(method="estimated", rule=rule, low=Fraction(2000), high=Fraction(4000))],
            looks=[],
            claim=None,
            made=MADE,
        )
        assert words in made.how
        assert "nine in ten" in made.sure


@pytest.mark.parametrize(
    ("claim", "says"),
    [
        (claim_of("under", 2700, "16.74"), "The utility may ask for 16.74 crowns."),
        (claim_of("over", -2700, "-16.74"), "You are owed 16.74 crowns."),
        (claim_of("under", 100, "-2.10"), "You are owed 2.10 crowns."),
        (claim_of("under", 2700, None), "2,700 gal may be billed."),
        (claim_of("over", -2700, None), "2,700 gal are taken off your bills."),
        (claim_of("under", 0, "0.00"), "Nothing is asked for and nothing is owed."),
    ],
)
def test_who_owes_whom_follows_the_money_not_the_volume(claim, says):
    made = statement_of([row(currency="crowns")], looks=[], claim=claim, made=MADE)
    assert made.claim.startswith(says)


def test_two_registers_of_an_account_are_summed_in_one_sentence_where_they_share_a_unit():
    high, low = row(register_role="high"), row(register_role="low", billed=Fraction(3000), corrected=Fraction(300))
    both = [statement_of([each], looks=[], claim=None, made=MADE) for each in (high, low)]
    assert (
        account_headline(both) == "The whole volume was right; it fell into the wrong periods or on the wrong register."
    )
    assert [each.meter for each in both] == ["M1 (high)", "M1 (low)"]


def test_a_column_of_money_has_the_same_decimals_throughout():
    assert money_texts([Decimal(0), Decimal("1234.5"), Decimal("-7.25")]) == ["0.00", "1,234.50", "−7.25"]
    assert money_texts([Decimal(0), Decimal("1.5")], sign=True) == ["0.0", "+1.5"]
    assert money_texts([]) == []
