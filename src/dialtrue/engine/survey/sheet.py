"""The sites sheet in columns, the list it is held against, and what a check raises."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from dialtrue.domain.survey.flag import Grade
from dialtrue.domain.survey.settings import SurveySettings

Texts = list[str | None]
Floats = NDArray[np.float64]


@dataclass(slots=True)
class Sheet:
    """Rows of the sites table, each column in its order; texts are trimmed, a blank or unusable cell is None or NaN.

    ``role`` is filled with ``single``; ``resolution`` and ``weight`` are exact, in their own units.
    """

    lines: list[int]
    site: Texts
    serial: Texts
    role: list[str]
    kind: Texts
    size: Texts
    address: Texts
    area: Texts
    account: Texts
    digits: Floats
    zeros: Floats
    dial_unit: Texts
    resolution: list[Fraction | None]
    weight: list[Fraction | None]
    pulse_unit: Texts
    latitude: Floats
    longitude: Floats
    use_l_per_day: Floats

    @property
    def rows(self) -> int:
        """Rows of the sheet. Never raises."""
        return len(self.lines)

    def called(self, row: int) -> str:
        """Name a row by its site, or by its line where it has none. Never raises."""
        site = self.site[row]
        return f"site {site}" if site else f"row {self.lines[row]}"


@dataclass(slots=True)
class Listed:
    """Meters on another list; ``whole`` where a meter that is not on it is worth a question.

    ``extra`` holds serials on record elsewhere: known, but no list to be complete.
    """

    name: str = ""
    serial: list[str] = field(default_factory=list)
    site: Texts = field(default_factory=list)
    account: Texts = field(default_factory=list)
    address: Texts = field(default_factory=list)
    area: Texts = field(default_factory=list)
    whole: bool = False
    extra: frozenset[str] = frozenset()


@dataclass(slots=True)
class Raised:
    """A doubt about rows of the sheet, by their place in it.

    ``becomes`` is the proposal for each row, None where somebody must answer. ``each`` tells that every row has a cell
    of its own to be changed; otherwise one line stands for all cells of the column that read ``was``.
    """

    rule: str
    subject: str
    grade: Grade
    rows: list[int]
    column: str
    says: str
    ask: str
    becomes: list[str] | None = None
    each: bool = True
    was: str = ""
    about: tuple[str, ...] = ()
    choices: tuple[tuple[str, str], ...] = ()
    """Answers of which one is to be accepted, each with its own subject; in place of ``becomes``."""


@dataclass(slots=True)
class Usual:
    """The usual value of each class of rows, and the rows that have another."""

    value: dict[Hashable, Hashable]
    count: Counter[Hashable]
    odd: list[int]


def grouped(keys: Iterable[Hashable], rows: Iterable[int]) -> dict[Hashable, list[int]]:
    """Gather rows by key, in order of first appearance. Never raises."""
    found: dict[Hashable, list[int]] = {}
    for key, row in zip(keys, rows, strict=True):
        found.setdefault(key, []).append(row)
    return found


def usual(
    classes: Sequence[Hashable],
    values: Sequence[Hashable | None],
    settings: SurveySettings,
    *,
    skip: Iterable[int] = (),
) -> Usual:
    """Find the usual value of each class and the rows that have another one.

    Parameters
    ----------
    classes : sequence
        Class of each row.
    values : sequence
        Value of each row; None is not counted.
    settings : SurveySettings
        ``usual_share`` and ``least_class``.
    skip : iterable of int
        Rows whose value is in doubt already: they count, but are not raised again.

    Returns
    -------
    Usual
        ``odd`` in ascending order. Never raises.

    Source
    ------
    Our assumption, see ``SurveySettings``.
    """
    pairs = Counter((a, b) for a, b in zip(classes, values, strict=True) if b is not None)
    total: Counter[Hashable] = Counter()
    for (a, _), count in pairs.items():
        total[a] += count
    value: dict[Hashable, Hashable] = {}
    for (a, b), count in pairs.items():
        if total[a] >= settings.least_class and count >= settings.usual_share * total[a]:
            value[a] = b
    left = set(skip)
    odd = [
        row
        for row, (a, b) in enumerate(zip(classes, values, strict=True))
        if b is not None and a in value and value[a] != b and row not in left
    ]
    return Usual(value, total, odd)


def usual_in_turn(
    layers: Sequence[Sequence[Hashable]],
    values: Sequence[Hashable | None],
    settings: SurveySettings,
    *,
    skip: Iterable[int] = (),
) -> list[tuple[int, Hashable, Hashable, int]]:
    """Find rows that differ from the usual value of their class, a wider class where the narrow one has none.

    Parameters
    ----------
    layers : sequence of sequences
        Classes of each row, the narrowest first.
    values, settings, skip
        As in ``usual``.

    Returns
    -------
    list of (row, class, usual value, rows of the class)
        In the order of the sheet. Never raises.
    """
    left = set(skip)
    odd: list[tuple[int, Hashable, Hashable, int]] = []
    open_rows = set(range(len(values)))
    for classes in layers:
        found = usual(classes, values, settings, skip=left)
        odd += [(row, classes[row], found.value[classes[row]], found.count[classes[row]]) for row in found.odd
                if row in open_rows]  # fmt: skip
        open_rows = {row for row in open_rows if classes[row] not in found.value}
        if not open_rows:
            break
    return sorted(odd, key=lambda item: item[0])


def classes_of(sheet: Sheet) -> tuple[list[int], list[str]]:
    """Return the class of each row (meter type, size and register) as a number, and words for each. Never raises."""
    number: dict[tuple[str | None, str | None, str], int] = {}
    codes = [number.setdefault(key, len(number)) for key in zip(sheet.kind, sheet.size, sheet.role, strict=True)]
    return codes, [_class_words(*key) for key in number]


def _class_words(kind: str | None, size: str | None, role: str) -> str:
    """Say a class in words: ``5/8in nutating_disc``."""
    words = " ".join(word for word in (size, kind) if word) or "of no stated type and size"
    return words if role == "single" else f"{words} ({role})"


def as_key(words: str) -> str:
    """Return words as part of a key: no spaces, so that a shell takes it whole. Never raises."""
    return words.replace(" ", "_")


def capital(text: str) -> str:
    """Return a text with its first letter large. Never raises."""
    return text[:1].upper() + text[1:]


def plural(count: int, one: str, many: str | None = None) -> str:
    """Write a count with its noun. Never raises."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def shown(values: Iterable[str], most: int = 5) -> str:
    """Write the first few of some names and how many more there are. Never raises."""
    every = list(values)
    head = ", ".join(every[:most])
    return head if len(every) <= most else f"{head} and {len(every) - most:,} more"


def cached(convert: Callable[[str], Fraction | None], texts: Iterable[str | None]) -> list[Fraction | None]:
    """Convert texts, each distinct one once. Never raises more than ``convert`` does."""
    known: dict[str, Fraction | None] = {}
    out: list[Fraction | None] = []
    for text in texts:
        if text is None:
            out.append(None)
            continue
        if text not in known:
            known[text] = convert(text)
        out.append(known[text])
    return out
