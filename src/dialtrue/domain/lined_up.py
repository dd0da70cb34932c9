"""The one picture: dial above, index below, lined up digit by digit in columns of the same place value."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from dialtrue.domain.dial import Dial
from dialtrue.domain.difference import common_modulus, register_error
from dialtrue.domain.figures import figure, power_of_ten
from dialtrue.domain.index import Index
from dialtrue.domain.quantity import convert, litres_per

CellKind = Literal["moving", "painted", "counted", "converted"]
MOST_COLUMNS: Final = 24
"""Most columns that are drawn; places above are left off with a note. [columns] Our assumption: a page's width."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One drum: its digit and whether it turns on the dial, is painted, is a digit of the index or was converted."""

    digit: str
    kind: CellKind


@dataclass(frozen=True, slots=True)
class LinedUp:
    """Dial and index in the same columns.

    ``columns`` holds the place of each column as a power of ten of the dial's unit, highest first; ``dial_cells`` and
    ``index_cells`` what stands there, None for nothing. ``agree`` is True or False where both have a digit that moves
    and None elsewhere (a painted zero says nothing about the index's digit under it). ``difference`` is index minus
    dial [dial units]; ``level`` says that it lies within one digit of each register and one pulse.
    """

    columns: tuple[int, ...]
    dial_cells: tuple[Cell | None, ...]
    index_cells: tuple[Cell | None, ...]
    agree: tuple[bool | None, ...]
    unit: str
    difference: Fraction
    level: bool
    difference_text: str
    notes: tuple[str, ...]
    sentence: str

    @property
    def point_after(self) -> int | None:
        """The column after which the decimal point stands, or None where every place is whole or none is."""
        return self.columns.index(0) if 0 in self.columns and self.columns[-1] < 0 else None


def line_up(
    dial: Dial, dial_text: str, index: Index, count: int, *, pulse_weight: Fraction | int = 0, weight_unit: str = "L"
) -> LinedUp:
    """Line a dial reading up with an index taken at the same moment.

    Parameters
    ----------
    dial : Dial
        The meter's dial.
    dial_text : str
        Its reading, every position as seen.
    index : Index
        The port's index.
    count : int
        As sent; taken modulo the index's own modulus. [counts]
    pulse_weight, weight_unit : Fraction, str
        Volume per pulse, which widens what still counts as level. [weight_unit per pulse, >= 0]

    Returns
    -------
    LinedUp
        An index whose steps are no power of ten of the dial's unit is shown converted, rounded down, with a note.

    Raises
    ------
    DialCharacter, DialPositions, PaintedZero
        ``dial_text`` is no reading of this dial.
    UnknownUnit
        ``weight_unit`` is not a contract unit.

    Source
    ------
    Definition. Level within one digit of each and one pulse: both registers round down, and one pulse is in flight.

    Examples
    --------
    >>> face = Dial.of(moving_digits=6, fixed_zeros=1, unit="gal")
    >>> line_up(face, "0421370", Index.of(digits=8, unit="gal"), 42_137).difference_text
    'index \N{MINUS SIGN}379,233 gal against the dial'
    """
    dial_volume = dial.read(dial_text)
    index_volume = convert(index.volume(count % index.modulus), index.unit, dial.unit)
    step = index.resolution_l / litres_per(dial.unit)
    notes: list[str] = []
    dial_digits = _dial_digits(dial, dial_text.strip(), notes)
    index_digits = _index_digits(index, count, step, index_volume, min(dial_digits), dial.unit, notes)
    highest = max(*dial_digits, *index_digits)
    lowest = min(*dial_digits, *index_digits)
    if highest - lowest >= MOST_COLUMNS:
        notes.append(f"Places under 10^{highest - MOST_COLUMNS + 1} {dial.unit} are left off.")
        lowest = highest - MOST_COLUMNS + 1
    columns = tuple(range(highest, lowest - 1, -1))
    dial_cells = tuple(dial_digits.get(place) for place in columns)
    index_cells = tuple(index_digits.get(place) for place in columns)
    agree = tuple(_agree(above, below) for above, below in zip(dial_cells, index_cells, strict=True))

    capacity = index.capacity_l / litres_per(dial.unit)
    modulus, smaller = common_modulus(dial.capacity, capacity), min(dial.capacity, capacity)
    if modulus != smaller:
        notes.append("The two registers come round at volumes that share no turn: after a rollover compare changes.")
    difference = register_error(index_volume, dial_volume, modulus=smaller)
    slack = dial.resolution + step + convert(pulse_weight, weight_unit, dial.unit)
    level = abs(difference) < slack
    text, sentence = _said(dial_text.strip(), dial, index, count, difference, level)
    return LinedUp(columns, dial_cells, index_cells, agree, dial.unit, difference, level, text, tuple(notes), sentence)


def _dial_digits(dial: Dial, seen: str, notes: list[str]) -> dict[int, Cell]:
    """Return the dial's drums by place."""
    least = power_of_ten(dial.resolution)
    if least is None:
        notes.append(f"One step of the dial is {figure(dial.resolution, places=6)} {dial.unit}; shown converted.")
        return _converted(dial.read(seen), dial.capacity, 0)
    cells = {}
    for position, digit in enumerate(seen):
        painted = position >= dial.moving_digits
        cells[least + dial.moving_digits - 1 - position] = Cell(digit, "painted" if painted else "moving")
    return cells


def _index_digits(
    index: Index, count: int, step: Fraction, volume: Fraction, lowest_dial_place: int, unit: str, notes: list[str]
) -> dict[int, Cell]:
    """Return the index's digits by place, as counted or converted into the dial's unit."""
    least = power_of_ten(step)
    if least is not None:
        shown = index.show(count)
        return {least + index.digits - 1 - n: Cell(digit, "counted") for n, digit in enumerate(shown)}
    own = figure(index.volume(count % index.modulus), places=6)
    notes.append(f"The index counts {index.unit}: {own} {index.unit} is {figure(volume)} {unit}; shown converted.")
    return _converted(volume, index.capacity_l / litres_per(unit), lowest_dial_place)


def _converted(volume: Fraction, capacity: Fraction, lowest: int) -> dict[int, Cell]:
    """Return the digits of a volume down to a place, rounded down, as wide as its register."""
    unit = Fraction(10) ** lowest
    width = len(str(max((capacity / unit).__ceil__() - 1, 1)))
    digits = f"{(volume / unit).__floor__():0{width}d}"
    return {lowest + len(digits) - 1 - n: Cell(digit, "converted") for n, digit in enumerate(digits)}


def _agree(above: Cell | None, below: Cell | None) -> bool | None:
    """Say whether two drums agree, or None where the comparison says nothing."""
    if above is None or below is None or above.kind == "painted":
        return None
    return above.digit == below.digit


def _said(seen: str, dial: Dial, index: Index, count: int, difference: Fraction, level: bool) -> tuple[str, str]:
    """Write the difference for the margin and the whole picture as one sentence."""
    amount = f"{figure(difference, sign=True)} {dial.unit}"
    if not difference:
        text, verdict = "level", "they are level"
    elif level:
        text, verdict = f"level, {amount} within one digit", f"they are level, {amount} apart, within one digit"
    else:
        text = f"index {amount} against the dial"
        above = "above" if difference > 0 else "below"
        verdict = f"the index is {figure(abs(difference))} {dial.unit} {above} the dial"
    shows = f"Dial {seen}, {figure(dial.read(seen))} {dial.unit}"
    own = index.volume(count % index.modulus)
    return text, f"{shows}; index {index.show(count)}, {figure(own)} {index.unit}: {verdict}."
