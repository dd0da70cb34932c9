"""The empty dial above the empty index, digit by digit, as one SVG picture for paper and page alike."""

from __future__ import annotations

from functools import lru_cache
from html import escape
from typing import Final

from dialtrue.domain.job_sheet.start_boxes import BoxColumn, StartBoxes

MM_PER_COLUMN: Final = 7.4
"""Width of a column on paper. [mm] Our assumption: room for a digit written with gloves on."""

_PITCH: Final = 34
_DRUM: Final = 30
_LEFT: Final = 58
_RIGHT: Final = 74
_POINT: Final = 10
_DIAL_TOP, _DIAL_FOOT = 20, 60
_INDEX_TOP, _INDEX_FOOT = 92, 132
_HEIGHT: Final = 152
_WORDS: Final = "'Libertinus Serif', system-ui, sans-serif"
_DIGITS: Final = "'DejaVu Sans Mono', ui-monospace, Menlo, Consolas, monospace"


@lru_cache(maxsize=1024)
def start_svg(boxes: StartBoxes) -> tuple[str, float]:
    """Draw the boxes to be filled in.

    Parameters
    ----------
    boxes : StartBoxes
        The picture as data.

    Returns
    -------
    tuple of str, float
        One ``<svg>`` element in the ink of its surroundings, and its width on paper [mm]. Moving positions are empty
        boxes, painted zeros stand on a grey ground, zeros to key are printed. An arrow leads each digit that is keyed
        straight down; a cross closes each that stays out. The worked example stands small above and below.

    Raises
    ------
    Never raises.

    Source
    ------
    Our own look: dial above, index below, lined up.
    """
    parts: list[str] = []
    x = float(_LEFT)
    for place, column in enumerate(boxes.columns):
        parts += _column(column, x)
        x += _PITCH
        if place == boxes.point_after:
            parts.append(f'<circle cx="{x + 1:g}" cy="{_DIAL_FOOT - 4}" r="2.4"/>')
            x += _POINT
    width = x + _RIGHT
    parts += [
        _words(0, 13, "example", 12),
        _words(0, _DIAL_TOP + 26, "dial", 17, weight=True),
        _words(0, _INDEX_TOP + 26, "index", 17, weight=True),
        _words(0, _INDEX_FOOT + 15, "example", 12),
        _words(x + 4, _DIAL_TOP + 26, boxes.dial_unit, 17),
        _words(x + 4, _INDEX_TOP + 18, "steps of", 12),
        _words(x + 4, _INDEX_TOP + 34, boxes.index_step, 15),
    ]
    if boxes.converted:
        parts.append(_words(_LEFT, (_DIAL_FOOT + _INDEX_TOP) / 2 + 5, "work it out, see below", 13))
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="startboxes" viewBox="0 0 {width:g} {_HEIGHT}" '
        f'width="{width:g}" height="{_HEIGHT}" fill="currentColor" role="img" '
        f'aria-label="{escape(boxes.rule)} {escape(boxes.example)}">{"".join(parts)}</svg>'
    )
    return svg, width * MM_PER_COLUMN / _PITCH


@lru_cache(maxsize=256)
def boxes_svg(positions: int, painted: int) -> str:
    """Return a row of empty boxes to write digits in, painted zeros printed. Never raises. Source: our own look."""
    moving = positions - painted
    lines = "".join(f"M{x} 0v24" for x in range(20, 20 * positions, 20))
    zeros = "".join(_digit(20 * place + 10, 17, "0", 13) for place in range(moving, positions))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {20 * positions} 24" preserveAspectRatio="none">'
        f'<rect x="{20 * moving}" width="{20 * painted}" height="24" fill="#e0e0e0"/>'
        f'<path d="M.5 .5h{20 * positions - 1}v23h-{20 * positions - 1}z{lines}" fill="none" stroke="#888"/>'
        f"{zeros}</svg>"
    )


def _column(column: BoxColumn, x: float) -> list[str]:
    """Draw one column: both boxes and what joins or parts them."""
    middle = x + _DRUM / 2
    parts: list[str] = []
    if column.above:
        parts.append(_box(x, _DIAL_TOP, filled=column.above == "painted"))
        parts.append(_digit(middle, 13, column.dial_digit, 13))
        if column.above == "painted":
            parts.append(_digit(middle, _DIAL_TOP + 28, "0", 22))
    if column.below:
        parts.append(_box(x, _INDEX_TOP, filled=False, dashed=column.below == "converted"))
        parts.append(_digit(middle, _INDEX_FOOT + 15, column.index_digit, 13))
        if column.below == "zero":
            parts.append(_digit(middle, _INDEX_TOP + 28, "0", 22))
    if column.joined:
        foot = _INDEX_TOP - 3
        parts.append(f'<path d="M{middle:g} {_DIAL_FOOT + 3}V{foot}" fill="none" stroke="currentColor"/>')
        parts.append(f'<path d="M{middle - 3.5:g} {foot - 7}L{middle:g} {foot}L{middle + 3.5:g} {foot - 7}z"/>')
    elif column.stays_out and not column.below:
        y = _DIAL_FOOT + 13
        parts.append(f'<path d="M{middle:g} {_DIAL_FOOT + 3}V{y - 5}" fill="none" stroke="currentColor"/>')
        cross = f"M{middle - 5:g} {y - 5}l10 10m0 -10l-10 10"
        parts.append(f'<path d="{cross}" fill="none" stroke="currentColor" stroke-width="2"/>')
    return parts


def _box(x: float, top: float, *, filled: bool, dashed: bool = False) -> str:
    """Draw one drum or digit box."""
    ground = ' fill="currentColor" fill-opacity="0.14"' if filled else ' fill="none"'
    dash = ' stroke-dasharray="4 3"' if dashed else ""
    return f'<rect x="{x:g}" y="{top}" width="{_DRUM}" height="40" stroke="currentColor"{ground}{dash}/>'


def _digit(x: float, y: float, digit: str, size: int) -> str:
    """Set one digit in the middle of its column."""
    return f'<text x="{x:g}" y="{y:g}" text-anchor="middle" font-family="{_DIGITS}" font-size="{size}">{digit}</text>'


def _words(x: float, y: float, words: str, size: int, *, weight: bool = False) -> str:
    """Set words beside the boxes."""
    bold = ' font-weight="bold"' if weight else ""
    return f'<text x="{x:g}" y="{y:g}" font-family="{_WORDS}" font-size="{size}"{bold}>{escape(words)}</text>'
