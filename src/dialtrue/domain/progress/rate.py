"""A share with its count and its interval; of a small group no share is told."""

from __future__ import annotations

from dataclasses import dataclass

from dialtrue.domain.acceptance.chance import counts_fit, score_interval


@dataclass(frozen=True, slots=True)
class Rate:
    """``count`` of ``of``. [units, 0 <= count <= of]"""

    count: int
    of: int

    def __post_init__(self) -> None:
        """Raise ``MoreDefectsThanInspected`` where the part is larger than the whole."""
        counts_fit(self.count, self.of)

    @property
    def share(self) -> float | None:
        """The share, None where there is nothing to take it of. [-, 0..1]"""
        return self.count / self.of if self.of else None

    @property
    def interval(self) -> tuple[float, float]:
        """The 95 % interval of the share. Source: ``WILSON-SCORE``. [-, 0..1]"""
        return score_interval(self.count, self.of)


def share_words(rate: Rate, *, enough: int) -> str:
    """Say a share without its count: in per cent, or why not. Never raises.

    Source
    ------
    Definition.

    Examples
    --------
    >>> share_words(Rate(1791, 1850), enough=50), share_words(Rate(1, 12), enough=50), share_words(Rate(0, 0), enough=1)
    ('96.8 %', 'too few', 'not known')
    """
    if rate.share is None:
        return "not known"
    return "too few" if rate.of < enough else f"{100 * rate.share:.1f} %"


def interval_words(rate: Rate, *, enough: int) -> str:
    """Say the ends of the interval, blank where no share is told. Never raises.

    Source
    ------
    ``WILSON-SCORE``.

    Examples
    --------
    >>> interval_words(Rate(1791, 1850), enough=50)
    '95.9 to 97.5 %'
    """
    if rate.of < max(enough, 1):
        return ""
    low, high = rate.interval
    return f"{100 * low:.1f} to {100 * high:.1f} %"


def rate_words(rate: Rate, *, enough: int) -> str:
    """Say a share with its count and its interval. Never raises.

    Parameters
    ----------
    rate : Rate
        The count.
    enough : int
        Units below which no share is told. [units]

    Returns
    -------
    str

    Source
    ------
    ``WILSON-SCORE`` for the interval.

    Examples
    --------
    >>> rate_words(Rate(1791, 1850), enough=50)
    '1,791 of 1,850, 96.8 % (95.9 to 97.5 %)'
    >>> rate_words(Rate(1, 12), enough=50)
    '1 of 12, too few'
    """
    count = f"{rate.count:,} of {rate.of:,}"
    if rate.of < max(enough, 1):
        return f"{count}, too few" if rate.of else "not known"
    return f"{count}, {share_words(rate, enough=enough)} ({interval_words(rate, enough=enough)})"
