"""Differences between two readings of one register, and between index and dial, across rollover."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import gcd
from typing import Final, Literal

from dialtrue.domain.errors import BadFlowBound
from dialtrue.domain.figures import figure

Kind = Literal["forward", "rolled_over", "backward", "ambiguous", "impossible"]
KINDS: Final[tuple[Kind, ...]] = ("forward", "rolled_over", "backward", "ambiguous", "impossible")


@dataclass(frozen=True, slots=True)
class Difference:
    """What two readings of one register say.

    ``volume`` is the settled difference, negative where the register ran back, and None where it is ambiguous or
    impossible. ``least`` is the smallest forward volume, 0 <= least < capacity. ``turns_possible`` is the greatest
    number of whole turns beyond ``least`` that the bound allows (0 where the register is known well enough).
    ``backward`` is the other reading of the same two figures, a run back, where the bound allows that too.
    """

    kind: Kind
    volume: Fraction | None
    least: Fraction
    turns_possible: int
    backward: Fraction | None
    reason: str


def register_difference(
    before: Fraction | int,
    after: Fraction | int,
    *,
    capacity: Fraction | int,
    at_most: Fraction | int,
    digit: Fraction | int,
    unit: str = "",
) -> Difference:
    """Say what passed between two readings of one register.

    Parameters
    ----------
    before, after : Fraction or int
        The two readings, in the order they were taken; taken modulo ``capacity``. [one unit for all]
    capacity : Fraction or int
        Volume at which the register comes round. [> 0]
    at_most : Fraction or int
        Most volume that the meter can pass in the time between: maximum flow times time. [>= 0]
    digit : Fraction or int
        Value of the register's least digit. [>= 0]
    unit : str
        Unit to write in the reason.

    Returns
    -------
    Difference
        With D = (after - before) mod capacity and the bound B = at_most + digit: *ambiguous* where D + capacity <= B;
        else *forward* or *rolled_over* where D <= B; else *backward* where capacity - D <= B; else *impossible*.
        Exactly one holds for any input.

    Raises
    ------
    BadFlowBound
        ``capacity`` is not positive, or ``at_most`` or ``digit`` is negative.

    Notes
    -----
    A run back is bounded by the same flow. Where both a forward and a backward volume are within the bound the
    forward one is taken and ``backward`` carries the other: nothing in two figures can part them.

    Source
    ------
    Definition (modular arithmetic). Taking forward before backward is our assumption: meters run forward far more
    often; override by reading ``backward``.

    Examples
    --------
    >>> register_difference(999_990, 12, capacity=10**6, at_most=28_800, digit=1, unit="gal").volume
    Fraction(22, 1)
    """
    turn, most, step = Fraction(capacity), Fraction(at_most), Fraction(digit)
    if turn <= 0:
        raise BadFlowBound(what="capacity", value=figure(turn), unit=unit, limit="more than 0")
    if most < 0:
        raise BadFlowBound(what="most volume that can have passed", value=figure(most), unit=unit, limit="0 or more")
    if step < 0:
        raise BadFlowBound(what="value of one digit", value=figure(step), unit=unit, limit="0 or more")
    first, second, bound = Fraction(before) % turn, Fraction(after) % turn, most + step
    least = (second - first) % turn
    back = least - turn if least and turn - least <= bound else None

    def say(volume: Fraction) -> str:
        return f"{figure(volume)} {unit}".rstrip()

    limit = f"at most {say(most)} can have passed"
    if least + turn <= bound:
        turns = ((bound - least) / turn).__floor__()
        reason = (
            f"{say(least)} or that and up to {turns} whole {'turn' if turns == 1 else 'turns'} of {say(turn)}: "
            f"{limit}, so the readings stand too far apart in time to tell."
        )
        return Difference("ambiguous", None, least, turns, back, reason)
    if least <= bound:
        also = f" A run back of {say(-back)} would show the same." if back is not None else ""
        if second >= first:
            return Difference("forward", least, least, 0, back, f"{say(least)} forward; {limit}.{also}")
        reason = f"The register came round at {say(turn)}: {say(least)} forward; {limit}.{also}"
        return Difference("rolled_over", least, least, 0, back, reason)
    if back is not None:
        reason = f"{say(-back)} backward; forward it would be {say(least)}, yet {limit}."
        return Difference("backward", back, least, 0, back, reason)
    reason = f"Neither {say(least)} forward nor {say(turn - least)} backward: {limit}."
    return Difference("impossible", None, least, 0, None, reason)


def register_error(index_volume: Fraction | int, dial_volume: Fraction | int, *, modulus: Fraction | int) -> Fraction:
    """Return index minus dial, taken round the smaller register so that a rollover is no error.

    Parameters
    ----------
    index_volume, dial_volume : Fraction or int
        The two readings in one unit. [any sign]
    modulus : Fraction or int
        Modulus M that both registers share, see ``common_modulus``. [same unit, > 0]

    Returns
    -------
    Fraction
        e = ((index - dial + M/2) mod M) - M/2, exact. [same unit, -M/2 <= e < M/2]

    Raises
    ------
    BadFlowBound
        ``modulus`` is not positive.

    Source
    ------
    Definition (symmetric remainder).

    Examples
    --------
    >>> register_error(1_002_150, 4_310, modulus=10**6)
    Fraction(-2160, 1)
    """
    turn = Fraction(modulus)
    if turn <= 0:
        raise BadFlowBound(what="modulus", value=figure(turn), unit="", limit="more than 0")
    return (Fraction(index_volume) - dial_volume + turn / 2) % turn - turn / 2


def common_modulus(first: Fraction | int, second: Fraction | int) -> Fraction:
    """Return the volume round which two registers can be compared.

    Parameters
    ----------
    first, second : Fraction or int
        The two capacities in one unit. [> 0]

    Returns
    -------
    Fraction
        The greatest volume that goes into both a whole number of times. Where one capacity is a multiple of the
        other it is the smaller one; registers in different units can share much less. [same unit, > 0]

    Raises
    ------
    BadFlowBound
        A capacity is not positive.

    Source
    ------
    Definition (greatest common divisor of two fractions).

    Examples
    --------
    >>> common_modulus(10**7, 10**6)
    Fraction(1000000, 1)
    """
    one, two = Fraction(first), Fraction(second)
    for value in (one, two):
        if value <= 0:
            raise BadFlowBound(what="capacity", value=figure(value), unit="", limit="more than 0")
    below = one.denominator * two.denominator
    return Fraction(gcd(one.numerator * two.denominator, two.numerator * one.denominator), below)


def hours_to_roll_over(capacity_l: Fraction | int, flow_l_per_h: Fraction | int) -> Fraction:
    """Return how long a register takes to come round at a steady flow.

    Parameters
    ----------
    capacity_l : Fraction or int
        Capacity of the register. [L, > 0]
    flow_l_per_h : Fraction or int
        Steady flow. [L/h, > 0]

    Returns
    -------
    Fraction
        [h, > 0]

    Raises
    ------
    BadFlowBound
        Either value is not positive.

    Source
    ------
    Definition.

    Examples
    --------
    >>> hours_to_roll_over(10_000_000, 2_500)
    Fraction(4000, 1)
    """
    for what, value, unit in (("capacity", capacity_l, "L"), ("flow", flow_l_per_h, "L/h")):
        if value <= 0:
            raise BadFlowBound(what=what, value=figure(Fraction(value)), unit=unit, limit="more than 0")
    return Fraction(capacity_l) / flow_l_per_h


HOURS_AT_Q3: Final = 1600
"""Hours at Q3 that an indicating device must hold without passing through zero. [h] Source: ``OIML-R49``."""

_RANGE_ROWS: Final = ((Fraction(63, 10), 4), (Fraction(63), 5), (Fraction(630), 6), (Fraction(6300), 7))
"""Largest Q3 [m³/h] and whole-m³ digits of the least indicating range. Source: ``OIML-R49``, indicating-range table."""


@dataclass(frozen=True, slots=True)
class RangeVerdict:
    """Whether a dial holds long enough at Q3. ``required_l`` is the range that the table asks for, None beyond it."""

    holds: bool
    hours: Fraction
    required_l: Fraction | None
    reason: str


def indicating_range(capacity_l: Fraction | int, *, q3_m3_per_h: Fraction | int) -> RangeVerdict:
    """Check a dial against the 1600 h rule at the permanent flow Q3.

    Parameters
    ----------
    capacity_l : Fraction or int
        Capacity of the dial. [L, > 0]
    q3_m3_per_h : Fraction or int
        Permanent flow. [m³/h, > 0]

    Returns
    -------
    RangeVerdict
        ``holds`` where the dial lasts 1600 h or has the range that the table gives for its Q3.

    Raises
    ------
    BadFlowBound
        Either value is not positive.

    Notes
    -----
    Rule and table part by a hair: at Q3 = 6.3 m³/h the table asks for 9 999 m³, and a dial of 10 000 m³ lasts
    1587 h, not 1600. Such a dial is within the table, so it holds here; the hours are given beside it.

    Source
    ------
    ``OIML-R49``: 1600 h at Q3 without passing through zero, and the table of indicating ranges.

    Examples
    --------
    >>> indicating_range(10_000_000, q3_m3_per_h=4).hours
    Fraction(2500, 1)
    """
    hours = hours_to_roll_over(capacity_l, Fraction(q3_m3_per_h) * 1000)
    digits = next((digits for most, digits in _RANGE_ROWS if q3_m3_per_h <= most), None)
    required = None if digits is None else Fraction(10**digits * 1000)
    by_table = required is not None and capacity_l >= required
    holds = hours >= HOURS_AT_Q3 or by_table
    lasts = f"The dial holds {figure(hours, places=0)} h at Q3 = {figure(Fraction(q3_m3_per_h))} m³/h"
    if hours >= HOURS_AT_Q3:
        reason = f"{lasts}; {HOURS_AT_Q3} h are asked for."
    elif by_table:
        reason = f"{lasts}, under {HOURS_AT_Q3} h, yet it has the range that the table gives for this Q3."
    else:
        reason = f"{lasts}; {HOURS_AT_Q3} h are asked for: it comes round too early."
    return RangeVerdict(holds, hours, required, reason)
