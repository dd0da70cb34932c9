"""One line of ``repairs.csv``: a change that is offered or asked for, and what a person decided about it."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

BLANK: Final = "(blank)"
"""What stands in ``becomes`` where the cell is to be emptied: a blank there means that the answer is still open."""

ACCEPT_WORDS: Final = frozenset({"accept", "accepted", "yes", "y"})
REFUSE_WORDS: Final = frozenset({"refuse", "refused", "no", "n"})


@dataclass(frozen=True, slots=True)
class RepairLine:
    """A line of ``repairs.csv``.

    Attributes
    ----------
    key : str
        Names the repair by rule, table and site or serial, never by the row: it stays when rows move.
    file, row : str, int
        Where it was seen when the line was written; only for the reader.
    site, meter_serial, register_role : str
        The row as written. A blank site means every cell of the column that reads ``was``.
    column, was, becomes : str
        The cell as written and as it is to be; ``(blank)`` empties it. Two columns, as for exchanged coordinates, are
        joined by a comma and a space.
    rule, why, ask : str
        Which rule offers it, its reason, and what a person should see or photograph first.
    decision, by, at : str
        ``accept``, ``refuse`` or blank; who decided, and when.
    """

    key: str
    file: str = ""
    row: int = 0
    site: str = ""
    meter_serial: str = ""
    register_role: str = ""
    column: str = ""
    was: str = ""
    becomes: str = ""
    rule: str = ""
    why: str = ""
    ask: str = ""
    decision: str = ""
    by: str = ""
    at: str = ""

    @property
    def accepted(self) -> bool:
        """Whether a person accepted the change. Never raises."""
        return self.decision == "accept"

    @property
    def refused(self) -> bool:
        """Whether a person said that the text stands as it is. Never raises."""
        return self.decision == "refuse"

    @property
    def table(self) -> str:
        """The table that the key names. Never raises."""
        return self.key.split(":", 2)[1] if self.key.count(":") else ""


LINE_COLUMNS: Final[tuple[str, ...]] = tuple(item.name for item in fields(RepairLine))
"""The columns of ``repairs.csv``, in order."""


def decision_word(text: str) -> str | None:
    """Return ``accept``, ``refuse`` or a blank for what a person wrote; None where it means nothing.

    Never raises.

    Examples
    --------
    >>> decision_word(" Accepted "), decision_word("no"), decision_word(""), decision_word("perhaps") is None
    ('accept', 'refuse', '', True)
    """
    word = text.strip().casefold()
    if not word:
        return ""
    if word in ACCEPT_WORDS:
        return "accept"
    return "refuse" if word in REFUSE_WORDS else None


def under(key: str, word: str) -> bool:
    """Tell whether a word names a key: the key itself, a leading part of it, or ``all``.

    Never raises.

    Examples
    --------
    >>> under("zeros:sites:417733", "zeros:sites"), under("zeros:sites:417733", "zeros:sites:4")
    (True, False)
    """
    return word == "all" or key == word or key.startswith(word + ":")
