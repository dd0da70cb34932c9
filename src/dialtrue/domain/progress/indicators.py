"""The indicators of the trade, each with the range to expect and with where that range comes from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from dialtrue.domain.progress.account import Indicator
from dialtrue.domain.progress.rate import Rate, rate_words

ASSUMED: Final = "our assumption"


@dataclass(frozen=True, slots=True)
class Expected:
    """The range to expect of a share [-, 0..1], its words and its source: a key of the sources, or our assumption."""

    name: str
    definition: str
    low: float
    high: float
    words: str
    source: str


EXPECTED: Final[dict[str, Expected]] = {
    "turn_back": Expected(
        "Turned back", "turned back / attempted", 0.08, 0.15, "8 to 15 %", "TRADE-TURN-BACKS",
    ),
    "first_time_right": Expected(
        "First time right", "no fault in {rework_days} days / fitted so long ago", 0.95, 1.0,
        "95 to 98 %", ASSUMED,
    ),
    "rework": Expected(
        "Rework", "put right within {rework_days} days / fitted", 0.0, 0.05,
        "2 to 5 % early, under 1 % late", ASSUMED,
    ),
    "reading": Expected(
        "Read success", "a fresh read within {fresh_days} days / fitted", 0.96, 1.0,
        "over 96 % (audit); contracts 98 to 99 %*", "AUDIT-READ-SUCCESS",
    ),
    "proof": Expected("Proof coverage", "proved or put right / fitted", 1.0, 1.0, "aim 100 %", ASSUMED),
    "second_pair": Expected(
        "Second pair agrees", "at {pair_from_days} to {pair_to_days} days, agrees / due", 0.99, 1.0, "aim 99 %",
        ASSUMED,
    ),
    "precision": Expected(
        "Looks that found a fault", "a fault found / looks at a finding", 0.60, 1.0, "over 60 %", ASSUMED,
    ),
}  # fmt: skip
"""Ranges by indicator. Turn-backs: a trade article; read success: one audit; the rest is our assumption, from practice,
and a contract may ask for other figures."""


def indicator(key: str, rate: Rate | None, *, enough: int, days: dict[str, int]) -> Indicator:
    """Hold a share beside the range to expect.

    Parameters
    ----------
    key : str
        A key of ``EXPECTED``.
    rate : Rate or None
        The count; None where the records do not tell.
    enough : int
        Units below which nothing is said. [units]
    days : dict
        The days that the definition names.

    Returns
    -------
    Indicator
        Below or above the range only where the whole 95 % interval is.

    Raises
    ------
    Never raises.

    Source
    ------
    ``EXPECTED``; ``WILSON-SCORE`` for the interval.

    Examples
    --------
    >>> indicator("reading", Rate(1791, 1850), enough=50, days={"fresh_days": 7}).stands
    'within the range'
    """
    expected = EXPECTED[key]
    definition = expected.definition.format(**days)
    if rate is None:
        told = "not recorded"
        return Indicator(expected.name, definition, None, told, expected.words, expected.source, told)
    low, high = rate.interval
    if rate.of < max(enough, 1):
        stands = "too few" if rate.of else "nothing yet"
    elif high < expected.low:
        stands = "below the range"
    elif low > expected.high:
        stands = "above the range"
    elif rate.share is not None and expected.low <= rate.share <= expected.high:
        stands = "within the range"
    else:
        stands = "not told apart from the range"
    return Indicator(
        expected.name, definition, rate, rate_words(rate, enough=enough), expected.words,
        expected.source, stands,
    )  # fmt: skip


def lag_indicator(days: Sequence[float], *, enough: int) -> Indicator:
    """Hold the time from fitting to record beside two days. Never raises.

    Parameters
    ----------
    days : sequence of float
        Time from fitting to record. [day]
    enough : int
        Records below which no percentile is told. [records]

    Source
    ------
    Our assumption: 95 of 100 records within two days.
    """
    name, definition = "Record lag", "fitting to record, 95 of 100 within"
    if len(days) < enough:
        value = "no times of records" if not days else f"{len(days)} records, too few"
        stands = "too few" if days else "not recorded"
        return Indicator(name, definition, None, value, "under 2 days", ASSUMED, stands)
    took = sorted(days)[-(-95 * len(days) // 100) - 1]
    stands = "within the range" if took < 2 else "above the range"
    return Indicator(name, definition, None, f"{took:.1f} days, of {len(days):,}", "under 2 days", ASSUMED, stands)


def override_indicator() -> Indicator:
    """Say that forced entries are not recorded yet. Never raises.

    Source
    ------
    Our assumption: under 2 %.
    """
    return Indicator(
        "Overrides", "entries forced / entries, by person", None, "entries are not recorded here", "under 2 %", ASSUMED,
        "not recorded",
    )  # fmt: skip
