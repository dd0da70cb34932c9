"""Times of day as people write them: HH:MM to seconds after midnight and back."""

from __future__ import annotations

import re
from typing import Final

DAY_S: Final = 86_400
_FORM: Final = re.compile(r"\s*(\d{1,2}):(\d{2})\s*")


def seconds_of(text: str) -> int | None:
    """Return the seconds after local midnight that a time of day stands for.

    Parameters
    ----------
    text : str
        ``HH:MM`` or ``H:MM``, 24 hours; ``24:00`` is the end of the day.

    Returns
    -------
    int or None
        Seconds after midnight; None where the text is no time of day. [s, 0..86400]

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> seconds_of("07:30")
    27000
    >>> seconds_of("7.30") is None
    True
    """
    found = _FORM.fullmatch(text)
    if found is None or not text.isascii():
        return None
    seconds = 3600 * int(found[1]) + 60 * int(found[2])
    return seconds if int(found[2]) < 60 and seconds <= DAY_S else None


def clock_text(seconds: int) -> str:
    """Write seconds after midnight as ``HH:MM``, cut to the minute; past midnight the hours go on. Never raises.

    Examples
    --------
    >>> clock_text(27_059)
    '07:30'
    """
    return f"{seconds // 3600:02d}:{seconds % 3600 // 60:02d}"
