"""How a meter is proved: the least water that tells a sound port from every wrong one, and what may then be read."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Final, Literal

from dialtrue.domain.errors import ProofFigureRange
from dialtrue.domain.figures import figure
from dialtrue.domain.proof.alternatives import UNITS_OFFERED, Alternative, alternatives
from dialtrue.domain.proof.index_steps import IndexMove
from dialtrue.domain.quantity import litres_per

Kind = Literal["tick_to_tick", "draw", "parts"]

ACCEPT_SHARE: Final = 0.99
"""A sound port is accepted at least so often. Models, section 3."""
PASS_SHARE: Final = 0.01
"""A wrong port is accepted at most so often. Models, section 3."""
PRACTICAL_MINUTES: Final = Fraction(20)
"""Longest draw that a technician will wait for. [min] Our assumption; override by ``ProofCase.practical_minutes``."""
LEAST_TICKS: Final = 3
"""Intervals from count to count. Common practice, no source: two may agree by luck."""
REACTION_MIN: Final = Fraction(1, 60)
"""Time to see a count and look at the dial. [min] Our assumption: one second."""
FOLLOW_UP_DAYS: Final = (25, 35, 45)
"""Earliest, usual and latest day of the second dial read. Models, section 3."""
LOSS_PULSES: Final = 59
"""Faultless pulses that exclude a loss of 5 % with 95 % confidence: 0.95^59 = 0.0485. Computed."""
HAND_CLOSURES: Final = 10
"""Closures by hand that prove cable, input and weight. Common practice, no source."""

_AMOUNTS: Final = (10, 12, 15, 20, 25, 30, 40, 50, 60, 80)
"""Amounts that people draw, times a power of ten. Our assumption."""
_MOST_CLOSURES: Final = 50
"""More closures by hand than this nobody counts right. Our assumption."""
_MOST_PULSES: Final = 400
"""A draw of more pulses proves nothing that fewer do not, for no alternative is nearer to 1 than a twentieth."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofCase:
    """What a proof rests on. Volumes exact, in litres.

    ``weight_l`` volume per pulse; ``dial_step_l`` smallest step read on the dial; ``index_step_l`` value of the index's
    least digit; ``dial_unit`` for amounts and words; ``flow_lpm`` likely flow of the tap [L/min]; ``live_count`` the
    endpoint shows its count at once; ``high_flow`` a hose cannot prove it (from the fit check); ``units`` that the
    endpoint can be set to; ``use_l_per_day`` None where not known; ``practical_minutes`` the longest draw.
    """

    weight_l: Fraction
    dial_step_l: Fraction
    index_step_l: Fraction
    dial_unit: str
    flow_lpm: Fraction
    live_count: bool = False
    high_flow: bool = False
    units: tuple[str, ...] = UNITS_OFFERED
    use_l_per_day: Fraction | None = None
    practical_minutes: Fraction = PRACTICAL_MINUTES

    def __post_init__(self) -> None:
        for name in ("weight_l", "dial_step_l", "index_step_l", "flow_lpm", "practical_minutes"):
            if getattr(self, name) <= 0:
                raise ProofFigureRange(name=name, value=getattr(self, name))
        if self.use_l_per_day is not None and self.use_l_per_day < 0:
            raise ProofFigureRange(name="use_l_per_day", value=self.use_l_per_day)


@dataclass(frozen=True, slots=True)
class ProofPlan:
    """How to prove it. Volumes in dial units, exact.

    ``volume`` to draw; for *tick to tick* the most that may be needed. ``pulses`` expected in it, or intervals from
    count to count. ``counts_low``, ``counts_high`` index steps to accept; ``dial_low``, ``dial_high`` the dial's change
    to accept with them. ``minutes`` at the tap's flow. ``nearest`` the wrong state that is hardest to tell, with the
    chance that it passes. ``excludes_loss`` always False: a slow loss shows only by the second read.
    """

    kind: Kind
    volume: Fraction
    pulses: Fraction
    counts_low: int
    counts_high: int
    dial_low: Fraction
    dial_high: Fraction
    minutes: float
    high_flow: bool
    follow_up_days: int
    nearest: str
    nearest_passes: float
    sentence: str


@lru_cache(maxsize=4096)
def plan_proof(case: ProofCase) -> ProofPlan:
    """Return the proof that needs least water.

    Parameters
    ----------
    case : ProofCase
        The register and its endpoint.

    Returns
    -------
    ProofPlan
        *Tick to tick* where the endpoint shows its count at once and the water is practical; otherwise a *draw*, the
        smallest practical amount by which a sound port is accepted with at least ``ACCEPT_SHARE`` and every alternative
        with at most ``PASS_SHARE``; otherwise *parts*: closures by hand, one count if it can be had, and a dated read.

    Raises
    ------
    Never raises; ``ProofCase`` refuses figures out of range with ProofFigureRange.

    Source
    ------
    Models, section 3 (``COUNT-MODEL``). Independent of the dial's and the pulse's own phase.

    Examples
    --------
    >>> gallon = Fraction("3.785411784")
    >>> case = ProofCase(weight_l=10 * gallon, dial_step_l=gallon, index_step_l=gallon, dial_unit="gal",
    ...     flow_lpm=8 * gallon, live_count=True)
    >>> plan_proof(case).sentence[:61]
    'From one count to the third after it the dial must move 29 to'
    """
    if case.live_count:
        ticks = _ticks(case)
        if ticks is not None:
            return ticks
    return _draw(case) or _parts(case)


def accepted_band(case: ProofCase, drawn_l: Fraction) -> tuple[int, int] | None:
    """Return the index steps to accept after a draw, or None where that draw cannot settle it.

    Parameters
    ----------
    case : ProofCase
        The register and its endpoint.
    drawn_l : Fraction
        Dial after less dial before. [L, >= 0]

    Returns
    -------
    tuple of int or None
        None where even the narrowest band that keeps sound ports lets an alternative pass too often.

    Raises
    ------
    Never raises.

    Source
    ------
    Models, section 3.
    """
    band = _move(case, drawn_l).band_holding(ACCEPT_SHARE)
    return band if _hardest(case, drawn_l, band)[1] <= PASS_SHARE else None


def _move(case: ProofCase, drawn_l: Fraction, ratio: Fraction = Fraction(1)) -> IndexMove:
    """Return how the index moves after a draw, where it counts ``ratio`` times what is right."""
    return IndexMove(drawn_l, case.dial_step_l, case.weight_l, ratio * case.weight_l, case.index_step_l)


def _hardest(case: ProofCase, drawn_l: Fraction, band: tuple[int, int]) -> tuple[Alternative, float]:
    """Return the alternative that passes most often; stop at the first that passes too often."""
    worst: tuple[Alternative, float] | None = None
    for other in alternatives(case.units):
        passes = _move(case, drawn_l, other.ratio).within(band)
        if worst is None or passes > worst[1]:
            worst = (other, passes)
        if passes > PASS_SHARE:
            break
    assert worst is not None  # "nothing counted" is always among them
    return worst


def _amounts(step: Fraction, least: Fraction, most: Fraction) -> Iterator[Fraction]:
    """Give the practical amounts from ``least`` to ``most`` that are whole dial steps, ascending."""
    power = math.floor(math.log10(float(least))) - 2
    while True:
        for digits in _AMOUNTS:
            amount = Fraction(digits) * Fraction(10) ** power
            if amount > most:
                return
            if amount >= least and (amount / step).denominator == 1:
                yield amount
        power += 1


def _draw(case: ProofCase) -> ProofPlan | None:
    """Return the smallest practical draw that settles it, or None."""
    unit_l = litres_per(case.dial_unit)
    step, weight = case.dial_step_l / unit_l, case.weight_l / unit_l
    most = min(
        case.practical_minutes * case.flow_lpm / unit_l, _MOST_PULSES * max(weight, step, case.index_step_l / unit_l)
    )
    for amount in _amounts(step, min(weight, step), most):
        band = accepted_band(case, amount * unit_l)
        if band is None:
            continue
        other, passes = _hardest(case, amount * unit_l, band)
        minutes = float(amount * unit_l / case.flow_lpm)
        sentence = (
            f"Draw {_amount(amount, case.dial_unit)} on the dial ({_minutes(minutes)} at the tap): the index must move "
            f"{_steps(*band)} of its last digit."
        )
        return _plan(case, "draw", amount, amount / weight, band, (amount, amount), minutes, (other, passes), sentence)
    return None


def _ticks(case: ProofCase) -> ProofPlan | None:
    """Return the proof from count to count, or None where its water is not practical or its counts do not show."""
    unit_l = litres_per(case.dial_unit)
    steps_a_count = case.weight_l / case.index_step_l
    if steps_a_count < 1:
        return None  # a count that moves no digit is not seen
    # Each reading of the dial is cut to its step, and taken up to the reaction time after the count.
    blur_l = case.dial_step_l + case.flow_lpm * REACTION_MIN
    # Told the right weight, a meter of another one moves its dial by 1 / ratio of what is expected.
    nearest = min((each for each in alternatives(case.units) if each.ratio), key=lambda each: abs(1 / each.ratio - 1))
    gap = abs(1 / nearest.ratio - 1)
    ticks = max(LEAST_TICKS, math.floor(2 * blur_l / (gap * case.weight_l)) + 1)
    most_l = (ticks + 1) * case.weight_l
    minutes = float(most_l / case.flow_lpm)
    if minutes > case.practical_minutes:
        return None
    moved, step = ticks * case.weight_l, case.dial_step_l
    low, high = math.ceil((moved - blur_l) / step) * step, math.floor((moved + blur_l) / step) * step
    counts = math.floor(ticks * steps_a_count), math.ceil(ticks * steps_a_count)
    dial = low / unit_l, high / unit_l
    index = f"{_steps(*counts)} of its last digit"
    sentence = (
        f"From one count to the {_ordinal(ticks)} after it the dial must move {figure(dial[0], places=6)} to "
        f"{_amount(dial[1], case.dial_unit)} and the index {index}: "
        f"at most {_amount(most_l / unit_l, case.dial_unit)}, {_minutes(minutes)} at the tap."
    )
    return _plan(
        case, "tick_to_tick", most_l / unit_l, Fraction(ticks), counts, dial, minutes, (nearest, 0.0), sentence
    )


def _parts(case: ProofCase) -> ProofPlan:
    """Return what can be proved now where the whole is not practical."""
    unit_l = litres_per(case.dial_unit)
    closures = max(HAND_CLOSURES, math.ceil(2 * case.index_step_l / case.weight_l))
    shows = closures <= _MOST_CLOSURES
    closed = closures * case.weight_l / case.index_step_l if shows else Fraction(0)
    counts = math.floor(closed), math.ceil(closed)
    by_hand = (
        f"close the pair by hand {closures} times, the index must move {_steps(*counts)} of its last digit."
        if shows
        else f"its last digit is {figure(case.index_step_l / case.weight_l)} pulses, so no closing by hand shows."
    )
    one, minutes = case.weight_l / unit_l, float(case.weight_l / case.flow_lpm)
    practical = shows and minutes <= case.practical_minutes
    seen = (
        f" Then draw until one count is seen, at most {_amount(one, case.dial_unit)} ({_minutes(minutes)})."
        if practical
        else f" One count takes up to {_amount(one, case.dial_unit)} ({_minutes(minutes)}): leave it to use."
        if shows
        else ""
    )
    volume, taken = (one, minutes) if practical else (Fraction(0), 0.0)
    nothing = Alternative("lost_counts", Fraction(1), "anything that the water alone would show")
    sentence = f"Proved by parts, provisional until the second read: {by_hand}{seen}"
    pulses = Fraction(1 if practical else 0)
    return _plan(case, "parts", volume, pulses, counts, (Fraction(0), volume), taken, (nothing, 1.0), sentence)


def _plan(
    case: ProofCase,
    kind: Kind,
    volume: Fraction,
    pulses: Fraction,
    counts: tuple[int, int],
    dial: tuple[Fraction, Fraction],
    minutes: float,
    hardest: tuple[Alternative, float],
    sentence: str,
) -> ProofPlan:
    """Put the plan together; a high flow is said in the sentence."""
    if case.high_flow:
        sentence += " A hose cannot prove it at its greatest flow: draw at high flow too, or lean on the fit check."
    return ProofPlan(
        kind, volume, pulses, *counts, *dial, minutes, case.high_flow, follow_up_days(case), *_named(hardest), sentence
    )


def _named(hardest: tuple[Alternative, float]) -> tuple[str, float]:
    """Return the words of an alternative with the chance that it passes."""
    return hardest[0].words, hardest[1]


def second_read(days: int) -> str:
    """Return what is said of the second dial read. Never raises.

    Source
    ------
    Our own words.

    Examples
    --------
    >>> second_read(35)
    'Read dial and index again after 35 days: only that shows a slow loss.'
    """
    return f"Read dial and index again after {days} days: only that shows a slow loss."


def follow_up_days(case: ProofCase) -> int:
    """Return after how many days the second dial read is due.

    Never raises.

    Source
    ------
    Models, section 3: 25 to 45 days. Within that, when the expected use has given ``LOSS_PULSES`` pulses.
    """
    earliest, usual, latest = FOLLOW_UP_DAYS
    if not case.use_l_per_day:
        return usual
    return min(latest, max(earliest, math.ceil(LOSS_PULSES * case.weight_l / case.use_l_per_day)))


def _steps(low: int, high: int) -> str:
    """Return a band of steps in words."""
    return f"{low:,} to {high:,} steps" if low < high else f"{low:,} step" + ("" if low == 1 else "s")


def _amount(volume: Fraction, unit: str) -> str:
    """Return a volume in the dial's unit; a small part of a cubic metre in litres too, for that is what is drawn."""
    said = f"{figure(volume, places=6)} {unit}"
    return f"{said} ({figure(volume * 1000)} L)" if unit == "m3" and 0 < volume < 1 else said


def _minutes(minutes: float) -> str:
    """Return a time in words that a person plans by."""
    if minutes < 1.0:
        return "under a minute"
    return f"{minutes:.0f} min" if minutes < 120.0 else f"{minutes / 60.0:.0f} h"


def _ordinal(number: int) -> str:
    """Return a small ordinal."""
    words = {
        1: "first",
        2: "second",
        3: "third",
        4: "fourth",
        5: "fifth",
        6: "sixth",
        7: "seventh",
        8: "eighth",
        9: "ninth",
    }
    return words.get(number, f"{number}th")
