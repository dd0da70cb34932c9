"""Marks of the wiring picture: text, wires, splices, caps, terminals, and the three little pictures of practice.

Every mark carries its own attributes, for a reader that knows neither style sheets nor custom properties.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape
from typing import Final, Literal

from dialtrue.files.palette import LIGHT, WIRES

INK: Final = LIGHT["ink"]
RULE: Final = LIGHT["rule"]
PAPER: Final = "#ffffff"
"""White, not the page's paper: a white conductor must look white."""
FONTS: Final = "Liberation Sans, Arial, Helvetica, DejaVu Sans, sans-serif"
CHARACTER: Final = 0.62
"""Width that a character takes at most, as a share of the type size, in the usual sans and monospaced faces and in
bold. Our assumption: measured on two free families, 0.44 to 0.60."""
PATTERNS: Final = ("", "3.2 1.6", "0.9 1.6", "3.2 1.4 0.9 1.4")
"""Dashes along a conductor, by its number: none, dashes, dots, dash and dot."""

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]


def width_of(words: str, size: float) -> float:
    """Return the width that a text takes at most. [mm]"""
    return CHARACTER * size * len(words)


def text(
    x: float,
    y: float,
    words: str,
    *,
    size: float = 3.0,
    bold: bool = False,
    anchor: Anchor = "start",
    room: float = math.inf,
) -> str:
    """Return a text; ``y`` is its base line, ``room`` the width it may take: a longer one is set smaller. [mm]"""
    size = round(size * min(1.0, room / width_of(words, size)), 2) if words else size
    weight = ' font-weight="700"' if bold else ""
    place = "" if anchor == "start" else f' text-anchor="{anchor}"'
    return f'<text x="{x:g}" y="{y:g}" font-size="{size:g}"{weight}{place}>{escape(words)}</text>'


def frame(x: float, y: float, width: float, height: float) -> str:
    """Return the outline of a box."""
    size = f'width="{width:g}" height="{height:g}" rx="1.5"'
    return f'<rect x="{x:g}" y="{y:g}" {size} fill="none" stroke="{INK}" stroke-width="0.5"/>'


def _path(points: Sequence[Point], colour: str, thick: float, dashes: str = "") -> str:
    """Return a line through points."""
    places = " L".join(f"{x:g} {y:g}" for x, y in points)
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return (
        f'<path d="M{places}" fill="none" stroke="{colour}" stroke-width="{thick:g}" stroke-linejoin="round"{dashed}/>'
    )


def _dark(colour: str) -> bool:
    """Return whether white shows on a colour better than ink does."""
    red, green, blue = (int(colour[place : place + 2], 16) for place in (1, 3, 5))
    return 0.299 * red + 0.587 * green + 0.114 * blue < 140


def wire(points: Sequence[Point], *, ends: Sequence[str], colour: str, number: int, painted: str | None = None) -> str:
    """Return a wire: outlined, in its colour, with the dashes of its number; of unknown colour: hollow and broken.

    Parameters
    ----------
    points : sequence of (float, float)
        From the first end to the last. [mm]
    ends : sequence of str
        Ids of the wire's ends, in the order of ``points``.
    colour : str
        A name of ``COLOURS``, with a stripe after a stroke; "" = not known.
    number : int
        Chooses the dashes, so that no two wires of a cable differ in colour alone. [>= 1]
    painted : str or None
        The colour to paint where wires share a line and none of them can be shown; None: its own.
    """
    ground, _, stripe = (colour if painted is None else painted).partition("/")
    core = WIRES[ground] if ground else PAPER
    strokes = [_path(points, INK, 2.2, "" if ground else "2 1"), _path(points, core, 1.6)]
    if stripe:
        strokes.append(_path(points, WIRES[stripe], 0.9, "2.4 1.2"))
    dashes = PATTERNS[(number - 1) % len(PATTERNS)]
    if dashes and not stripe:
        strokes.append(_path(points, PAPER if _dark(core) else INK, 0.5, dashes))
    return f'<g data-wire="{" ".join(ends)}" data-colour="{escape(colour)}">{"".join(strokes)}</g>'


def joint(kind: str, at: str, ends: Sequence[str], shape: str) -> str:
    """Return a shape that joins, caps or cuts back wire ends."""
    return f'<g data-joint="{kind}" data-at="{at}" data-ends="{" ".join(ends)}">{shape}</g>'


def capsule(x: float, y: float, width: float, height: float) -> str:
    """Return a gel splice."""
    size = f'width="{width:g}" height="{height:g}" rx="{min(width, height) / 2:g}"'
    return f'<rect x="{x:g}" y="{y:g}" {size} fill="{RULE}" stroke="{INK}" stroke-width="0.5"/>'


def cap(x: float, y: float, *, width: float = 4.0) -> str:
    """Return the cap over a single wire end; ``x`` is its left edge, ``y`` its middle."""
    return (
        f'<rect x="{x:g}" y="{y - 1.7:g}" width="{width:g}" height="3.4" rx="0.8" fill="{INK}" stroke="{INK}" '
        f'stroke-width="0.4"/>'
    )


def cut(x: float, y: float) -> str:
    """Return the mark of a screen cut back under insulation."""
    sleeve = f'x="{x:g}" y="{y - 1.5:g}" width="3" height="3"'
    cross = f"M{x:g} {y - 1.5:g} l3 3 M{x + 3:g} {y - 1.5:g} l-3 3"
    line = f'stroke="{INK}" stroke-width="0.4"'
    return f'<rect {sleeve} fill="{PAPER}" {line}/><path d="{cross}" {line} fill="none"/>'


def screw(x: float, y: float) -> str:
    """Return a screw terminal; ``x`` is its left edge, ``y`` its middle."""
    line = f'stroke="{INK}" stroke-width="0.5"'
    return (
        f'<rect x="{x:g}" y="{y - 2.6:g}" width="5.2" height="5.2" fill="{PAPER}" {line}/>'
        f'<circle cx="{x + 2.6:g}" cy="{y:g}" r="1.7" fill="none" {line}/>'
        f'<path d="M{x + 1.4:g} {y + 1.2:g} l2.4 -2.4" {line} fill="none"/>'
    )


def clamp(x: float, top: float, bottom: float) -> str:
    """Return a strain relief across the jacket."""
    return (
        f'<rect x="{x - 1:g}" y="{top - 1.2:g}" width="2" height="{bottom - top + 2.4:g}" rx="0.6" fill="{PAPER}" '
        f'stroke="{INK}" stroke-width="0.5"/>'
    )


def _lines(x: float, y: float, lines: Sequence[str]) -> list[str]:
    """Return lines of small text under each other."""
    return [text(x, y + 4.0 * number, words) for number, words in enumerate(lines)]


def practice_strip(top: float) -> list[str]:
    """Return three little pictures of common practice: splice, clamp with drip loop, bare end.

    Source
    ------
    ``CP-WIRING``.
    """
    line = f'fill="none" stroke="{INK}" stroke-width="0.5"'
    thick = f'fill="none" stroke="{INK}" stroke-width="1.6"'
    y = top + 9.5
    return [
        f'<path d="M2 {top:g} H168" stroke="{RULE}" stroke-width="0.3"/>',
        text(2, top + 4.2, "Common practice", bold=True),
        capsule(5, y - 3, 4.5, 6.5),
        f'<path d="M6.2 {y + 3.5:g} v4.5 M8.3 {y + 3.5:g} v4.5" {line}/>',
        *_lines(14, y - 0.8, ("Gel splice, sized for", "the wire, pointing up.", "Pull by hand.")),
        f'<path d="M60 {y - 2:g} h3 v6 q0 3.5 3.5 3.5 t3.5 -3.5 v-7" {thick}/>',
        f'<path d="M67 {y - 3:g} h6.2" {thick}/>',
        f'<rect x="58.6" y="{y - 4:g}" width="1.8" height="4" rx="0.5" fill="{PAPER}" stroke="{INK}" '
        'stroke-width="0.5"/>',
        *_lines(77, y - 0.8, ("Clamp both ends.", "Drip loop under entry.", "Slack: two loops.")),
        f'<path d="M116 {y:g} h5.5" fill="none" stroke="{INK}" stroke-width="2.6"/>',
        f'<path d="M121.5 {y:g} h4" fill="none" stroke="{INK}" stroke-width="0.9"/>',
        f'<rect x="121.5" y="{y - 3:g}" width="5.2" height="6" {line}/>',
        f'<path d="M121.5 {y + 4:g} v2 M125.5 {y + 4:g} v2 M121.5 {y + 5:g} h4" {line}/>',
        *_lines(130, y - 0.8, ("Bare 6 mm (1/4 in),", "none outside. Finger-", "tight, then pull.")),
    ]


STRIP_HEIGHT: Final = 19.5
