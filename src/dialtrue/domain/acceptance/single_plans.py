"""Single sampling plans by lot size and acceptance quality limit: code letters, sample sizes, acceptance numbers."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal

from dialtrue.domain.errors.sample import LotTooSmall, UnknownAql, UnknownLevel

Severity = Literal["normal", "tightened", "reduced"]

SEVERITIES: Final[tuple[Severity, ...]] = ("normal", "tightened", "reduced")
LEVELS: Final = ("S-1", "S-2", "S-3", "S-4", "I", "II", "III")
LETTERS: Final = "ABCDEFGHJKLMNPQR"
AQLS: Final = tuple(
    Decimal(text) for text in ("0.065", "0.10", "0.15", "0.25", "0.40", "0.65", "1.0", "1.5", "2.5", "4.0", "6.5")
)
"""Acceptance quality limits whose plans are known here [% of units]."""

_LOT_ENDS: Final = (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000)
_LEVEL_LETTERS: Final = {
    "S-1": "AAAABBBBCCCCDDD",
    "S-2": "AAABBBCCCDDDEEE",
    "S-3": "AABBCCDDEEFFGGH",
    "S-4": "AABCCDEEFGGHJJK",
    "I": "AABCCDEFGHJKLMN",
    "II": "ABCDEFGHJKLMNPQ",
    "III": "BCDEFGHJKLMNPQR",
}
_SIZES: Final = {
    "normal": (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000),
    "reduced": (2, 2, 2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800),
}
_FIRST_AQL_STEP: Final = 4
"""Steps from the least limit of the standard, 0.010 %, to the first one kept here."""

_ACCEPT: Final[dict[str, dict[int, int]]] = {
    "normal": {14: 0, 17: 1, 18: 2, 19: 3, 20: 5, 21: 7, 22: 10, 23: 14, 24: 21},
    "tightened": {15: 0, 18: 1, 19: 2, 20: 3, 21: 5, 22: 8, 23: 12, 24: 18},
    "reduced": {14: 0, 18: 1, 19: 2, 20: 3, 21: 5, 22: 6, 23: 8, 24: 10},
}
"""Acceptance number by step: letters run down and limits run right, each in steps of about 10^(1/5), so that the number
is the same along a diagonal. A step that is not here is an arrow, up from just after a zero and beyond the last, else
down. Source: ``ISO-2859-1``."""


REDUCED_FROM_MEMORY: Final = (
    "Reduced inspection: the acceptance numbers kept here are from memory; hold them against your copy of the standard."
)


@dataclass(frozen=True, slots=True)
class SinglePlan:
    """Inspect ``size`` units; accept the lot with up to ``accept`` bad ones. ``letter`` is where the arrows led."""

    letter: str
    size: int
    accept: int


def code_letter(lot_size: int, level: str = "II") -> str:
    """Return the code letter of a lot.

    Parameters
    ----------
    lot_size : int
        Units in the lot. [units, >= 2]
    level : str
        Inspection level: I, II, III, or special S-1 to S-4.

    Returns
    -------
    str
        A letter of ``LETTERS``.

    Raises
    ------
    LotTooSmall
        Fewer than two units.
    UnknownLevel
        Another level.

    Source
    ------
    ``ISO-2859-1``, table 1.

    Examples
    --------
    >>> code_letter(500), code_letter(501), code_letter(500, "I"), code_letter(500, "S-4")
    ('H', 'J', 'F', 'E')
    """
    if level not in _LEVEL_LETTERS:
        raise UnknownLevel(level=level, known=", ".join(LEVELS))
    if lot_size < 2:
        raise LotTooSmall(size=lot_size)
    return _LEVEL_LETTERS[level][sum(lot_size > end for end in _LOT_ENDS)]


def single_plan(lot_size: int, aql: Decimal, *, level: str = "II", severity: Severity = "normal") -> SinglePlan:
    """Return the single sampling plan of a lot, arrows followed.

    Parameters
    ----------
    lot_size : int
        Units in the lot. [units, >= 2]
    aql : Decimal
        Acceptance quality limit, one of ``AQLS``. [% of units]
    level : str
        Inspection level.
    severity : str
        ``normal``, ``tightened`` or ``reduced``.

    Returns
    -------
    SinglePlan
        ``size`` may exceed the lot; then every unit is inspected.

    Raises
    ------
    LotTooSmall, UnknownLevel
    UnknownAql
        A limit whose plans are not known here.

    Source
    ------
    ``ISO-2859-1``, tables 1, 2-A, 2-B and 2-C. Normal and tightened plans agree with ``MIL-STD-105E`` cell by cell;
    the acceptance numbers for reduced inspection are from memory and differ from the older standard, which had a gap
    between acceptance and rejection.

    Examples
    --------
    >>> single_plan(500, Decimal("1.0"))
    SinglePlan(letter='H', size=50, accept=1)
    >>> single_plan(40, Decimal("4.0"))
    SinglePlan(letter='E', size=13, accept=1)
    """
    return plan_of_letter(code_letter(lot_size, level), aql, severity=severity)


def plan_of_letter(letter: str, aql: Decimal, *, severity: Severity = "normal") -> SinglePlan:
    """Return the plan in the cell of a letter and a limit, arrows followed; raises ``UnknownAql``.

    Source
    ------
    ``ISO-2859-1``, tables 2-A, 2-B and 2-C; see ``single_plan``.
    """
    step = _FIRST_AQL_STEP + aql_place(aql)
    accept = _ACCEPT[severity]
    zero, last = min(accept), max(accept)
    row = LETTERS.index(letter)
    if row + step > last:
        row = last - step
    elif row + step == zero + 1 and severity != "tightened":
        row -= 1
    else:
        row = next(number for number in sorted(accept) if number >= row + step) - step
    sizes = _SIZES["reduced" if severity == "reduced" else "normal"]
    return SinglePlan(LETTERS[row], sizes[row], accept[row + step])


def aql_place(aql: Decimal) -> int:
    """Return the place of a limit among ``AQLS``; raises ``UnknownAql``.

    Source
    ------
    ``ISO-2859-1``: preferred limits.
    """
    if aql not in AQLS:
        raise UnknownAql(aql=aql, known=", ".join(str(each) for each in AQLS))
    return AQLS.index(aql)


def letter_of_size(size: int) -> str:
    """Return the code letter whose normal sample has that size, blank if none has. Never raises.

    Source
    ------
    ``ISO-2859-1``, table 2-A.

    Examples
    --------
    >>> letter_of_size(50), letter_of_size(56)
    ('H', '')
    """
    sizes = _SIZES["normal"]
    return LETTERS[sizes.index(size)] if size in sizes else ""
