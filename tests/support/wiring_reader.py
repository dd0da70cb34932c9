"""An independent reader of the wiring picture: it knows SVG and the attributes, nothing of the code that draws."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from xml.etree import ElementTree

SVG = "{http://www.w3.org/2000/svg}"
WIDEST = 0.62
TALL, DEEP = 0.73, 0.22
"""Height above and below the base line, as shares of the type size."""

Box = tuple[float, float, float, float]
Point = tuple[float, float]


@dataclass
class DrawnWire:
    """A wire as drawn."""

    ends: tuple[str, ...]
    colour: str
    points: list[Point]
    strokes: list[str]


@dataclass
class DrawnJoint:
    """A splice, terminal, cap or cut-back end as drawn."""

    kind: str
    at: str
    ends: tuple[str, ...]
    box: Box


@dataclass
class DrawnRun:
    """One register and its port as drawn."""

    role: str
    port: int
    loop: str
    wires: list[DrawnWire] = field(default_factory=list)
    joints: list[DrawnJoint] = field(default_factory=list)


@dataclass
class Drawing:
    """The whole picture."""

    title: str
    description: str
    width: float
    height: float
    runs: list[DrawnRun]
    texts: list[tuple[str, Box]]


def read_drawing(svg: str) -> Drawing:
    """Read a picture back; raises where it is not well formed."""
    root = ElementTree.fromstring(svg)
    left, top, width, height = (float(part) for part in root.get("viewBox", "").split())
    assert (left, top) == (0.0, 0.0)
    runs = []
    for group in root.iter(f"{SVG}g"):
        if "data-role" not in group.attrib:
            continue
        run = DrawnRun(group.attrib["data-role"], int(group.attrib["data-port"]), group.attrib["data-loop"])
        for part in group.iter(f"{SVG}g"):
            if "data-wire" in part.attrib:
                paths = part.findall(f"{SVG}path")
                points = _points(paths[0].attrib["d"])
                strokes = [path.attrib["stroke"] for path in paths]
                run.wires.append(
                    DrawnWire(tuple(part.attrib["data-wire"].split()), part.attrib["data-colour"], points, strokes)
                )
            elif "data-joint" in part.attrib:
                shape = part.find(f"{SVG}rect")
                assert shape is not None
                x, y, w, h = (float(shape.attrib[name]) for name in ("x", "y", "width", "height"))
                ends = tuple(part.attrib["data-ends"].split())
                run.joints.append(
                    DrawnJoint(part.attrib["data-joint"], part.attrib["data-at"], ends, (x, y, x + w, y + h))
                )
        runs.append(run)
    texts = [(element.text or "", _box(element)) for element in root.iter(f"{SVG}text")]
    title, description = root.findtext(f"{SVG}title") or "", root.findtext(f"{SVG}desc") or ""
    return Drawing(title, description, width, height, runs, texts)


def _points(path: str) -> list[Point]:
    """Return the points of a path of straight lines."""
    numbers = [float(number) for number in re.findall(r"-?[0-9.]+", path)]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def _box(element: ElementTree.Element) -> Box:
    """Return the room that a text takes at most."""
    size, words = float(element.attrib["font-size"]), element.text or ""
    x, y, width = float(element.attrib["x"]), float(element.attrib["y"]), WIDEST * size * len(words)
    left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[element.get("text-anchor", "start")] * width
    return left, y - TALL * size, left + width, y + DEEP * size


def touches(one: Box, other: Box, slack: float = 0.01) -> bool:
    """Return whether two boxes share room."""
    return (
        one[0] < other[2] - slack
        and other[0] < one[2] - slack
        and one[1] < other[3] - slack
        and other[1] < one[3] - slack
    )


def stroke_boxes(wire: DrawnWire, half: float = 1.1) -> list[Box]:
    """Return the room of each straight piece of a wire, as thick as it is drawn."""
    found = []
    for (x1, y1), (x2, y2) in zip(wire.points, wire.points[1:], strict=False):
        flat = y1 == y2
        dx, dy = (0.0, half) if flat else (half, 0.0)
        found.append((min(x1, x2) - dx, min(y1, y2) - dy, max(x1, x2) + dx, max(y1, y2) + dy))
    return found


def joined_by_place(run: DrawnRun) -> dict[tuple[str, str, frozenset[str]], int]:
    """Return what each joint holds by where wire ends stand, its terminals left out, with how often."""
    found: dict[tuple[str, str, frozenset[str]], int] = {}
    for joint in run.joints:
        held = set()
        for wire in run.wires:
            places = [wire.points[-1]] if len(wire.ends) == 1 else [wire.points[0], wire.points[-1]]
            held |= {end for end, place in zip(wire.ends, places, strict=True) if _inside(place, joint.box)}
        key = (joint.kind, joint.at, frozenset(held))
        found[key] = found.get(key, 0) + 1
    return found


def _inside(point: Point, box: Box, slack: float = 0.01) -> bool:
    """Return whether a point lies in or on a box."""
    return box[0] - slack <= point[0] <= box[2] + slack and box[1] - slack <= point[1] <= box[3] + slack


class Net:
    """A plain graph of wire ends; its search knows nothing of wiring."""

    def __init__(self, links: Iterable[Iterable[str]]) -> None:
        self.near: dict[str, set[str]] = {}
        for link in links:
            group = set(link)
            for end in group:
                self.near.setdefault(end, set()).update(group - {end})

    def reach(self, start: str) -> set[str]:
        """Return everything joined to an end."""
        seen, waiting = {start}, [start]
        while waiting:
            for end in self.near.get(waiting.pop(), set()) - seen:
                seen.add(end)
                waiting.append(end)
        return seen


def links_of(run: DrawnRun, *, cut: str = "", closed: tuple[str, str] | None = None) -> list[tuple[str, ...]]:
    """Return what conducts in a drawing: wires end to end, and joints; a wire may be cut, the contact closed."""
    links: list[tuple[str, ...]] = [
        wire.ends for wire in run.wires if not (cut and wire.ends[0].partition("@")[0] == cut)
    ]
    links += [joint.ends for joint in run.joints]
    return [*links, closed] if closed else links
