"""The start index: which digits to press for a dial reading, and where each of them stands on the dial."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from dialtrue.domain.dial import Dial
from dialtrue.domain.figures import figure, power_of_ten
from dialtrue.domain.index import Index
from dialtrue.domain.quantity import convert
from dialtrue.domain.words import counted


@dataclass(frozen=True, slots=True)
class StartIndex:
    """The digits to press.

    ``digits`` is padded to the index's length and ``count`` its number. ``from_position`` names for each pressed digit
    the dial position it copies (counted from 0 at the left), or None for a zero that stands nowhere on the dial; the
    whole tuple is None where the index counts in steps that are no power of ten of the dial's. ``left_over`` is what
    the index's least digit cannot show [index units]; ``dropped_top`` what its top digit cannot [index units].
    """

    digits: str
    count: int
    from_position: tuple[int | None, ...] | None
    left_over: Fraction
    dropped_top: Fraction
    sentence: str


def start_index_for(dial: Dial, text: str, index: Index) -> StartIndex:
    """Return what to key so that the index starts level with the dial.

    Parameters
    ----------
    dial : Dial
        The meter's dial.
    text : str
        Its reading, every position as seen.
    index : Index
        The endpoint's index.

    Returns
    -------
    StartIndex
        count = floor(D / q_e) modulo 10^digits, where D is the dial's volume in the index's unit and q_e the value of
        the index's least digit.

    Raises
    ------
    DialCharacter, DialPositions, PaintedZero
        ``text`` is no reading of this dial.

    Source
    ------
    Definition.

    Examples
    --------
    >>> face = Dial.of(moving_digits=6, fixed_zeros=1, unit="gal")
    >>> start_index_for(face, "0421370", Index.of(digits=8, unit="gal")).digits
    '00421370'
    >>> start_index_for(face, "0421370", Index.of(digits=6, unit="gal", resolution=10)).sentence
    'Press 042137: the 6 moving digits of the dial, left to right; leave out the painted zero.'
    """
    seen = text.strip()
    volume = convert(dial.read(text), dial.unit, index.unit)
    whole = (volume / index.resolution).__floor__()
    count = whole % index.modulus
    digits = index.show(count)
    left_over = volume - whole * index.resolution
    dropped_top = (whole - count) * index.resolution
    finer = power_of_ten(dial.resolution_l / index.resolution_l)
    if finer is None:
        sentence = _converted_sentence(dial, index, digits, volume, left_over, dropped_top)
        return StartIndex(digits, count, None, left_over, dropped_top, sentence)
    positions = _positions(dial, index, finer)
    return StartIndex(digits, count, positions, left_over, dropped_top, _copied_sentence(dial, seen, digits, positions))


def _positions(dial: Dial, index: Index, finer: int) -> tuple[int | None, ...]:
    """Return for each index digit, left to right, the dial position of the same place value."""
    # The index's last digit stands `finer` places right of the dial's least moving digit (left where negative).
    last = dial.moving_digits - 1 + finer
    places = range(last - index.digits + 1, last + 1)
    return tuple(place if 0 <= place < dial.positions else None for place in places)


def _copied_sentence(dial: Dial, seen: str, digits: str, positions: tuple[int | None, ...]) -> str:
    """Say which dial digits to press, in which order, and what to do with the painted zeros."""
    kept = [place for place in positions if place is not None]
    moving = [place for place in kept if place < dial.moving_digits]
    painted = len(kept) - len(moving)
    front = next((n for n, place in enumerate(positions) if place is not None), len(positions))
    behind = len(positions) - front - len(kept)
    if not kept:
        return f"Press {digits}: none of the dial's digits reaches the index."
    parts = [f"{counted(front, 'zero')} first, then"] if front else []
    if not moving:
        parts.append("no moving digit")
    elif len(moving) == dial.moving_digits:
        parts.append(f"the {counted(dial.moving_digits, 'moving digit')} of the dial, left to right")
    elif moving[0] == 0:
        parts.append(f"the {_some('first', len(moving), 'moving digit')} of the dial, left to right")
    elif moving[-1] == dial.moving_digits - 1:
        parts.append(f"the {_some('last', len(moving), 'moving digit')} of the dial, left to right")
    else:
        parts.append(f"moving digits {moving[0] + 1} to {moving[-1] + 1} of the dial, left to right")
    notes = []
    if painted:
        notes.append(f"then {counted(painted, 'painted zero')}")
    if behind:
        notes.append(f"then {counted(behind, 'more zero')} that the dial does not have")
    skipped = dial.fixed_zeros - painted
    if skipped:
        part = f"{skipped} of " if painted else ""
        notes.append(
            f"leave out {part}the {'painted zero' if dial.fixed_zeros == 1 else f'{dial.fixed_zeros} painted zeros'}"
        )
    if moving and moving[-1] < dial.moving_digits - 1:
        cut = seen[moving[-1] + 1 : dial.moving_digits]
        notes.append(f"leave out the {_some('last', len(cut), 'moving digit')} ({cut})")
    if moving and moving[0] > 0:
        notes.append(f"the {_some('first', moving[0], 'moving digit')} ({seen[: moving[0]]}) will not go in")
    return "; ".join([f"Press {digits}: {' '.join(parts)}", *notes]) + "."


def _some(which: str, count: int, noun: str) -> str:
    """Say "first moving digit" or "first 3 moving digits"."""
    return f"{which} {noun}" if count == 1 else f"{which} {count} {noun}s"


def _converted_sentence(
    dial: Dial, index: Index, digits: str, volume: Fraction, left_over: Fraction, dropped_top: Fraction
) -> str:
    """Say how a reading was converted where no digit can be copied across."""
    shown = convert(volume, index.unit, dial.unit)
    step = f"{figure(index.resolution, places=6)} {index.unit}"
    said = f"Press {digits}: the index counts steps of {step}"
    if dial.unit != index.unit:
        said += f", and {figure(shown)} {dial.unit} is {figure(volume)} {index.unit}"
    said += "; the dial's digits cannot be copied"
    if left_over:
        said += f"; {figure(left_over)} {index.unit} stay under the last digit"
    if dropped_top:
        said += f"; {figure(dropped_top)} {index.unit} stand above the first digit and will not go in"
    return said + "."
