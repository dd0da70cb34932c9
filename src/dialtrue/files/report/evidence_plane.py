"""Draw series over time or numbers: lines, points, bands, levels, moments, each named where it stands."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Final

from dialtrue.domain.evidence_picture import EvidencePicture, Mark, Series
from dialtrue.domain.words import day_text
from dialtrue.files.report.evidence_axes import (
    LETTER,
    Scale,
    figure_text,
    number,
    round_ticks,
    spread_labels,
    time_ticks,
    value_range,
)
from dialtrue.files.report.markup import svg_text

POINTS_DRAWN: Final = 400
"""Points of a line that are drawn at most; more cannot be told apart."""
LEFT, RIGHT = 58.0, 132.0
"""Least margins on a desk, wide enough for most figures and names. [px]"""
LOOKS: Final = ("first", "second", "third")


def draw_plane(picture: EvidencePicture, width: int, height: int, font: int) -> tuple[str, float]:
    """Draw series over time or numbers; return the drawing and its height."""
    low, high = value_range(picture)
    y_ticks = round_ticks(low, high, about=4)
    beside = width > 500
    left = font * LETTER * max(len(figure_text(tick)) for tick in y_ticks) + 10
    named = [f"{series.name}" for series in picture.series]
    right = font * LETTER * max(map(len, named)) + 16
    # Pictures of one port share their time axis: the same margins keep their days below each other.
    left, right = (max(left, LEFT), max(right, RIGHT)) if beside else (left, 8.0)
    top = font + 8 if beside else (font + 5) * len(named) + font + 8
    x_values = [number(x) for series in picture.series for x in series.x] + [number(x) for x in picture.span or ()]
    begin, end = min(x_values), max(x_values)
    end = end if end > begin else begin + 86_400
    x, y = Scale(begin, end, left, width - right), Scale(low, high, height - font - 12, top)
    unit = next((series.unit for series in picture.series if series.unit), "")
    parts = [_bands(picture.marks, x, y)]
    for tick in y_ticks:
        look = "zero" if tick == 0 else "grid"
        parts.append(f'<line class="{look}" x1="{left:.1f}" x2="{x.end:.1f}" y1="{y(tick):.1f}" y2="{y(tick):.1f}"/>')
        parts.append(svg_text(left - 6, y(tick) + font * 0.35, figure_text(tick), anchor="end"))
    parts.append(svg_text(2, font, unit, look="soft"))
    parts += _x_axis(picture, x, y, font, about=6 if beside else 3)
    looks = _looks(picture)
    parts += [_series(series, look, picture.kind, x, y) for series, look in zip(picture.series, looks, strict=True)]
    parts += _marks(picture.marks, x, y, font)
    ends = [_last(series, y) for series in picture.series]
    if beside:
        for name, at in zip(named, spread_labels(ends, apart=font + 2, top=top, bottom=y.begin), strict=True):
            parts.append(svg_text(x.end + 8, at + font * 0.35, name))
        links = zip(ends, spread_labels(ends, apart=font + 2, top=top, bottom=y.begin), strict=True)
        parts += [
            f'<line class="grid" x1="{x.end:.1f}" x2="{x.end + 6:.1f}" y1="{at:.1f}" y2="{label:.1f}"/>'
            for at, label in links
        ]
    else:
        for place, (series, name) in enumerate(zip(picture.series, named, strict=True)):
            row = (font + 5) * (place + 1) + font * 0.7
            parts.append(_sample(series, looks[place], picture.kind, 2, row - font * 0.35))
            parts.append(svg_text(34, row, name))
    return "".join(parts), float(height)


def _x_axis(picture: EvidencePicture, x: Scale, y: Scale, font: int, *, about: int) -> list[str]:
    """Draw the axis below: days or numbers."""
    moments = isinstance(next((place for series in picture.series for place in series.x), None), dt.datetime)
    ticks = (
        time_ticks(x.low, x.high, about=about)
        if moments
        else [(tick, figure_text(tick)) for tick in round_ticks(x.low, x.high, about=about)]
    )
    base = y.begin + font + 6
    parts = [f'<line class="grid" x1="{x.begin:.1f}" x2="{x.end:.1f}" y1="{y.begin:.1f}" y2="{y.begin:.1f}"/>']
    for at, words in ticks:
        half = font * LETTER * len(words) / 2
        place = min(max(x(at), half), x.end - half + 8)
        parts.append(
            f'<line class="grid" x1="{x(at):.1f}" x2="{x(at):.1f}" y1="{y.begin:.1f}" y2="{y.begin + 4:.1f}"/>'
        )
        parts.append(svg_text(place, base, words, anchor="middle"))
    if picture.x_name:
        parts.append(svg_text(x.end, y.begin - 5, picture.x_name, anchor="end", look="soft"))
    return parts


def _bands(marks: Sequence[Mark], x: Scale, y: Scale) -> str:
    """Shade wet hours, frame other spans, hatch the interval of the onset: the three differ without colour."""
    parts = []
    for mark in marks:
        if mark.kind != "band" or mark.end is None:
            continue
        begin, end = x(number(mark.start)), x(number(mark.end))
        if mark.role == "onset":
            steps = max(1, round((y.begin - y.end) / 9))
            lines = "".join(
                f"M{begin:.1f} {y.begin - 9 * k:.1f}H{max(end, begin + 2):.1f}" for k in range(1, steps + 1)
            )
            parts.append(f'<path class="onset hatch" d="{lines}"/>')
        elif end > begin:
            look = "wet" if mark.role == "wet" else "span"
            box = f'x="{begin:.1f}" width="{max(end - begin, 0.6):.1f}" y="{y.end:.1f}" height="{y.begin - y.end:.1f}"'
            parts.append(f'<rect class="{look}" {box}/>')
    return "".join(parts)


def _marks(marks: Sequence[Mark], x: Scale, y: Scale, font: int) -> list[str]:
    """Draw levels and moments with their names."""
    parts = []
    for mark in marks:
        at = number(mark.start)
        if mark.kind == "level" and at != 0:
            parts.append(f'<line class="level" x1="{x.begin:.1f}" x2="{x.end:.1f}" y1="{y(at):.1f}" y2="{y(at):.1f}"/>')
            parts.append(svg_text(x.end - 4, y(at) - 4, mark.name, anchor="end", look="soft"))
        elif mark.kind == "moment" and x.low <= at <= x.high:
            late = x(at) > x.begin + 0.7 * (x.end - x.begin)
            words = f"{mark.name} {day_text(mark.start)}" if isinstance(mark.start, dt.datetime) else mark.name
            parts.append(f'<line class="onset" x1="{x(at):.1f}" x2="{x(at):.1f}" y1="{y.end:.1f}" y2="{y.begin:.1f}"/>')
            place = x(at) - 5 if late else x(at) + 5
            parts.append(
                svg_text(place, y.end + font * 0.4, words, anchor="end" if late else "start", look="onset-name")
            )
    return parts


def _last(series: Series, y: Scale) -> float:
    """Where a series ends, in pixels; its label stands there."""
    known = [value for value in series.y if value is not None]
    return y(known[-1]) if known else y.begin


def _looks(picture: EvidencePicture) -> list[str]:
    """Give each line a dash of its own and each row of points a shape of its own."""
    met = {"line": 0, "points": 0}
    looks = []
    for series in picture.series:
        kind = "points" if (series.kind or picture.kind) == "points" else "line"
        looks.append(LOOKS[met[kind] % len(LOOKS)])
        met[kind] += 1
    return looks


def _series(series: Series, look: str, kind: str, x: Scale, y: Scale) -> str:
    """Draw one series as a line or as points."""
    spots = [(x(number(at)), None if value is None else y(value)) for at, value in zip(series.x, series.y, strict=True)]
    drawn = series.kind or kind
    if drawn == "bars":
        stems = "".join(f"M{px:.1f} {y(0.0):.1f}V{py:.1f}" for px, py in spots if py is not None)
        width = min(max(0.7 * (x.end - x.begin) / max(len(spots), 1), 1.0), 12.0)
        return f'<path class="stems" stroke-width="{width:.1f}" d="{stems}"/>'
    if drawn != "points":
        return f'<path class="line {look}" d="{_path(_thinned(spots))}"/>'
    parts = []
    for spot, (px, py) in enumerate(spots):
        if py is None:
            continue
        if series.low:
            ends = f'y1="{y(series.low[spot]):.1f}" y2="{y(series.high[spot]):.1f}"'
            parts.append(f'<line class="noise" x1="{px:.1f}" x2="{px:.1f}" {ends}/>')
        parts.append(_point(px, py, look))
    return "".join(parts)


def _point(px: float, py: float, look: str) -> str:
    """A disc, an open square or a triangle."""
    if look == "first":
        return f'<circle class="point" cx="{px:.1f}" cy="{py:.1f}" r="3.6"/>'
    if look == "second":
        return f'<rect class="point open" x="{px - 3.6:.1f}" y="{py - 3.6:.1f}" width="7.2" height="7.2"/>'
    return f'<path class="point" d="M{px:.1f} {py - 4.6:.1f}l4.4 8h-8.8z"/>'


def _sample(series: Series, look: str, kind: str, left: float, at: float) -> str:
    """A short piece of a series before its name."""
    if (series.kind or kind) == "points":
        return _point(left + 12, at, look)
    return f'<path class="line {look}" d="M{left:.1f} {at:.1f}h24"/>'


def _thinned(spots: list[tuple[float, float | None]]) -> list[tuple[float, float | None]]:
    """Keep of each stretch its first, least and greatest, so that no jump is lost."""
    if len(spots) <= POINTS_DRAWN:
        return spots
    stretch = -(-len(spots) * 3 // POINTS_DRAWN)
    kept: set[int] = {len(spots) - 1}
    for begin in range(0, len(spots), stretch):
        span = range(begin, min(begin + stretch, len(spots)))
        heights = {at: value for at in span if (value := spots[at][1]) is not None}
        kept.update((begin, *(choose(heights, key=heights.__getitem__) for choose in (min, max) if heights)))
    return [spots[at] for at in sorted(kept)]


def _path(spots: Sequence[tuple[float, float | None]]) -> str:
    """Join spots by straight lines, broken where a value is not known."""
    path, pen = [], "M"
    for px, py in spots:
        if py is None:
            pen = "M"
            continue
        path.append(f"{pen}{px:.1f} {py:.1f}")
        pen = "L"
    return "".join(path)
