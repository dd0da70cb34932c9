"""Draw values by name as level bars: from the left, or to both sides of zero where some are negative."""

from __future__ import annotations

from typing import Final

from dialtrue.domain.evidence_picture import EvidencePicture, Series
from dialtrue.files.report.evidence_axes import LETTER, Scale, figure_text, number, signed_text
from dialtrue.files.report.markup import svg_text

ROW: Final = 22
TITLE: Final = 30


def draw_bars(picture: EvidencePicture, width: int, height: int, font: int) -> tuple[str, float]:
    """Draw each series as rows of bars under its name; return the drawing and the height it takes.

    A bar to the right is filled; one to the left is an outline only and its figure has a minus: the sign is never told
    by colour alone. The last row stands apart where it is called "sum".
    """
    names = [str(x) for x in picture.series[0].x]
    left = min(font * LETTER * max(map(len, names)) + 10, 0.42 * width)
    values = [value for series in picture.series for value in (*series.y, *series.low, *series.high)]
    known = [value for value in values if value is not None] or [1.0]
    low, high = min(0.0, *known), max(0.0, *known)
    high = high if high > low else low + 1.0
    room = font * LETTER * max(len(figure_text(value)) + 1 for value in known) + 8
    x = Scale(low, high, left + (room if low < 0 else 4), width - room)
    parts, top = [], 0.0
    for series in picture.series:
        drawn, top = _panel(series, picture, x, top, left, font)
        parts += drawn
    return "".join(parts), max(top + 6, 40.0)


def _panel(
    series: Series, picture: EvidencePicture, x: Scale, top: float, left: float, font: int
) -> tuple[list[str], float]:
    """Draw one series; return its pieces and where it ends."""
    title = f"{series.name}, {series.unit}" if series.unit else f"{series.name} by {picture.x_name or 'name'}"
    parts = [svg_text(2, top + TITLE * 0.6, title, look="soft")]
    y = top + TITLE
    zero = x(0.0)
    rows = list(zip(series.x, series.y, strict=True))
    levels = [number(mark.start) for mark in picture.marks if mark.kind == "level"]
    for place, (name, value) in enumerate(rows):
        if str(name) == "sum":
            y += 8
            parts.append(f'<line class="grid" x1="2" x2="{x.end:.1f}" y1="{y - 4:.1f}" y2="{y - 4:.1f}"/>')
        parts.append(svg_text(left - 6, y + ROW * 0.62, str(name), anchor="end"))
        if value is not None:
            parts += _bar(value, x, zero, y)
            if series.low:
                ends = f'x1="{x(series.low[place]):.1f}" x2="{x(series.high[place]):.1f}"'
                parts.append(f'<line class="noise" {ends} y1="{y + ROW / 2:.1f}" y2="{y + ROW / 2:.1f}"/>')
            parts.append(_figure(value, series, place, x, y))
        y += ROW
    parts.append(f'<line class="zero" x1="{zero:.1f}" x2="{zero:.1f}" y1="{top + TITLE - 4}" y2="{y:.1f}"/>')
    parts += [
        f'<line class="level" x1="{x(at):.1f}" x2="{x(at):.1f}" y1="{top + TITLE - 4}" y2="{y:.1f}"/>' for at in levels
    ]
    return parts, y + 6


def _bar(value: float, x: Scale, zero: float, y: float) -> list[str]:
    end = x(value)
    begin, width = min(zero, end), max(abs(end - zero), 0.8)
    look = "bar" if value >= 0 else "bar open"
    return [f'<rect class="{look}" x="{begin:.1f}" y="{y + 4:.1f}" width="{width:.1f}" height="{ROW - 8}"/>']


def _figure(value: float, series: Series, place: int, x: Scale, y: float) -> str:
    """Print the figure beyond the bar's end, on the side it points to; a plus where both signs are met."""
    signed = any(each is not None and each < 0 for each in series.y)
    words = signed_text(value) if signed else figure_text(value)
    reach = max(x(value), x(series.high[place])) if series.high else x(value)
    if value < 0:
        return svg_text(x(value) - 5, y + ROW * 0.62, words, anchor="end")
    return svg_text(reach + 5, y + ROW * 0.62, words)
