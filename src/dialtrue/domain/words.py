"""Words for the figures that people read: probabilities, volumes, days, counts. One scale for every medium."""

from __future__ import annotations

import datetime as dt
import math
import unicodedata
from typing import Final

from dialtrue.domain.quantity import litres_per
from dialtrue.domain.watch_result import WatchSummary

PROBABILITY_WORDS: Final[tuple[tuple[float, str], ...]] = (
    (0.99, "almost certain"),
    (0.90, "very likely"),
    (0.66, "likely"),
    (0.50, "more likely than not"),
    (0.33, "possible"),
    (0.00, "a weak suspicion"),
)
"""Lowest probability at which each word is used, highest first. [-]

Source: the steps 0.99, 0.90, 0.66, 0.50 and 0.33 are those of ``IPCC-WORDS``; the last two words are our assumption,
since "unlikely" would read oddly beside the cause that a finding names.
"""

_MINUS: Final = "\N{MINUS SIGN}"


def probability_text(probability: float) -> str:
    """Say a probability in words and number.

    Parameters
    ----------
    probability : float
        Posterior probability. [-, 0..1]

    Returns
    -------
    str
        Such as ``likely, 0.83``. A figure that would round to 1.00 is printed as ``over 0.99``, for nothing seen
        from a desk is certain.

    Raises
    ------
    Never raises.

    Source
    ------
    ``IPCC-WORDS`` for the steps; see ``PROBABILITY_WORDS``.

    Examples
    --------
    >>> probability_text(0.83)
    'likely, 0.83'
    >>> probability_text(0.9998)
    'almost certain, over 0.99'
    """
    word = next((word for least, word in PROBABILITY_WORDS if probability >= least), PROBABILITY_WORDS[-1][1])
    return f"{word}, over 0.99" if probability >= 0.995 else f"{word}, {probability:.2f}"


def volume_text(litres: float, unit: str, *, signed: bool = False, half_width_l: float = 0.0) -> str:
    """Print a volume in a contract unit with no more digits than it deserves.

    Parameters
    ----------
    litres : float
        Volume. [L, any sign]
    unit : str
        Contract unit to print in.
    signed : bool
        Print a plus sign as well.
    half_width_l : float
        Half of the interval the volume comes with; digits finer than a tenth of it are not printed. [L, >= 0]

    Returns
    -------
    str
        Such as ``+12,300 gal``. Zero carries no sign.

    Raises
    ------
    UnknownUnit
        ``unit`` is not a contract unit.

    Source
    ------
    Our assumption: three significant digits serve a reader who decides on a visit; exact figures stand in the
    findings file.

    Examples
    --------
    >>> volume_text(37854.11784, "gal", signed=True)
    '+10,000 gal'
    >>> volume_text(-3.2, "L")
    '−3.20 L'
    """
    value = litres / float(litres_per(unit))
    coarse = half_width_l / float(litres_per(unit)) / 10.0
    decimals = max(0, 2 - _magnitude(value)) if value else 0
    if coarse > 0.0:
        decimals = min(decimals, max(0, -_magnitude(coarse)))
    rounded = round(value, min(decimals, 3))
    if not rounded:
        return f"0 {unit}"
    sign = _MINUS if rounded < 0 else "+" if signed else ""
    return f"{sign}{abs(rounded):,.{min(decimals, 3)}f} {unit}"


def _magnitude(value: float) -> int:
    """Return the power of ten of the leading digit."""
    return math.floor(math.log10(abs(value)))


def interval_text(low_l: float, high_l: float, unit: str) -> str:
    """Print the ends of an interval in a contract unit, with one sense of digits for both.

    Parameters
    ----------
    low_l, high_l : float
        Ends of the interval. [L]
    unit : str
        Contract unit to print in.

    Returns
    -------
    str
        Such as ``−120 to +40 gal``.

    Raises
    ------
    UnknownUnit
        ``unit`` is not a contract unit.

    Source
    ------
    Our assumption, as in ``volume_text``.

    Examples
    --------
    >>> interval_text(-120.0, 40.0, "L")
    '−120 to +40 L'
    """
    width = abs(high_l - low_l) / 2.0
    ends = [volume_text(end, unit, signed=True, half_width_l=width).removesuffix(f" {unit}") for end in (low_l, high_l)]
    return f"{ends[0]} to {ends[1]} {unit}"


def day_text(at: dt.datetime | None) -> str:
    """Print a moment as its UTC day, such as ``3 May 2025``; a moment not known is ``not known``.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> day_text(dt.datetime(2025, 5, 3, 6, tzinfo=dt.UTC))
    '3 May 2025'
    """
    return "not known" if at is None else f"{at.day} {at:%b %Y}"


def counted(count: int, noun: str, plural: str | None = None) -> str:
    """Print a count with its noun.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> counted(1, "visit"), counted(1200, "register")
    ('1 visit', '1,200 registers')
    """
    return f"{count:,} {noun if count == 1 else plural or noun + 's'}"


def summary_sentence(summary: WatchSummary) -> str:
    """Say the whole result of a watch in one sentence.

    Parameters
    ----------
    summary : WatchSummary
        The figures that stand first.

    Returns
    -------
    str
        One sentence for the top of the terminal and of the report.

    Raises
    ------
    UnknownUnit
        ``summary.unit`` is not a contract unit.

    Source
    ------
    Definition.
    """
    span = ""
    if summary.first_read is not None and summary.last_read is not None:
        first, last = day_text(summary.first_read), day_text(summary.last_read)
        if summary.first_read.year == summary.last_read.year:
            first = first.rpartition(" ")[0]
        span = f", {first} to {last}"
    watched = f"{counted(summary.ports, 'port')}, {counted(summary.reads, 'read')}{span}"
    if not summary.visits and not summary.remote_checks:
        return f"{watched}: nothing asks for a visit or a check."
    asks = [counted(summary.visits, "visit")] if summary.visits else []
    asks += [counted(summary.remote_checks, "check")] if summary.remote_checks else []
    return f"{watched}: {', '.join(asks)}, {volume_text(summary.volume_at_stake_l, summary.unit)} at stake."


def printable(text: object) -> str:
    r"""Replace control and direction marks: texts from files must steer neither a terminal nor a page.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition; every kind of space is kept as it is.

    Examples
    --------
    >>> printable("W-1\x1b[2J")
    'W-1�[2J'
    """
    return "".join(
        mark if mark.isprintable() or unicodedata.category(mark) == "Zs" else "\N{REPLACEMENT CHARACTER}"
        for mark in str(text)
    )
