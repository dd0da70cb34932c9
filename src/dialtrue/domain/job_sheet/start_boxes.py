"""The start index as boxes to fill: the dial's drums above, the index's digits below, in columns of one place value."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from dialtrue.domain.dial import Dial
from dialtrue.domain.figures import decimal_places, figure, power_of_ten
from dialtrue.domain.index import Index
from dialtrue.domain.start_index import start_index_for
from dialtrue.domain.words import counted

Above = Literal["moving", "painted", ""]
Below = Literal["copied", "zero", "converted", ""]
EXAMPLE_DIGITS = "0421375968024"
"""Digits of the worked example, cut to the dial's moving digits: a zero in front, then no digit twice.

Our assumption: any reading serves; override it by ``example``.
"""


@dataclass(frozen=True, slots=True)
class BoxColumn:
    """One column: what stands on the dial and what is keyed below it.

    ``above`` is blank where the dial has nothing; a painted position is printed as 0. ``below`` is ``copied`` where the
    digit comes straight down, ``zero`` where a printed zero is keyed, ``converted`` where it must be worked out, blank
    where nothing is keyed: a dial digit above such a column stays out. ``dial_digit`` and ``index_digit`` are the
    worked example's.
    """

    above: Above
    below: Below
    dial_digit: str
    index_digit: str

    @property
    def joined(self) -> bool:
        """True where the digit goes straight down."""
        return bool(self.above) and self.below in ("copied", "zero")

    @property
    def stays_out(self) -> bool:
        """True where the dial has a digit that is not keyed."""
        return bool(self.above) and not self.below


@dataclass(frozen=True, slots=True)
class StartBoxes:
    """The picture to fill in, its rule in words and a worked example.

    ``converted`` says that no digit can be copied; ``columns`` then hold dial and index each in its own order, set to
    the right, and ``rule`` gives the arithmetic. ``point_after`` is the column behind which the dial's decimal point
    stands, or None.
    """

    columns: tuple[BoxColumn, ...]
    point_after: int | None
    dial_unit: str
    index_step: str
    converted: bool
    rule: str
    example_dial: str
    example_index: str
    example: str


def start_boxes(dial: Dial, index: Index, *, example: str = "") -> StartBoxes:
    """Line the empty dial up with the empty index.

    Parameters
    ----------
    dial : Dial
        The meter's dial.
    index : Index
        The endpoint's index as it will be set.
    example : str
        A reading of this dial for the worked example; blank, or no reading of this dial: one is made up.

    Returns
    -------
    StartBoxes

    Raises
    ------
    Never raises.

    Source
    ------
    Definition; positions from ``domain.start_index``.

    Examples
    --------
    >>> face = Dial.of(moving_digits=6, fixed_zeros=1, unit="gal")
    >>> boxes = start_boxes(face, Index.of(digits=8, unit="gal"))
    >>> boxes.example_dial, boxes.example_index
    ('0421370', '00421370')
    >>> boxes.rule
    'Key 1 zero, then the 6 moving digits, then the painted zero: 8 digits.'
    """
    reading = example.strip() if _reads(dial, example) else _made_up(dial)
    start = start_index_for(dial, reading, index)
    step = f"{figure(index.resolution, places=6)} {index.unit}"
    if start.from_position is None:
        columns = _right_aligned(reading, dial, start.digits)
        rule = _arithmetic(dial, index)
    else:
        columns = _lined_up(reading, dial, start.digits, start.from_position)
        rule = _copying(columns, index.digits)
    return StartBoxes(
        columns,
        _point_after(columns, dial),
        dial.unit,
        step,
        start.from_position is None,
        rule,
        reading,
        start.digits,
        f"Example: dial {reading}, key {start.digits}.",
    )


def _reads(dial: Dial, text: str) -> bool:
    """Return whether a text is a reading of this dial."""
    seen = text.strip()
    painted = seen[dial.moving_digits :]
    return len(seen) == dial.positions and seen.isascii() and seen.isdecimal() and not painted.strip("0")


def _made_up(dial: Dial) -> str:
    """Return a reading in which each digit can be followed with a finger."""
    moving = (EXAMPLE_DIGITS * 2)[: dial.moving_digits] if dial.moving_digits > 1 else "4"
    return moving + "0" * dial.fixed_zeros


def _lined_up(reading: str, dial: Dial, keyed: str, positions: tuple[int | None, ...]) -> tuple[BoxColumn, ...]:
    """Return columns of one place value, left to right."""
    place_of_first = _place_of_first(dial, positions)
    leftmost = min(0, place_of_first)
    rightmost = max(dial.positions, place_of_first + len(positions))
    columns = []
    for place in range(leftmost, rightmost):
        above: Above = ""
        if 0 <= place < dial.positions:
            above = "moving" if place < dial.moving_digits else "painted"
        below: Below = ""
        nth = place - place_of_first
        if 0 <= nth < len(positions):
            below = "copied" if above == "moving" else "zero"
        columns.append(BoxColumn(above, below, reading[place] if above else "", keyed[nth] if below else ""))
    return tuple(columns)


def _place_of_first(dial: Dial, positions: tuple[int | None, ...]) -> int:
    """Return the dial position under which the index's first digit stands; negative left of the dial."""
    for nth, position in enumerate(positions):
        if position is not None:
            return position - nth
    return -len(positions)  # the index ends left of the dial: nothing reaches it


def _right_aligned(reading: str, dial: Dial, keyed: str) -> tuple[BoxColumn, ...]:
    """Return dial and index set to the right, for pairs whose digits cannot be copied."""
    width = max(len(reading), len(keyed))
    columns = []
    for place in range(width):
        on_dial, on_index = place - width + len(reading), place - width + len(keyed)
        above: Above = ""
        if on_dial >= 0:
            above = "moving" if on_dial < dial.moving_digits else "painted"
        below: Below = "converted" if on_index >= 0 else ""
        columns.append(BoxColumn(above, below, reading[on_dial] if above else "", keyed[on_index] if below else ""))
    return tuple(columns)


def _point_after(columns: tuple[BoxColumn, ...], dial: Dial) -> int | None:
    """Return the column behind which the dial's decimal point stands, None where every moving digit is whole."""
    least = power_of_ten(dial.resolution)
    if least is None or not -dial.moving_digits < least < 0:
        return None
    first = next(place for place, column in enumerate(columns) if column.above)
    return first + dial.moving_digits - 1 + least


def _copying(columns: tuple[BoxColumn, ...], digits: int) -> str:
    """Say which digits are keyed, in order, and which stay out."""
    keyed = [column for column in columns if column.below]
    moving = sum(column.above == "moving" for column in columns)
    copied = sum(column.below == "copied" for column in keyed)
    front = next((n for n, column in enumerate(keyed) if column.above), len(keyed))
    painted = sum(column.above == "painted" for column in keyed)
    behind = len(keyed) - front - copied - painted
    if not copied:
        return f"None of the dial's digits reaches the index: key {counted(digits, 'zero')}."
    which = "the" if copied == moving else "the last" if _first_out(columns) else "the first"
    if copied < moving and _first_out(columns) and _last_out(columns):
        which = "the middle"
    parts = [counted(front, "zero")] if front else []
    parts.append(f"{which} {counted(copied, 'moving digit')}")
    out = sum(column.stays_out and column.above == "painted" for column in columns)
    if painted:
        whole = "the painted zero" if painted == 1 else f"the {painted} painted zeros"
        parts.append(f"{painted} of the {painted + out} painted zeros" if out else whole)
    if behind:
        parts.append(counted(behind, "more zero"))
    left = ""
    if out and not painted:
        left = " The painted zero stays out." if out == 1 else f" The {out} painted zeros stay out."
    return f"Key {', then '.join(parts)}: {counted(digits, 'digit')}.{left}"


def _first_out(columns: tuple[BoxColumn, ...]) -> bool:
    """Return whether the dial's first digit is not keyed."""
    return next((column.stays_out for column in columns if column.above), False)


def _last_out(columns: tuple[BoxColumn, ...]) -> bool:
    """Return whether the dial's last moving digit is not keyed."""
    return next((column.stays_out for column in reversed(columns) if column.above == "moving"), False)


def _arithmetic(dial: Dial, index: Index) -> str:
    """Say how to work the index out where no digit can be copied."""
    # The dial's moving digits as a number, times this, are counts of the index.
    factor = Fraction(dial.resolution_l / index.resolution_l)
    if decimal_places(factor) is not None and decimal_places(factor) <= 12:  # type: ignore[operator]
        by = f"times {figure(factor, places=12)}"
    else:
        by = f"times {figure(factor.numerator)}, divided by {figure(factor.denominator)}"
    painted = " without the painted zeros" if dial.fixed_zeros else ""
    return (
        f"No digit can be copied: take the dial's {dial.moving_digits} moving digits{painted} as a number, {by}; drop "
        f"what stands behind the point and key {counted(index.digits, 'digit')}, zeros in front."
    )
