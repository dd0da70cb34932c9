"""The lined-up dial and index as one SVG picture, for the report and every page."""

from __future__ import annotations

from html import escape
from typing import Final

from dialtrue.domain.lined_up import Cell, LinedUp
from dialtrue.files.palette import roles_for

_DRUM_WIDTH: Final = 30
_DRUM_HEIGHT: Final = 40
_PITCH: Final = 34
_LEFT: Final = 68
_POINT: Final = 10
_DIAL_TOP: Final = 8
_INDEX_TOP: Final = 80
_HEIGHT: Final = 132
_CHARACTER: Final = 10

_STYLE: Final = (
    f"\n{roles_for('drums')}"
    + """\
.drums text { fill: var(--dt-ink); font: 16px system-ui, sans-serif; }
.drums .digit { font: 22px ui-monospace, monospace; text-anchor: middle; font-variant-numeric: tabular-nums; }
.drums .drum { fill: none; stroke: var(--dt-rule); stroke-width: 1; }
.drums .painted { fill: var(--dt-rule); stroke: none; }
.drums .converted { stroke-dasharray: 3 3; }
.drums .join { stroke: var(--dt-ink); stroke-width: 1; }
.drums .apart { fill: none; stroke: var(--dt-look); stroke-width: 3; }
.drums .digit.parts { font-weight: 800; }
.drums .note { font-size: 14px; }
.drums .difference { font-weight: 700; }
"""
)


def drum_svg(lined_up: LinedUp, *, title: str) -> str:
    """Draw the picture.

    Parameters
    ----------
    lined_up : LinedUp
        The picture.
    title : str
        What it shows, such as the meter's serial; any text, escaped here.

    Returns
    -------
    str
        One ``<svg>`` element that carries its own style, title and description. It takes a page's custom properties
        ``--paper``, ``--ink``, ``--rule``, ``--look`` and ``--good`` and falls back to the same colours. Digits that
        part are heavier and framed with cut corners; painted zeros stand on a filled ground, converted digits in a
        broken frame: nothing is said by colour alone.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption on sizes: digits of 22 px, read at arm's length; the page scales the picture by its width.
    """
    parts: list[str] = []
    right = _LEFT
    for place, _ in enumerate(lined_up.columns):
        x = right
        agrees = lined_up.agree[place]
        apart = agrees is False and not lined_up.level  # 0999 and 1000 are level: no digit of them is wrong
        parts += _drum(lined_up.dial_cells[place], x, _DIAL_TOP, apart)
        parts += _drum(lined_up.index_cells[place], x, _INDEX_TOP, apart)
        middle = x + _DRUM_WIDTH / 2
        if agrees:
            parts.append(
                f'<line class="join" x1="{middle:g}" y1="{_DIAL_TOP + _DRUM_HEIGHT + 4}" '
                f'x2="{middle:g}" y2="{_INDEX_TOP - 4}"/>'
            )
        right += _PITCH
        if place == lined_up.point_after:
            for top in (_DIAL_TOP, _INDEX_TOP):
                parts.append(f'<circle cx="{right + 1}" cy="{top + _DRUM_HEIGHT - 6}" r="2" fill="var(--dt-ink)"/>')
            right += _POINT
    beside = right + 8
    parts += [
        f'<text x="8" y="{_DIAL_TOP + 26}">dial</text>',
        f'<text x="8" y="{_INDEX_TOP + 26}">index</text>',
        f'<text x="{beside}" y="{_DIAL_TOP + 26}">{escape(lined_up.unit)}</text>',
        f'<text class="difference" x="{beside}" y="{_INDEX_TOP + 26}">{escape(lined_up.difference_text)}</text>',
    ]
    height = _HEIGHT
    for note in lined_up.notes:
        parts.append(f'<text class="note" x="8" y="{height + 6}">{escape(note)}</text>')
        height += 20
    longest_note = max((len(note) for note in lined_up.notes), default=0) * (_CHARACTER - 2)
    width = max(beside + _CHARACTER * len(lined_up.difference_text), longest_note) + 8
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drums" role="img" viewBox="0 0 {width} {height}" '
        f'width="{width}" height="{height}" style="max-width:100%;height:auto">'
        f"<title>{escape(title)}</title><desc>{escape(lined_up.sentence)}</desc><style>{_STYLE}</style>"
        f'<rect width="100%" height="100%" fill="var(--dt-paper)"/>{"".join(parts)}</svg>'
    )


def _drum(cell: Cell | None, x: int, top: int, apart: bool) -> list[str]:
    """Draw one drum: frame, digit and, where the digits part, a heavy frame with cut corners."""
    if cell is None:
        return []
    frame = f'<rect class="drum {cell.kind}" x="{x}" y="{top}" width="{_DRUM_WIDTH}" height="{_DRUM_HEIGHT}"/>'
    weight = "digit"
    if apart:
        weight = "digit parts"
        a, b, c, d = x, x + _DRUM_WIDTH, top, top + _DRUM_HEIGHT
        frame = (
            f'<path class="apart" d="M{a + 7} {c}H{b - 7}L{b} {c + 7}V{d - 7}L{b - 7} {d}H{a + 7}L{a} {d - 7}'
            f'V{c + 7}Z"/>'
        )
    middle = x + _DRUM_WIDTH / 2
    return [frame, f'<text class="{weight}" x="{middle:g}" y="{top + 28}">{escape(cell.digit)}</text>']
