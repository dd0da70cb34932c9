"""The picture of a statement: for each period a bar as billed and a bar as it should have been, with its range."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from dialtrue.domain.figures import figure
from dialtrue.domain.settlement.statement import StatedPeriod
from dialtrue.files.palette import LIGHT
from dialtrue.files.report.markup import safe, svg_text

_BAR: Final = 12


@dataclass(frozen=True, slots=True)
class _Layout:
    """Where a picture's parts stand. Beside the bars or, on a phone, above them stands the period's name."""

    width: int
    left: int
    right: int
    row: int
    drop: int
    """How far the bars stand below the row's top: room for a name above them."""


_WIDE: Final = _Layout(680, 190, 110, 40, 0)
_PHONE: Final = _Layout(320, 8, 92, 58, 18)
MOST_DRAWN: Final = 18
"""Periods in one picture; the table holds all. Our assumption: more cannot be read on a page."""
MOST_ON_PAPER: Final = 12
"""Periods in one picture on paper, so that it stands on the first sheet."""


def bars_svg(periods: Sequence[StatedPeriod], unit: str, *, page: bool = True, phone: bool = False) -> str:
    """Draw the periods, the last ``MOST_DRAWN`` or ``MOST_ON_PAPER`` of them; zero is shown. Never raises.

    ``page``: with class names for a page in light or dark; else with fixed colours for paper. ``phone``: narrow, so
    that its letters are as large as those around it.
    """
    at = _PHONE if phone else _WIDE
    drawn = list(periods)[-_most(page) :]
    ends = [Fraction(0), *(value for each in drawn for value in (each.billed, each.corrected, each.high, each.low))]
    low, high = float(min(ends)), float(max(ends))
    # A billed volume that is nonsense must not flatten all others: the picture ends where it still shows them.
    sane = sorted(float(max(each.corrected, each.high)) for each in drawn)[-1] or 1.0
    low, high = max(low, -sane / 2), min(max(high, sane), sane * 3)
    span = (high - low) or 1.0
    height = 26 + at.row * len(drawn)

    def x(value: Fraction | float) -> float:
        return at.left + (min(max(float(value), low), high) - low) / span * (at.width - at.left - at.right)

    parts = []
    for place, each in enumerate(drawn):
        top = 24 + place * at.row + at.drop
        if phone:
            parts.append(svg_text(at.left + 6, top - 4, each.name))
        else:
            parts.append(svg_text(at.left - 10, top + 18, each.name, anchor="end"))
        for value, offset, kind in ((each.billed, 2, "billed"), (each.corrected, 17, "true")):
            a, b = sorted((x(0), x(value)))
            cut = not low <= float(value) <= high
            parts.append(_bar(a, top + offset, max(b - a, 1.0), kind, page))
            words = figure(value, places=1) + (" (cut)" if cut else "")
            parts.append(
                svg_text(max(b, x(each.high) if kind == "true" else b) + 6, top + offset + 10.5, words, look="fig")
            )
        if each.low != each.high:
            y = top + 17 + _BAR / 2
            style = 'class="range"' if page else f'stroke="{LIGHT["ink"]}" stroke-width="1.5"'
            parts.append(f'<path {style} d="M{x(each.low):.1f} {y:.1f}H{x(each.high):.1f}"/>')
            for end in (each.low, each.high):
                parts.append(f'<path {style} d="M{x(end):.1f} {y - 4:.1f}V{y + 4:.1f}"/>')
    zero = x(0.0)
    style = 'class="zero"' if page else f'stroke="{LIGHT["ink"]}" stroke-width="1"'
    parts.append(f'<path {style} d="M{zero:.1f} 20V{height - 4}"/>')
    # Close to the edge the zero's name begins at the line instead of standing over it.
    parts.append(svg_text(zero, 13, f"0 {unit}", anchor="start" if zero < 40 else "middle"))
    words = f"Volume by period in {unit}: upper bar as billed, lower bar as it should have been"
    kind_of = f' class="{"narrow" if phone else "wide"}"' if page else ""
    face = "" if page else ' font-family="Libertinus Serif" font-size="14"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg"{kind_of} viewBox="0 0 {at.width} {height}" role="img"{face} '
        f'aria-label="{safe(words)}">{"".join(parts)}</svg>'
    )


def left_off(periods: Sequence[StatedPeriod], *, page: bool = True) -> str:
    """Say that a picture shows the last periods only, blank where it shows all. Never raises."""
    if len(periods) <= _most(page):
        return ""
    return f"The picture shows the last {_most(page)} of {len(periods)} periods; the table holds all."


def _most(page: bool) -> int:
    """Return how many periods a picture holds."""
    return MOST_DRAWN if page else MOST_ON_PAPER


def _bar(x: float, y: float, width: float, kind: str, page: bool) -> str:
    """Draw one bar: hollow as billed, full as it should have been, so that colour is not the only sign."""
    if page:
        style = f'class="{kind}"'
    elif kind == "true":
        style = f'fill="{LIGHT["water"]}"'
    else:
        style = f'fill="none" stroke="{LIGHT["ink"]}" stroke-width="1.2"'
    return f'<rect {style} x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{_BAR}"/>'
