"""The chart behind one finding: dial as points, index as a line, wet hours as bands, the change as a hairline."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any, Final

from dialtrue.domain.watch_result import PortTrace
from dialtrue.domain.words import day_text
from dialtrue.files.palette import LIGHT

INK: Final = LIGHT["ink"]
RULE: Final = LIGHT["rule"]
WATER: Final = LIGHT["water"]
VISIT: Final = LIGHT["visit"]
WET: Final = "#cfdde2"
SOURCES: Final = {"fitter": "fitter", "reader": "reader", "customer": "customer", "photo": "photograph"}

POINTS_DRAWN: Final = 400
"""Vertices of the index line; more cannot be seen at this width and would only swell the file."""

_WIDE: Final = (720, 240, 13)
_NARROW: Final = (310, 220, 12)


def thinned(
    at: tuple[dt.datetime, ...], volume: tuple[float, ...], *, most: int = POINTS_DRAWN
) -> list[tuple[dt.datetime, float]]:
    """Keep at most about ``most`` points of a series: from each stretch its first, least and greatest, and the last.

    A jump or a fall shorter than a stretch therefore stays visible.
    """
    count = len(at)
    if count <= most:
        return list(zip(at, volume, strict=True))
    stretch = -(-count * 3 // most)
    kept: set[int] = {count - 1}
    for begin in range(0, count, stretch):
        span = range(begin, min(begin + stretch, count))
        kept.update((begin, min(span, key=volume.__getitem__), max(span, key=volume.__getitem__)))
    return [(at[place], volume[place]) for place in sorted(kept)]


def _stamp(at: dt.datetime) -> str:
    return at.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def chart_spec(trace: PortTrace, *, width: int, height: int, font: int) -> dict[str, Any] | None:
    """Return the Vega-Lite drawing of a trace, or None if there is neither an index nor a dial to draw."""
    line = thinned(trace.index_at, trace.index_volume)
    dial = [point for point in trace.dial_points if point.dial_volume is not None]
    if not line and not dial:
        return None
    layers: list[dict[str, Any]] = []
    times = [at for at, _ in line] + [point.at for point in dial]
    begin, end = min(times), max(times)
    if end <= begin:
        end = begin + dt.timedelta(days=1)
    x_scale = {"type": "utc", "domain": [_stamp(begin), _stamp(end)], "nice": False}
    x = {
        "field": "at",
        "type": "temporal",
        "scale": x_scale,
        "title": None,
        "axis": {"grid": False, "tickCount": 5, "format": "%-d %b"},
    }
    y = {
        "field": "volume",
        "type": "quantitative",
        "title": None,
        "axis": {"tickCount": 5, "format": ",~f", "domain": False, "ticks": False, "gridColor": RULE},
    }
    wet = [
        {"at": _stamp(max(a, begin)), "to": _stamp(min(b, end))} for a, b in trace.wet_spans if b > begin and a < end
    ]
    if wet:
        layers.append(_band(wet, x, WET, opacity=0.55))
    if trace.since_low is not None and trace.since_high is not None and trace.since_high > begin:
        span = {"at": _stamp(max(trace.since_low, begin)), "to": _stamp(min(trace.since_high, end))}
        layers.append(_band([span], x, VISIT, opacity=0.12))
    if trace.since is not None and begin <= trace.since <= end:
        layers.append(
            {
                "data": {"values": [{"at": _stamp(trace.since)}]},
                "mark": {"type": "rule", "color": VISIT, "strokeWidth": 1},
                "encoding": {"x": x},
            }
        )
    if line:
        layers.append(
            _marks(line, x, y, {"type": "line", "color": WATER, "strokeWidth": 1.75, "interpolate": "linear"})
        )
    seen = [(point.at, point.dial_volume) for point in dial if point.dial_volume is not None]
    if seen:
        layers.append(_marks(seen, x, y, {"type": "point", "filled": True, "size": 55, "color": INK, "opacity": 1}))
    layers += _labels(line, seen, trace.since, x, y, font)
    return {
        "$schema": "",
        "width": width,
        "height": height,
        "background": None,
        "padding": {"left": 4, "right": 4, "top": 14, "bottom": 4},
        "autosize": {"type": "fit", "contains": "padding"},
        "layer": layers,
        "config": {
            "font": "sans-serif",
            "view": {"stroke": None},
            "axis": {
                "labelColor": INK,
                "labelFontSize": font,
                "tickColor": RULE,
                "domainColor": RULE,
                "labelFlush": True,
            },
        },
    }


def _band(values: list[dict[str, str]], x: dict[str, Any], color: str, *, opacity: float) -> dict[str, Any]:
    """Shade spans of time over the full height."""
    return {
        "data": {"values": values},
        "mark": {"type": "rect", "color": color, "opacity": opacity},
        "encoding": {"x": x, "x2": {"field": "to"}},
    }


def _marks(
    series: list[tuple[dt.datetime, float]], x: dict[str, Any], y: dict[str, Any], mark: dict[str, Any]
) -> dict[str, Any]:
    """Draw a series with one kind of mark."""
    values = [{"at": _stamp(at), "volume": volume} for at, volume in series]
    return {"data": {"values": values}, "mark": mark, "encoding": {"x": x, "y": y}}


def _labels(
    line: list[tuple[dt.datetime, float]],
    dial: list[tuple[dt.datetime, float]],
    since: dt.datetime | None,
    x: dict[str, Any],
    y: dict[str, Any],
    font: int,
) -> list[dict[str, Any]]:
    """Name each series where it ends, instead of a legend; where the two ends meet, one label names both."""
    texts = _names(line, dial)
    times = [at for at, _ in (*line, *dial)]
    early = min(times) + (max(times) - min(times)) / 4
    layers: list[dict[str, Any]] = [
        {
            "data": {"values": [{"at": _stamp(at), "volume": volume, "text": text}]},
            "mark": {
                "type": "text",
                "align": "left" if at < early else "right",
                "dx": 8 if at < early else -3,
                "dy": dy,
                "color": color,
                "fontSize": font + 1,
            },
            "encoding": {"x": x, "y": y, "text": {"field": "text"}},
        }
        for at, volume, text, color, dy in texts
    ]
    if since is not None and min(times) <= since <= max(times):
        left = (since - min(times)) > 0.7 * (max(times) - min(times))
        layers.append(
            {
                "data": {"values": [{"at": _stamp(since), "text": f"since {day_text(since)}"}]},
                "mark": {
                    "type": "text", "align": "right" if left else "left", "dx": -5 if left else 5, "baseline": "bottom",
                    "dy": -1, "color": VISIT, "fontSize": font,
                },
                "encoding": {"x": x, "y": {"value": 0}, "text": {"field": "text"}},
            }
        )  # fmt: skip
    return layers


def _names(
    line: list[tuple[dt.datetime, float]], dial: list[tuple[dt.datetime, float]]
) -> list[tuple[dt.datetime, float, str, str, int]]:
    """Say where each series is named: place, words, colour, and how far above (negative) or below in pixels."""
    if not line or not dial:
        at, volume = (line or dial)[-1]
        return [(at, volume, "index", WATER, -9) if line else (at, volume, "dial", INK, -11)]
    volumes = [volume for _, volume in (*line, *dial)]
    height = (max(volumes) - min(volumes)) or 1.0
    (dial_at, dial_volume), (line_at, line_volume) = dial[-1], line[-1]
    apart = abs(line_at - dial_at) > 0.15 * (max(line_at, dial_at) - min(line[0][0], dial[0][0]))
    gap = (dial_volume - line_volume) / height
    if not apart and abs(gap) < 0.09:
        return [(dial_at, max(dial_volume, line_volume), "dial and index", INK, -11)]
    low = (line_volume - min(volumes)) / height < 0.12
    beneath = gap > 0 and not apart and not low
    return [
        (dial_at, dial_volume, "dial", INK, 13 if gap < 0 and dial_volume > min(volumes) + 0.12 * height else -11),
        (line_at, line_volume, "index", WATER, 14 if beneath else -9),
    ]


def charts_available() -> bool:
    """Say whether the package that draws charts is installed."""
    from importlib.util import find_spec

    return find_spec("vl_convert") is not None


def chart_svgs(trace: PortTrace) -> tuple[str, str] | None:
    """Draw a trace twice, for a desk and for a phone; None if nothing can be drawn or the drawing package is absent."""
    if not charts_available():
        return None
    import vl_convert

    drawn = []
    for width, height, font in (_WIDE, _NARROW):
        spec = chart_spec(trace, width=width, height=height, font=font)
        if spec is None:
            return None
        spec.pop("$schema")
        drawn.append(_bare(vl_convert.vegalite_to_svg(spec)))
    return drawn[0], drawn[1]


def _bare(svg: str) -> str:
    """Strip what an inline picture must not carry: fixed size, name spaces, labels of its parts."""
    box = re.search(r'viewBox="([^"]*)"', svg)
    inner = svg[svg.index(">") + 1 :]
    inner = re.sub(r' (?:aria-[a-z]+|role|pointer-events|class)="[^"]*"', "", inner)
    return f'<svg viewBox="{box.group(1) if box else "0 0 720 240"}">{inner}'
