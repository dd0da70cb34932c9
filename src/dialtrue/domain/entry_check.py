"""Checks of a dial reading as it is typed, and the shapes of a start index that was keyed wrong."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from dialtrue.domain.dial import Dial, first_non_digit
from dialtrue.domain.errors import BadFlowBound, DialCharacter, DialtrueError
from dialtrue.domain.figures import figure

Outcome = Literal["accepted", "proposed", "ask"]


@dataclass(frozen=True, slots=True)
class Proposal:
    """Another way to understand the text. ``volume`` in dial units, ``text`` as the dial would show it."""

    volume: Fraction
    text: str
    slip: str
    question: str
    since_last: Fraction
    per_day: Fraction


@dataclass(frozen=True, slots=True)
class EntryVerdict:
    """What becomes of an entry.

    *accepted*: a whole reading that can follow the last one; ``volume`` is it [dial units]. *proposed*: blocked, and
    exactly one reading near it fits. *ask*: blocked, with no proposal that fits or several.
    """

    outcome: Outcome
    volume: Fraction | None
    since_last: Fraction | None
    proposals: tuple[Proposal, ...]
    reason: str


_POWERS: Final = (1, 2, 3, -1, -2, -3)


def check_dial_entry(
    *,
    dial: Dial,
    text: str,
    last_read: Fraction | int,
    days: Fraction | int,
    use_per_day: Fraction | int | None,
    most_per_day: Fraction | int,
) -> EntryVerdict:
    """Check a dial reading at the moment it is typed.

    Parameters
    ----------
    dial : Dial
        The meter's dial.
    text : str
        As typed.
    last_read : Fraction or int
        The last good reading. [dial units, 0 <= last < capacity]
    days : Fraction or int
        Time since it. [days, > 0]
    use_per_day : Fraction, int or None
        Use before, for the reason's figures and the order of proposals. [dial units a day]
    most_per_day : Fraction or int
        Most that the meter or the customer can pass in a day. [dial units a day, > 0]

    Returns
    -------
    EntryVerdict
        The text is tried as written, then with zeros in front, powers of ten and exchanged neighbours; a candidate
        fits where it lies between the last reading and the most that can have passed, across rollover.

    Raises
    ------
    BadFlowBound
        ``days`` or ``most_per_day`` is not positive.
    DialCharacter
        Something typed is not a digit.

    Source
    ------
    Our assumption: a slip of the pen is one slip, a power of ten up to 1000 or two neighbouring digits exchanged; a
    reading that needs two is asked for again. Override by asking for a photograph.

    Examples
    --------
    >>> verdict = check_dial_entry(dial=Dial.of(moving_digits=6, fixed_zeros=1, unit="gal"), text="42137",
    ...     last_read=418_900, days=17, use_per_day=150, most_per_day=28_800)
    >>> verdict.outcome, verdict.proposals[0].text, verdict.proposals[0].question
    ('proposed', '0421370', 'Was there a painted zero?')
    """
    if days <= 0:
        raise BadFlowBound(
            what="time since the last reading", value=figure(Fraction(days)), unit="days", limit="over 0"
        )
    if most_per_day <= 0:
        raise BadFlowBound(
            what="most use a day", value=figure(Fraction(most_per_day)), unit=dial.unit, limit="more than 0"
        )
    typed = text.strip()
    place = first_non_digit(typed)
    if place is not None:
        raise DialCharacter(text=text, character=typed[place], position=place + 1)
    last, span, unit = Fraction(last_read), Fraction(days), dial.unit
    most = most_per_day * span + dial.resolution
    try:
        whole: Fraction | None = dial.read(typed)
        fault = ""
    except DialtrueError as error:
        whole, fault = None, error.as_dict()["message"]
    if whole is not None:
        since = (whole - last) % dial.capacity
        if since <= most:
            reason = f"{figure(whole)} {unit} is {_since(since, span, use_per_day, unit)}."
            return EntryVerdict("accepted", whole, since, (), reason)
    proposals: list[Proposal] = []
    for candidates in (_shifted(dial, typed), _exchanged(dial, typed)):
        for volume, slip, question in candidates:
            since = (volume - last) % dial.capacity
            if since <= most and all(volume != other.volume for other in proposals):
                proposals.append(Proposal(volume, dial.show(volume), slip, question, since, since / span))
        if proposals:  # exchanged digits are looked for only where no missing or extra zero explains the text
            break
    if use_per_day is not None:
        usual = Fraction(use_per_day)
        proposals.sort(key=lambda proposal: abs(proposal.per_day - usual))
    as_typed = whole if whole is not None else _as_typed(dial, typed)
    against = None if as_typed is None else _against(as_typed, last, most, unit)
    if typed and len(proposals) == 1:
        only = proposals[0]
        follows = _since(only.since_last, span, use_per_day, unit)
        reason = f"{against or fault} {figure(only.volume)} {unit} fits: {follows}. {only.question}"
        return EntryVerdict("proposed", None, None, (only,), reason)
    how = "Several readings near it fit" if proposals else "No reading near it fits"
    return EntryVerdict(
        "ask",
        None,
        None,
        tuple(proposals),
        f"{against or fault} {how}: read the dial again, every position, and photograph it.",
    )


def _last_position_value(dial: Dial) -> Fraction:
    """Return the value of the rightmost position, painted zeros included. [dial units]"""
    return dial.resolution / int(10**dial.fixed_zeros)


def _as_typed(dial: Dial, typed: str) -> Fraction | None:
    """Return the text as a number of the last position's value, or None where it is far too long or empty."""
    if not typed or len(typed) > dial.positions + max(_POWERS):
        return None
    return int(typed) * _last_position_value(dial)


def _shifted(dial: Dial, typed: str) -> Iterator[tuple[Fraction, str, str]]:
    """Yield volumes that the text means if zeros are missing in front, or zeros or decimals at the right."""
    number = _as_typed(dial, typed)
    if number is None:
        return
    if number % dial.resolution == 0 and number < dial.capacity and len(typed) != dial.positions:
        yield number, "zeros_in_front", "Were zeros left out in front?"
    for k in _POWERS:
        volume = number * Fraction(10) ** k
        volume -= volume % dial.resolution
        if volume < dial.capacity:
            yield volume, *_power_slip(dial, k)


def _exchanged(dial: Dial, typed: str) -> Iterator[tuple[Fraction, str, str]]:
    """Yield volumes that the text means if two unlike neighbours are exchanged."""
    for place in range(len(typed) - 1):
        if typed[place] == typed[place + 1]:
            continue
        swapped = typed[:place] + typed[place + 1] + typed[place] + typed[place + 2 :]
        volume = _as_typed(dial, swapped)
        if volume is not None and volume < dial.capacity and volume % dial.resolution == 0:
            yield volume, "transposition", f"Are two neighbouring digits exchanged ({swapped})?"


def _power_slip(dial: Dial, k: int) -> tuple[str, str]:
    """Name the slip that makes a reading 10^k times too small."""
    if 0 < k <= dial.fixed_zeros:
        many = "Was there a painted zero?" if k == 1 else f"Were there {k} painted zeros?"
        return "painted_zero_dropped", many
    if k > 0:
        return "digit_dropped", "Is a digit missing at the right?"
    if dial.fixed_zeros:
        return "painted_zero_added", "Was a painted zero written twice, or the sweep hand as a digit?"
    return "decimals_included", "Was the sweep hand, or a decimal, written as a digit?"


def _since(since: Fraction, days: Fraction, use_per_day: Fraction | int | None, unit: str) -> str:
    """Say how far above the last reading a volume is, a day, and what was usual."""
    usual = "" if use_per_day is None else f"; before it was {figure(Fraction(use_per_day), places=1)}"
    return f"{figure(since)} {unit} above the last reading, {figure(since / days, places=1)} a day{usual}"


def _against(volume: Fraction, last: Fraction, most: Fraction, unit: str) -> str | None:
    """Say why a volume cannot follow the last reading, or None where it can."""
    said = f"{figure(volume)} {unit}"
    if volume < last:
        return f"{said} is below the last reading, {figure(last)} {unit}."
    if volume - last > most:
        above = figure(volume - last)
        return f"{said} is {above} {unit} above the last reading, and at most {figure(most)} can have passed."
    return None


SLIP_WORDS: Final[dict[str, str]] = {
    "zero_start": "nothing was keyed but zeros",
    "painted_zero_dropped": "a painted zero was left out",
    "painted_zero_added": "a zero too many was keyed at the right",
    "transposition": "two neighbouring digits are exchanged",
    "two_digits_exchanged": "two digits that are no neighbours are exchanged",
    "digit_slipped": "one digit is wrong",
    "digit_dropped": "one digit was left out",
    "digit_added": "one digit too many was keyed",
    "decimals_included": "digits of the sweep hand or decimals were keyed too",
}
"""Each shape of a wrong start, in words. Source: common practice (slips of copying)."""


_LONGEST_TEXT: Final = 60
"""Longest text that is compared; no register has so many digits. [characters] Our assumption, against absurd input."""


def start_slip_shape(dial_text: str, keyed_text: str) -> list[str]:
    """Name the slips that turn the digits that should have been keyed into the digits that were.

    Parameters
    ----------
    dial_text : str
        The right digits: the dial's reading, or ``start_index_for(...).digits`` where the index is cut otherwise.
    keyed_text : str
        The digits as keyed, padded or not.

    Returns
    -------
    list of str
        Keys of ``SLIP_WORDS``, likeliest first; empty where the two are one number or no single slip leads there.

    Raises
    ------
    DialCharacter
        A text holds something that is not a digit.

    Source
    ------
    Definition of each slip on strings; a transposition also shows as a difference of a multiple of 9·10^k.

    Examples
    --------
    >>> start_slip_shape("0421370", "42137"), start_slip_shape("041773", "41737")
    (['painted_zero_dropped'], ['transposition'])
    """
    texts = (dial_text.strip(), keyed_text.strip())
    for text in texts:
        place = first_non_digit(text)
        if place is not None:
            raise DialCharacter(text=text, character=text[place], position=place + 1)
    if max(len(text) for text in texts) > _LONGEST_TEXT:
        return []
    right, keyed = (int(text or "0") for text in texts)
    if right == keyed:
        return []
    if keyed == 0:
        return ["zero_start"]
    shapes = []
    if any(keyed * 10**k == right for k in (1, 2, 3)):
        shapes.append("painted_zero_dropped")
    if any(right * 10**k == keyed for k in (1, 2, 3)) and right:
        shapes.append("painted_zero_added")
    width = max(len(str(right)), len(str(keyed)))
    want, got = f"{right:0{width}d}", f"{keyed:0{width}d}"
    differ = [place for place in range(width) if want[place] != got[place]]
    if len(differ) == 2 and [want[p] for p in differ] == [got[p] for p in reversed(differ)]:
        shapes.append("transposition" if differ[1] - differ[0] == 1 else "two_digits_exchanged")
    if len(differ) == 1:
        shapes.append("digit_slipped")
    short, long = str(keyed), str(right)
    if _one_left_out(long, short) and "painted_zero_dropped" not in shapes:
        shapes.append("digit_dropped")
    if long != "0" and len(short) > len(long) and short.startswith(long) and int(short[len(long) :]):
        shapes.append("decimals_included")
    if _one_left_out(short, long) and "painted_zero_added" not in shapes:
        shapes.append("digit_added")
    return shapes


def _one_left_out(whole: str, part: str) -> bool:
    """Say whether ``part`` is ``whole`` with one digit left out (zeros that come to the front fall away)."""
    return any(int(whole[:p] + whole[p + 1 :] or "0") == int(part) for p in range(len(whole)))


def offset_shapes(offset: int) -> list[str]:
    """Name the slips that a constant error of the start could be, where the keyed text is not on record.

    Parameters
    ----------
    offset : int
        Index minus dial, in steps of the keyed digits. [steps, any sign]

    Returns
    -------
    list of str
        ``transposition`` for c·9·10^k with c from 1 to 9, ``digit_slipped`` for c·10^k with c from 1 to 9.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition: exchanging neighbours a, b at place k changes a number by 9·10^k·(a − b).

    Examples
    --------
    >>> offset_shapes(-36), offset_shapes(4000), offset_shapes(1234)
    (['transposition'], ['digit_slipped'], [])
    """
    rest = abs(offset)
    if not rest:
        return []
    shapes = []
    while rest % 10 == 0:
        rest //= 10
    # Trailing zeros may belong to c: 90 = 9·10 and 9·10·1, both found with the zeros taken off.
    if rest % 9 == 0 and rest // 9 <= 9:
        shapes.append("transposition")
    if rest <= 9:
        shapes.append("digit_slipped")
    return shapes
