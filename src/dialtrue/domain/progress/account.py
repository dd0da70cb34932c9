"""The figures of a programme: how far it is, how well it reads, what is at stake, what came back."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Final, Literal

from dialtrue.domain.progress.rate import Rate
from dialtrue.domain.progress.settings import FiguresSettings
from dialtrue.domain.progress.silent import SilentPort
from dialtrue.domain.quantity import litres_per
from dialtrue.domain.words import counted, day_text, volume_text

State = Literal["proved", "put_right", "to_prove", "doubtful"]
PairState = Literal["agrees", "differs", "too_little", "no_index", "due", "overdue", "not_yet"]

STATE_WORDS: Final[dict[State, str]] = {
    "proved": "proved",
    "put_right": "put right",
    "to_prove": "not yet proved",
    "doubtful": "doubtful",
}
STATE_MEANINGS: Final[dict[State, str]] = {
    "proved": "dial and index moved alike, or a check found it sound, and nothing speaks against it",
    "put_right": "a fault was found and taken away, and nothing speaks against it since",
    "to_prove": "nothing speaks against it, and nothing has proved it",
    "doubtful": "a fault is suspected or known, and a look or a repair is open",
}
PAIR_WORDS: Final[dict[PairState, str]] = {
    "agrees": "agrees",
    "differs": "differs: look again, dial and index",
    "too_little": "too little water to tell",
    "no_index": "dial read, no index beside it",
    "due": "due now",
    "overdue": "overdue",
    "not_yet": "not yet due",
}
KIND_WORDS: Final = {
    "wiring": "wiring at the meter",
    "setting": "endpoint setting",
    "record": "record",
    "data": "delivery of reads",
    "metering": "the meter itself",
    "open": "not yet known",
}
"""Where a fault lies, by the kind of its code: whose work puts it right, not who is to blame."""
GROUPED_BY: Final = {
    "crew": "crew",
    "area": "area",
    "endpoint": "endpoint",
    "output": "pulse output",
    "cable": "cable",
    "cable_lot": "cable lot",
}


@dataclass(frozen=True, slots=True)
class Group:
    """Figures of some of the work.

    ``states`` counts the registers that are fitted now; rework is None where no check is on record.
    """

    name: str
    fitted: int
    states: Mapping[State, int]
    reading: Rate
    rework: Rate | None
    first_time_right: Rate | None


@dataclass(frozen=True, slots=True)
class Days:
    """Days between two events: how many pairs of them, the middle one, and what nine in ten stay within."""

    count: int
    median: float | None
    ninetieth: float | None


@dataclass(frozen=True, slots=True)
class Cause:
    """Faults of one kind: open ones with their volume, and those put right. [faults, L]"""

    kind: str
    open: int
    put_right: int
    open_volume_l: float


@dataclass(frozen=True, slots=True)
class Month:
    """Faults that began in a month, by its first day."""

    month: dt.date
    open: int
    put_right: int


@dataclass(frozen=True, slots=True)
class Stakes:
    """Volume errors of doubtful ports: registered above and below the truth, both >= 0 [L]; ``unknown`` have none."""

    ports: int
    over_l: float
    under_l: float
    unknown: int

    @property
    def total_l(self) -> float:
        """Both together, signs dropped. [L]"""
        return self.over_l + self.under_l


@dataclass(frozen=True, slots=True)
class Claims:
    """Sums of adjustments: claimed from and refunded to customers, both >= 0, exact, in the unit of ``Recovered``.

    ``money`` by currency as (claimed, refunded); ``without_money`` rows have a volume and no amount.
    """

    meters: int
    claimed: Fraction
    refunded: Fraction
    money: Mapping[str, tuple[Decimal, Decimal]]
    without_money: int


@dataclass(frozen=True, slots=True)
class Recovered:
    """What the adjustments say, by whether somebody confirmed the finding; ``undecided`` rows have no claim yet."""

    rows: int
    unit: str
    confirmed: Claims
    assumed: Claims
    undecided: int
    methods: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Indicator:
    """One indicator of the trade with the range to expect and whether that range has a source."""

    name: str
    definition: str
    rate: Rate | None
    value: str
    expected: str
    source: str
    stands: str


@dataclass(frozen=True, slots=True)
class ProgrammeFigures:
    """All figures at one moment.

    ``planned`` is None without a list of sites, ``turned_back`` where no status is told. ``outside`` registers are
    fitted and on no list, ``too_new`` ports are so new that they need not have been heard. ``look_asked`` ports are
    asked for a look without a sign of a fault. ``rework`` and ``first_time_right`` are None without checks.
    """

    moment: dt.datetime
    settings: FiguresSettings
    unit: str
    planned: int | None
    fitted: int
    outside: int
    turned_back: int | None
    open: int
    states: Mapping[State, int]
    look_asked: int
    reading: Rate
    too_new: int
    silent: tuple[SilentPort, ...]
    pairs: Mapping[PairState, int]
    proof: Rate
    rework: Rate | None
    first_time_right: Rate | None
    confirmed_days: Days
    waiting_days: Days
    all_days: Days
    stakes: Stakes
    put_right_l: tuple[float, float]
    recovered: Recovered | None
    causes: tuple[Cause, ...]
    months: tuple[Month, ...]
    recent: int
    groups: Mapping[str, tuple[Group, ...]]
    indicators: tuple[Indicator, ...]
    said: tuple[str, ...] = field(default_factory=tuple)


def days_between(pairs: Sequence[tuple[dt.datetime, dt.datetime]]) -> Days:
    """Return how long it took from the first to the second of each; an earlier second one took no time.

    Never raises.

    Source
    ------
    Definition: the median, and the least value that nine in ten do not exceed.

    Examples
    --------
    >>> start = dt.datetime(2026, 1, 1)
    >>> days_between([(start, start + dt.timedelta(days=day)) for day in (2, 4, 4, 10)])
    Days(count=4, median=4.0, ninetieth=10.0)
    """
    took = sorted(max((then - since).total_seconds(), 0.0) / 86_400 for since, then in pairs)
    if not took:
        return Days(0, None, None)
    half = len(took) // 2
    median = took[half] if len(took) % 2 else (took[half - 1] + took[half]) / 2
    return Days(len(took), median, took[math.ceil(0.9 * len(took)) - 1])


def days_words(days: Days) -> str:
    """Say how long it took; of fewer than ten only the middle one. Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> days_words(Days(4, 4.0, 10.0)), days_words(Days(20, 4.0, 10.0))
    ('median 4 days, of 4', 'median 4 days, nine in ten within 10 days, of 20')
    """
    if days.median is None or days.ninetieth is None:
        return "none yet"
    if days.count < 10:
        return f"median {counted(round(days.median), 'day')}, of {days.count}"
    return (
        f"median {counted(round(days.median), 'day')}, nine in ten within {counted(round(days.ninetieth), 'day')}, "
        f"of {days.count:,}"
    )


def figures_sentence(figures: ProgrammeFigures) -> str:
    """Say how far the programme is in one sentence.

    Never raises.

    Source
    ------
    Definition.
    """
    fitted = f"{figures.fitted:,} fitted"
    if figures.planned is not None:
        fitted = f"{figures.fitted - figures.outside:,} of {figures.planned:,} fitted"
    reading = f", {figures.reading.count:,} of {figures.reading.of:,} reading" if figures.reading.of else ""
    doubtful = figures.states.get("doubtful", 0)
    return f"{fitted}{reading}; {doubtful:,} doubtful, {figures.states.get('put_right', 0):,} put right."


def how_much(figures: ProgrammeFigures) -> str:
    """Answer the first question: how much. Never raises.

    Source
    ------
    Definition.
    """
    stakes, unit = figures.stakes, figures.unit
    if stakes.ports == stakes.unknown:
        words = "No volume is known to be at stake." if not stakes.ports else (
            f"{counted(stakes.ports, 'port')} in doubt; how much is not known yet."
        )  # fmt: skip
    else:
        words = (
            f"About {about_text(stakes.total_l, unit)} at stake at {counted(stakes.ports, 'port')} in doubt: "
            f"{about_text(stakes.under_l, unit)} too little registered, {about_text(stakes.over_l, unit)} too much."
        )
        if stakes.unknown:
            words += f" For {counted(stakes.unknown, 'port')} the volume is not known yet."
    return f"{words} {recovered_words(figures.recovered)}"


def about_text(litres: float, unit: str) -> str:
    """Print an estimated volume with three digits that count. Never raises for a contract unit.

    Source
    ------
    Our assumption: more would promise what an estimate does not hold.

    Examples
    --------
    >>> about_text(40_051_192.2, "gal"), about_text(250.0, "L"), about_text(0.0, "L")
    ('10,600,000 gal', '250 L', '0 L')
    """
    value = litres / float(litres_per(unit))
    if abs(value) < 1000:
        return volume_text(litres, unit)
    step = 10 ** (math.floor(math.log10(abs(value))) - 2)
    return f"{round(value / step) * step:,.0f} {unit}"


def recovered_words(recovered: Recovered | None) -> str:
    """Say what came back. Never raises.

    Source
    ------
    Definition: the columns ``claimed`` and ``claimed_amount`` of the adjustments.
    """
    if recovered is None:
        return "What was recovered is told where adjustments are given."
    if not recovered.rows:
        return "The adjustments have no row: nothing was recovered."
    words = "Settled on confirmed findings: " + _claims_words(recovered.confirmed, recovered.unit)
    if recovered.assumed.meters:
        words += f" If findings that nobody has confirmed hold, also {_claims_words(recovered.assumed, recovered.unit)}"
    if recovered.undecided:
        words += f" For {counted(recovered.undecided, 'row')} nobody has said what may be claimed."
    return words


def _claims_words(claims: Claims, unit: str) -> str:
    if not claims.meters:
        return "nothing yet."
    words = (
        f"{volume_exact(claims.claimed, unit)} claimed, {volume_exact(claims.refunded, unit)} refunded, at "
        f"{counted(claims.meters, 'meter')}"
    )
    if not claims.money:
        return f"{words}; no rate was given, so no money is told."
    words += "; in money " + ", ".join(
        f"{claimed:,f} {currency} claimed, {refunded:,f} refunded"
        for currency, (claimed, refunded) in claims.money.items()
    )
    if claims.without_money:
        words += f", {counted(claims.without_money, 'row')} without a rate left out"
    return f"{words}."


def exact_text(volume: Fraction) -> str:
    """Write an exact volume as a decimal of at most six places, without needless noughts. Never raises.

    Source
    ------
    Definition; rounded half to even beyond the sixth place.

    Examples
    --------
    >>> exact_text(Fraction(53, 10)), exact_text(Fraction(1, 3)), exact_text(Fraction(576))
    ('5.3', '0.333333', '576')
    """
    value = Decimal(round(volume * 10**6)).scaleb(-6)
    return f"{value:f}".rstrip("0").rstrip(".") or "0"


def volume_exact(volume: Fraction, unit: str) -> str:
    """Print an exact volume in its unit, rounded for reading only. Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> volume_exact(Fraction(123456, 10), "gal")
    '12,346 gal'
    """
    value = Decimal(volume.numerator) / Decimal(volume.denominator)
    return f"{value:,.0f} {unit}" if abs(value) >= 100 or value == int(value) else f"{value:,.2f} {unit}"


def whose_work(figures: ProgrammeFigures) -> str:
    """Answer the second question: where the faults lie, and whose work puts them right. Never raises.

    Source
    ------
    Definition: the kinds of ``domain.faults``.
    """
    known = [cause for cause in figures.causes if cause.open + cause.put_right]
    if not known:
        return "No fault is known."
    listed = ", ".join(f"{KIND_WORDS[cause.kind]} {cause.open + cause.put_right:,}" for cause in known)
    total = sum(cause.open + cause.put_right for cause in known)
    return (
        f"{counted(total, 'fault')}, open and put right: {listed}. These are places, not people: no crew is put "
        "above or below another."
    )


def is_it_over(figures: ProgrammeFigures) -> str:
    """Answer the third question. Never raises.

    Source
    ------
    Definition; faults that began within 30 days count as new (our assumption).
    """
    doubtful, right = figures.states.get("doubtful", 0), figures.states.get("put_right", 0)
    silent = len(figures.silent)
    if not doubtful and not silent:
        return f"As far as is known: no port is in doubt and none is silent; {right:,} were put right."
    parts = [f"{doubtful:,} in doubt"] if doubtful else []
    parts += [f"{silent:,} silent"] if silent else []
    words = f"No: {' and '.join(parts)}; {right:,} were put right."
    words += f" {counted(figures.recent, 'fault')} began in the 30 days before {day_text(figures.moment)}."
    if figures.planned is not None and figures.open:
        words += f" {figures.open:,} of {figures.planned:,} are still to be fitted."
    return words
