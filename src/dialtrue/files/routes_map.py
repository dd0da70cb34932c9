"""The map of one crew's day as an inline drawing: stops as numbered points, the order as a line, no tiles."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from dialtrue.domain.routing.day_shape import Place
from dialtrue.domain.routing.route_words import date_text, day_text
from dialtrue.domain.routing.routes_result import RouteDay, RoutesAnswer
from dialtrue.domain.routing.travel import KM_PER_MILE, distance_text, straight_km
from dialtrue.domain.words import counted
from dialtrue.files.report.markup import safe, svg_text

SIDE: Final = 340.0
_MARGIN: Final = 28.0
_FOOT: Final = 30.0
_FAR_DEPOT: Final = 1.6
"""Above this factor the depot would shrink the map too much and is drawn at its edge. [-] Our assumption."""

_TOGETHER_PX: Final = 11.0
_LETTER_PX: Final = 6.4
_BARS_KM: Final = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0)
_BARS_MI: Final = (0.05, 0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 300.0)

MAP_STYLE: Final = """
.map{display:block;width:100%;height:auto;max-width:560px}
.map .frame{fill:none;stroke:var(--rule)}
.map .way{fill:none;stroke:var(--water);stroke-width:2;stroke-linejoin:round}
.map .home{stroke-dasharray:2 5}
.map .head{fill:var(--water)}
.map .dot{fill:var(--ink)}
.map .depot{fill:var(--paper);stroke:var(--ink);stroke-width:2}
.map .lead{stroke:var(--soft);stroke-width:.75}
.map .tag{fill:var(--paper);stroke:var(--rule)}
.map text{fill:var(--ink);font:600 11px var(--sans);font-variant-numeric:tabular-nums}
.map .note{font-weight:400;fill:var(--soft)}
.map .bar{stroke:var(--ink);stroke-width:1.5;fill:none}
.map .north{fill:var(--ink)}
"""

_Point = tuple[float, float]
_Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class _View:
    """From degrees to the drawing: a flat map around the middle, north up."""

    middle: Place
    px_per_km: float
    height: float

    def point(self, place: Place) -> _Point:
        """Return where a place lies in the drawing."""
        east_km, north_km = _offset_km(self.middle, place)
        return SIDE / 2 + east_km * self.px_per_km, self.height / 2 - north_km * self.px_per_km


def route_map(answer: RoutesAnswer, day: RouteDay, *, identity: str) -> str:
    """Draw one crew's day.

    Parameters
    ----------
    answer : RoutesAnswer
        For the visits and the system of units.
    day : RouteDay
        With one stop at least.
    identity : str
        Distinct on the page; names title and description.

    Returns
    -------
    str
        An ``svg`` element with a title and a description; the list beside it says the same in words.

    Raises
    ------
    Never raises.

    Source
    ------
    Our own drawing. Lines are straight between stops: no roads are known.
    """
    places = [answer.place_of(stop.visit) for stop in day.times.stops]
    depot = day.times.crew.depot
    view, with_depot = _view(places, depot)
    points = [view.point(place) for place in places]
    home = view.point(depot) if with_depot else _at_edge(view, view.point(depot))
    parts = [
        f'<clipPath id="{identity}-c"><rect width="{SIDE:.0f}" height="{view.height:.0f}"/></clipPath>',
        f'<rect class="frame" x=".5" y=".5" width="{SIDE - 1:.0f}" height="{view.height - 1:.0f}"/>',
        f'<g clip-path="url(#{identity}-c)">',
        _line([points[-1], home], "way home"),
        _line([home, *points], "way"),
        *(_arrow(a, b) for a, b in pairwise([home, *points])),
        *(f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="3"/>' for x, y in points),
        "</g>",
        _depot(home),
    ]
    taken = [(home[0] - 9, home[1] - 9, home[0] + 9, home[1] + 9)]
    if not with_depot:
        away = distance_text(straight_km(depot, view.middle), system=answer.system)
        x = min(max(home[0], 52.0), SIDE - 52.0)
        y = home[1] - 14 if home[1] > view.height / 2 else home[1] + 22
        parts.append(svg_text(x, y, f"depot, {away}", anchor="middle", look="note"))
        taken.append((x - 50, y - 12, x + 50, y + 4))
    parts += _tags(points, taken, view.height)
    parts.append(_scale_bar(view, answer.system))
    parts.append(_north())
    east, north = _spans_km(places)
    title = f"Map of {day.times.crew.name}, {date_text(day.times.day)}"
    wide = " by ".join(distance_text(span, system=answer.system) for span in (east, north))
    words = (
        f"{day_text(answer, day)}. {counted(len(places), 'numbered point')} over {wide}, joined in the order of the "
        "visits by straight lines from the depot and back. The table of this day lists the same stops."
    )
    return (
        f'<svg class="map" viewBox="0 0 {SIDE:.0f} {view.height + _FOOT:.0f}" role="img" '
        f'aria-labelledby="{identity}-n {identity}-d"><title id="{identity}-n">{safe(title)}</title>'
        f'<desc id="{identity}-d">{safe(words)}</desc>{"".join(parts)}</svg>'
    )


def _offset_km(middle: Place, place: Place) -> _Point:
    """Return how far east and north a place lies. [km] A sphere's tangent serves a town."""
    degree_km = 111.195
    east = (place[1] - middle[1] + 180) % 360 - 180
    return east * degree_km * math.cos(math.radians(middle[0])), (place[0] - middle[0]) * degree_km


def _spans_km(places: Sequence[Place]) -> _Point:
    offsets = [_offset_km(places[0], place) for place in places]
    return tuple(max(o[axis] for o in offsets) - min(o[axis] for o in offsets) for axis in (0, 1))  # type: ignore[return-value]


def _view(places: Sequence[Place], depot: Place) -> tuple[_View, bool]:
    """Fit the stops, and the depot where it does not shrink them too much."""
    near, all_of = _span_km(places), _span_km([*places, depot])
    with_depot = all_of <= max(_FAR_DEPOT * near, 0.3)
    shown = [*places, depot] if with_depot else list(places)
    lat = [place[0] for place in shown]
    lon = [(place[1] - places[0][1] + 180) % 360 - 180 + places[0][1] for place in shown]
    middle = ((min(lat) + max(lat)) / 2, (min(lon) + max(lon)) / 2)
    east, north = _spans_km(shown)
    height = SIDE * min(1.0, max(0.62, (north + 1e-6) / (east + 1e-6)))
    scale = min((SIDE - 2 * _MARGIN) / max(east, 0.05), (height - 2 * _MARGIN) / max(north, 0.05))
    return _View(middle, scale, height), with_depot


def _span_km(places: Sequence[Place]) -> float:
    return max(_spans_km(places))


def _at_edge(view: _View, point: _Point) -> _Point:
    """Move a point outside the map to its edge, in the same direction from the middle."""
    x, y = point[0] - SIDE / 2, point[1] - view.height / 2
    shrink = min((SIDE / 2 - 12) / max(abs(x), 1e-9), (view.height / 2 - 12) / max(abs(y), 1e-9), 1.0)
    return SIDE / 2 + x * shrink, view.height / 2 + y * shrink


def _line(points: Sequence[_Point], look: str) -> str:
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polyline class="{look}" points="{path}"/>'


def _arrow(start: _Point, end: _Point) -> str:
    """Draw the direction in the middle of a drive that is long enough to carry it."""
    x, y = end[0] - start[0], end[1] - start[1]
    length = math.hypot(x, y)
    if length < 36:
        return ""
    x, y = x / length, y / length
    mx, my = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    corners = ((5 * x, 5 * y), (-4 * x - 4 * y, -4 * y + 4 * x), (-4 * x + 4 * y, -4 * y - 4 * x))
    return '<path class="head" d="M' + "L".join(f"{mx + a:.1f} {my + b:.1f}" for a, b in corners) + 'z"/>'


def _depot(point: _Point) -> str:
    x, y = point
    return f'<rect class="depot" x="{x - 6:.1f}" y="{y - 6:.1f}" width="12" height="12"/>'


def _tags(points: Sequence[_Point], taken: list[_Box], height: float) -> list[str]:
    """Set the numbers beside their points so that none covers another; neighbours in the order share one."""
    dots = [(x - 3.5, y - 3.5, x + 3.5, y + 3.5) for x, y in points]
    parts = []
    for first, last in _runs(points):
        word = str(first + 1) if first == last else f"{first + 1}\N{EN DASH}{last + 1}"
        width = _LETTER_PX * len(word) + 8
        middle = points[(first + last) // 2]
        box = _free_box(middle, width, [*taken, *dots], taken, height)
        taken.append(box)
        cx, cy = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
        parts.append(
            f'<line class="lead" x1="{middle[0]:.1f}" y1="{middle[1]:.1f}" x2="{cx:.1f}" y2="{cy:.1f}"/>'
            f'<rect class="tag" x="{box[0]:.1f}" y="{box[1]:.1f}" width="{width:.1f}" height="16" rx="3"/>'
            + svg_text(cx, cy + 4.2, word, anchor="middle")
        )
    return parts


def _runs(points: Sequence[_Point]) -> list[tuple[int, int]]:
    """Join stops that follow each other within a few pixels."""
    runs: list[tuple[int, int]] = []
    for k, point in enumerate(points):
        if runs and math.dist(points[runs[-1][0]], point) < _TOGETHER_PX:
            runs[-1] = (runs[-1][0], k)
        else:
            runs.append((k, k))
    return runs


def _free_box(point: _Point, width: float, dots: Sequence[_Box], tags: Sequence[_Box], height: float) -> _Box:
    """Return the place near a point where a tag covers least."""
    best: tuple[float, _Box] | None = None
    for radius in (14.0, 20.0, 28.0, 38.0, 52.0, 70.0):
        for step in range(16):
            angle = 2 * math.pi * (step / 16 + 1 / 8)
            x = point[0] + (radius + width / 2 - 8) * math.cos(angle)
            y = point[1] - radius * math.sin(angle)
            box = (x - width / 2, y - 8, x + width / 2, y + 8)
            outside = max(0.0, 2 - box[0], box[2] - SIDE + 2, 2 - box[1], box[3] - height + 2)
            cost = radius / 4 + 40 * outside
            cost += sum(_overlap(box, other) for other in dots) / 6 + sum(_overlap(box, other) for other in tags)
            if best is None or cost < best[0]:
                best = (cost, box)
    return best[1] if best is not None else (0.0, 0.0, width, 16.0)


def _overlap(one: _Box, other: _Box) -> float:
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    return wide * high if wide > 0 and high > 0 else 0.0


def _scale_bar(view: _View, system: str) -> str:
    """Draw the longest round length that is at most a third of the width."""
    unit_km, lengths, unit = (KM_PER_MILE, _BARS_MI, "mi") if system == "us" else (1.0, _BARS_KM, "km")
    fitting = [length for length in lengths if length * unit_km * view.px_per_km <= SIDE / 3]
    length = fitting[-1] if fitting else lengths[0]
    width = length * unit_km * view.px_per_km
    y = view.height + 16
    return f'<path class="bar" d="M8 {y - 5:.1f}v5h{width:.1f}v-5"/>' + svg_text(
        14 + width, y + 1, f"{length:g} {unit}", look="note"
    )


def _north() -> str:
    """Draw the arrow that points north, up."""
    return f'<path class="north" d="M{SIDE - 18:.0f} 12l5 16-5-4-5 4z"/>' + svg_text(
        SIDE - 18, 42, "N", anchor="middle"
    )
