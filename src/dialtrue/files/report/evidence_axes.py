"""Scales and ticks of the evidence pictures: time, numbers, and round steps of both."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from dialtrue.domain.evidence_picture import EvidencePicture, Place
from dialtrue.domain.figure_words import number_text

DAY_STEPS: Final = (1, 2, 5, 7, 14, 28, 61, 91, 182, 365, 730)
LETTER: Final = 0.56
"""Width of a letter over its size, on the wide side. Our assumption: it holds for the common faces."""
_MINUS: Final = "\N{MINUS SIGN}"


def number(place: Place) -> float:
    """Return where a place stands on an axis: seconds for a moment, the number itself, nan for a word."""
    if isinstance(place, dt.datetime):
        return place.timestamp()
    return float("nan") if isinstance(place, str) else float(place)


def figure_text(value: float) -> str:
    """Print a figure with three digits: 12,346, 0.25, −4."""
    return number_text(value, digits=3)


def signed_text(value: float) -> str:
    """Print a figure of bits with its sign and one decimal: +12.5, −1.3, 0.0."""
    rounded = round(value, 1)
    return "0.0" if rounded == 0 else f"{'+' if rounded > 0 else _MINUS}{abs(rounded):.1f}"


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale from values to pixels; ``low`` stands at ``begin``."""

    low: float
    high: float
    begin: float
    end: float

    def __call__(self, value: float) -> float:
        """Return the pixel of a value, kept within the axis."""
        share = (value - self.low) / (self.high - self.low)
        return self.begin + min(max(share, 0.0), 1.0) * (self.end - self.begin)


def value_range(picture: EvidencePicture) -> tuple[float, float]:
    """Return the span of values to show, intervals and levels included, a little air above and below."""
    values = [value for series in picture.series for value in (*series.y, *series.low, *series.high)]
    known = [value for value in values if value is not None and math.isfinite(value)]
    known += [number(mark.start) for mark in picture.marks if mark.kind == "level"]
    if picture.zero or not known:
        known.append(0.0)
    low, high = min(known), max(known)
    air = 0.06 * (high - low) or 1.0
    return (low if low == 0 else low - air), (high if high == 0 and low < 0 else high + air)


def round_ticks(low: float, high: float, *, about: int) -> list[float]:
    """Return round values within a span, at steps of 1, 2 or 5 times a power of ten."""
    rough = (high - low) / max(about, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * factor for factor in (1, 2, 5, 10) if power * factor >= rough)
    first = math.ceil(low / step - 1e-9)
    return [step * place for place in range(first, math.floor(high / step + 1e-9) + 1)]


def time_ticks(low: float, high: float, *, about: int) -> list[tuple[float, str]]:
    """Return midnights (UTC) within a span, with their day, and with their year where the span is long."""
    days = (high - low) / 86_400
    step = next((each for each in DAY_STEPS if days / each <= about), DAY_STEPS[-1])
    first = dt.datetime.fromtimestamp(low, dt.UTC)
    day = first.replace(hour=0, minute=0, second=0, microsecond=0)
    ticks = []
    while day.timestamp() <= high:
        if day.timestamp() >= low:
            ticks.append((day.timestamp(), f"{day:%b %Y}" if step > 28 else f"{day.day} {day:%b}"))
        day += dt.timedelta(days=step)
    return ticks


def spread_labels(places: Sequence[float], *, apart: float, top: float, bottom: float) -> list[float]:
    """Move labels so that none stands within ``apart`` pixels of another, as little as that takes."""
    order = sorted(range(len(places)), key=places.__getitem__)
    moved = list(places)
    below = top - apart
    for place in order:
        moved[place] = below = max(moved[place], below + apart)
    above = bottom + apart
    for place in reversed(order):
        moved[place] = above = min(moved[place], above - apart)
    return moved
