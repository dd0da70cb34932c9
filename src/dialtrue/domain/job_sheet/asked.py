"""The questions of a page, one by one: the plan runs those of a register together in one cell."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from dialtrue.domain.job_sheet.register_plan import RegisterPlan
from dialtrue.domain.job_sheet.register_words import LONGEST_NOTE, cut
from dialtrue.domain.planning.questions import QUESTIONS

MOST_QUESTIONS: Final = 8
"""Most questions on a page. Our assumption: what leaves room for answers; the rest are counted."""

_DETAIL: Final = "{detail}"
_KNOWN: Final = re.compile(
    "|".join(".*?".join(map(re.escape, text.split(_DETAIL))) for text in QUESTIONS.values() if text != _DETAIL)
)


def questions_for(registers: Sequence[RegisterPlan]) -> tuple[str, ...]:
    """Return the questions of a page, each once.

    Parameters
    ----------
    registers : sequence of RegisterPlan
        Of one page.

    Returns
    -------
    tuple of str
        At most ``MOST_QUESTIONS``. The plan's own questions are told apart by their words; others end with their
        question mark.

    Raises
    ------
    Never raises.

    Source
    ------
    ``domain.planning.questions``.

    Examples
    --------
    >>> plan = RegisterPlan(site="S", meter_serial="1", questions="Who has the key? How long is the cable run from the "
    ...     "register to the endpoint? What size is the meter? It stands on the body or the plate.")
    >>> [len(question) for question in questions_for([plan])]
    [16, 60, 59]
    """
    asked: dict[str, None] = {}
    for plan in registers:
        text, place = plan.questions.strip(), 0
        for match in _KNOWN.finditer(text):
            asked.update(dict.fromkeys(_others(text[place : match.start()])))
            asked[match[0]] = None
            place = match.end()
        asked.update(dict.fromkeys(_others(text[place:])))
    listed = [cut(question, LONGEST_NOTE) for question in asked]
    if len(listed) > MOST_QUESTIONS:
        more = len(listed) - MOST_QUESTIONS + 1
        listed = [*listed[: MOST_QUESTIONS - 1], f"And {more} more: see the plan."]
    return tuple(listed)


def _others(text: str) -> list[str]:
    """Part what is none of the plan's own questions."""
    return [piece for piece in re.split(r"(?<=\?)\s+", text.strip()) if piece]
