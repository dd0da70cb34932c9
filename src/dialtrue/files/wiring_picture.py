"""The wiring as one SVG picture at print size: meter left, cable in the middle, port right."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Final

from dialtrue.domain.wiring.circuit import Run, Wiring
from dialtrue.domain.wiring.ends import ROLE_WORDS, SCREEN_ENDS, Connection, Terminal, said_colour
from dialtrue.domain.wiring.said import connection_sentences
from dialtrue.files.wiring_marks import (
    CHARACTER,
    FONTS,
    INK,
    PAPER,
    STRIP_HEIGHT,
    cap,
    capsule,
    clamp,
    cut,
    frame,
    joint,
    practice_strip,
    screw,
    text,
    wire,
)
from dialtrue.files.wiring_rows import Row, rows_of, rows_with

WIDTH: Final = 170.0
_PITCH: Final = 9.0
_HEAD: Final = 14.0
_NAME: Final = 3.6
_NOTE: Final = 3.2
_METER: Final = (2.0, 40.0)
_SPLICE: Final = (51.0, 59.0)
_LEAD_CAP: Final = 46.0
_WIRE_CAP: Final = 61.0
_JACKET: Final = (66.0, 106.0)
_JOIN: Final = (109.0, 114.0)
_PORT: Final = (120.0, 168.0)
_SCREW: Final = 5.2

_OUTPUT_WORDS: Final = {
    "dry_contact": "dry contact",
    "changeover": "changeover contact",
    "open_drain": "open drain",
    "open_collector": "open collector",
    "push_pull": "active output",
    "s0_class_a": "class A transistor",
    "s0_class_b": "class B transistor",
    "current_sensor": "two-wire sensor",
}
_INPUT_WORDS: Final = {
    "pull_up": "contact input",
    "voltage": "logic input",
    "current": "two-wire current input",
}


def wiring_svg(wiring: Wiring, *, practice: bool = True) -> str:
    """Draw a wiring.

    Parameters
    ----------
    wiring : Wiring
        One run, or the two of a compound meter. A ``NotDrawn`` has no picture: print its sentence.
    practice : bool
        Whether to add the three little pictures of common practice below.

    Returns
    -------
    str
        One ``<svg>`` element, 170 mm wide, with title and description. It holds no style sheet, custom property, link
        or embedded font, so that a page, a printer and a typesetter show the same; ground is white in any light. A
        wire carries ``data-wire`` with its ends and ``data-colour``, each joint ``data-joint``, ``data-at`` and
        ``data-ends``; both stand in a group with ``data-role`` and ``data-port``.

    Raises
    ------
    Never raises.

    Source
    ------
    Our own look; type of 3.0 to 3.6 mm is read at arm's length (our assumption; the page may scale it).
    """
    body: list[str] = []
    top = 0.0
    for run in wiring.runs:
        top += 2.0 if body else 0.0
        drawn, height = _block(run, top)
        group = f'<g data-role="{run.role}" data-port="{run.port}" data-loop="{run.tamper_loop}">'
        body += [group, *drawn, "</g>"]
        top += height
    for line in _packed(_notes(wiring), int((WIDTH - 4) / (CHARACTER * _NOTE))):
        top += 4.6
        body.append(text(2, top, line, size=_NOTE, bold=True))
    top += 2.5
    if practice:
        body += practice_strip(top)
        top += STRIP_HEIGHT
    height = round(top + 1.0, 1)
    told = " ".join((*connection_sentences(wiring), *wiring.warnings))
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="wiring" role="img" viewBox="0 0 {WIDTH:g} {height:g}" '
            f'width="{WIDTH:g}mm" height="{height:g}mm" style="max-width:100%;height:auto" font-family="{FONTS}" '
            f'fill="{INK}">',
            f"<title>Wiring: {escape(wiring.title)}</title>",
            f"<desc>{escape(told)}</desc>",
            f'<rect width="{WIDTH:g}" height="{height:g}" fill="{PAPER}"/>',
            *body,
            "</svg>",
            "",
        )
    )


def _packed(sentences: Sequence[str], characters: int) -> list[str]:
    """Return lines that hold whole sentences, each line as full as it goes."""
    lines: list[str] = []
    for sentence in sentences:
        if lines and len(lines[-1]) + 1 + len(sentence) <= characters:
            lines[-1] += f" {sentence}"
        else:
            lines.append(sentence)
    return lines


def _notes(wiring: Wiring) -> list[str]:
    """Return what must be read on the spot, short, each once."""
    said: list[str] = []
    for run in wiring.runs:
        said.append("Polarity matters: mark plus." if run.output.polarised else "No polarity.")
        if run.output.kind == "changeover":
            said.append("Changeover: one contact only.")
        sure = {lead.sure for lead in run.leads} | {item.sure for item in run.conductors}
        if "" in sure:
            said.append("By test: find it with an ohmmeter, never by colour.")
        if "usual" in sure:
            said.append("Usually: check the wire in hand.")
        if run.tamper_loop == "bridged":
            said.append("Loop bridged with solid wire: a cut cable raises no alarm.")
        if run.tamper_loop == "wired":
            said.append("Open the loop on purpose: the alarm must come.")
        if run.cable.screen:
            bonded = run.joint_of(SCREEN_ENDS[1]).kind == "terminal"
            said.append("Screen: endpoint end only." if bonded else "Screen: insulate both ends, ask where it goes.")
    return list(dict.fromkeys(said))


def _block(run: Run, top: float) -> tuple[list[str], float]:
    """Return the marks of one run and their height."""
    rows = rows_of(run)
    places = {number: top + _HEAD + _PITCH * (number + 0.5) for number in range(len(rows))}
    leads = [number for number, row in rows_with(rows, "lead")]
    ports = [number for number, row in rows_with(rows, "terminal")]
    inside = [number for number, row in enumerate(rows) if row.wires or row.screen]
    meter_end, port_end = (places[numbers[-1]] + _PITCH / 2 - top for numbers in (leads, ports))
    jacket_top, jacket_end = places[inside[0]] - 5.2, places[inside[-1]] + 3.4
    count = f"{run.cable.conductors} wires" + (", screen" if run.cable.screen else "")
    body = [
        frame(_METER[0], top + 1, _METER[1] - _METER[0], meter_end - 0.5),
        text(_METER[0] + 2, top + 6, ROLE_WORDS[run.role].capitalize(), size=_NAME, bold=True),
        text(_METER[0] + 2, top + 10.4, _OUTPUT_WORDS[run.output.kind]),
        frame(_PORT[0], top + 1, _PORT[1] - _PORT[0], port_end - 0.5),
        text(_PORT[0] + 2, top + 6, f"Endpoint, port {run.port}", size=_NAME, bold=True),
        text(_PORT[0] + 2, top + 10.4, _INPUT_WORDS[run.input.kind]),
        text(_JACKET[0], top + 6, "Cable", size=_NAME, bold=True),
        text(_JACKET[0] + 14, top + 6, count),
        text(_JACKET[0], top + 10.4, f"tag {ROLE_WORDS[run.role].upper()}, PORT {run.port}"),
        _jacket(run, jacket_top, jacket_end),
    ]
    for number, row in enumerate(rows):
        body += _row_words(run, row, places[number])
    body += _wires(run, rows, places)
    body += [_joint(run, held, rows, places) for held in run.connections]
    body += [clamp(_JACKET[0] + 1, jacket_top, jacket_end), clamp(_JACKET[1] - 1, jacket_top, jacket_end)]
    body += _loop_words(run, rows, places)
    return body, _HEAD + _PITCH * len(rows) + 1.0


def _jacket(run: Run, top: float, bottom: float) -> str:
    """Return the outline of the cable; broken where it has a screen."""
    dashes = ' stroke-dasharray="1.6 1"' if run.cable.screen else ""
    return (
        f'<rect x="{_JACKET[0]:g}" y="{top:g}" width="{_JACKET[1] - _JACKET[0]:g}" height="{bottom - top:g}" rx="2" '
        f'fill="{PAPER}" stroke="{INK}" stroke-width="{0.6 if run.cable.screen else 0.3:g}"{dashes}/>'
    )


def _row_words(run: Run, row: Row, y: float) -> list[str]:
    """Return the names and colours on a row."""
    said: list[str] = []
    if row.lead is not None:
        room = _METER[1] - _METER[0] - 4
        capped = " · cap" if run.joint_of(row.lead.id).kind == "cap" else ""
        colour = said_colour(row.lead.colour, row.lead.sure) + capped
        said.append(text(_METER[1] - 2, y, row.lead.name, size=_NAME, bold=True, anchor="end", room=room))
        said.append(text(_METER[1] - 2, y + 3.8, colour, anchor="end", room=room))
    if row.terminal is not None:
        x = _PORT[0] + _SCREW + 2.5
        under = _under(run, row.terminal)
        said.append(text(x, y + (0 if under else 1.3), row.terminal.name, size=_NAME, bold=True))
        if under:
            said.append(text(x, y + 3.8, under, room=_PORT[1] - x - 1))
    middle, room = (_JACKET[0] + _JACKET[1]) / 2, _JACKET[1] - _JACKET[0] - 5
    if len(row.wires) == 1:
        only = row.wires[0]
        words = f"{only.number} · {said_colour(only.colour, only.sure)}"
        words += " · cap" if run.joint_of(only.end("meter")).kind == "cap" else ""
        said.append(text(middle, y - 1.9, words, anchor="middle", room=room))
    elif row.wires:
        said.append(text(middle, y - 1.9, f"{len(row.wires)} spare, cap each", anchor="middle"))
    if row.screen:
        said.append(text(middle, y - 1.9, "screen", anchor="middle"))
    return said


def _under(run: Run, terminal: Terminal) -> str:
    """Return what stands under a terminal's name: what is printed beside it, and the jumper that it shares."""
    jumper = run.tamper_loop == "bridged" and terminal.function.startswith("loop")
    if not jumper:
        return f"printed {terminal.label}" if terminal.label else ""
    last = terminal.function == "loop-back"
    if terminal.label:
        return f"“{terminal.label}” · {'18–20 AWG' if last else 'jumper'}"
    return "18 to 20 AWG" if last else "solid jumper"


def _wires(run: Run, rows: list[Row], places: dict[int, float]) -> list[str]:
    """Return every wire from end to end."""
    drawn: list[str] = []
    for number, row in enumerate(rows):
        y = places[number]
        if row.lead is not None:
            stop = _LEAD_CAP if run.joint_of(row.lead.id).kind == "cap" else _SPLICE[0]
            points = [(_METER[1], y), (stop, y)]
            drawn.append(wire(points, ends=[row.lead.id], colour=row.lead.colour, number=1))
        for item in row.wires:
            painted = item.colour if len(row.wires) == 1 else "clear"
            spare = run.joint_of(item.end("meter")).kind == "cap"
            tailed = run.joint_of(item.end("endpoint")).kind == "splice"
            start = _WIRE_CAP + 4 if spare else _SPLICE[1]
            stop = _JOIN[0] if spare or tailed else _PORT[0]
            drawn.append(
                wire(
                    [(start, y), (stop, y)],
                    ends=[item.end("meter"), item.end("endpoint")],
                    colour=item.colour,
                    painted=painted,
                    number=item.number,
                )
            )
        if row.screen:
            stop = _PORT[0] if row.terminal is not None else _JACKET[1] - 6
            drawn.append(wire([(_JACKET[0] + 6, y), (stop, y)], ends=list(SCREEN_ENDS), colour="clear", number=3))
    by_terminal = {row.terminal.id: places[number] for number, row in enumerate(rows) if row.terminal is not None}
    for bridge in run.bridges:
        out, minus = by_terminal["terminal:loop-out"], by_terminal["terminal:pulse-"]
        if bridge.kind == "tail":
            points = [(_JOIN[1], minus), (_PORT[0], minus)]
        elif run.input.tamper_loop == "shared":
            points = [(_PORT[0], out), ((_JOIN[0] + _JOIN[1]) / 2, out), ((_JOIN[0] + _JOIN[1]) / 2, minus + 2.3)]
        else:
            back = by_terminal["terminal:loop-back"]
            points = [(_PORT[0], out), (_JOIN[1] + 1.5, out), (_JOIN[1] + 1.5, back), (_PORT[0], back)]
        ends = list(reversed(bridge.ends)) if bridge.kind == "tail" and points[0][0] > points[1][0] else bridge.ends
        drawn.append(wire(points, ends=ends, colour="clear", number=1))
    return drawn


def _joint(run: Run, held: Connection, rows: list[Row], places: dict[int, float]) -> str:
    """Return the shape of one connection where its wires end."""

    def place(end: str) -> float:
        for number, row in enumerate(rows):
            names = {row.lead.id} if row.lead else set()
            names |= {item.id for item in row.wires}
            names |= {row.terminal.id} if row.terminal else set()
            names |= {"screen"} if row.screen else set()
            if end.partition("@")[0] in names:
                return places[number]
        raise KeyError(end)

    if held.kind == "terminal":
        return joint(held.kind, held.at, held.ends, screw(_PORT[0], place(held.ends[1])))
    if held.kind == "splice" and held.at == "endpoint":
        y = place(held.ends[0])
        return joint(held.kind, held.at, held.ends, capsule(_JOIN[0], y - 2.3, _JOIN[1] - _JOIN[0], 4.6))
    if held.kind == "splice":
        heights = [place(end) for end in held.ends]
        size = (_SPLICE[1] - _SPLICE[0], max(heights) - min(heights) + 4.6)
        return joint(held.kind, held.at, held.ends, capsule(_SPLICE[0], min(heights) - 2.3, *size))
    y = place(held.ends[0])
    if held.kind == "cap":
        lead, at_meter = held.ends[0].startswith("lead:"), held.at == "meter"
        x = _LEAD_CAP if lead else _WIRE_CAP if at_meter else _JOIN[0]
        return joint(held.kind, held.at, held.ends, cap(x, y))
    x = _JACKET[0] + 3 if held.at == "meter" else _JACKET[1] - 6
    return joint(held.kind, held.at, held.ends, cut(x, y))


def _loop_words(run: Run, rows: list[Row], places: dict[int, float]) -> list[str]:
    """Say at the picture where the tamper loop turns back, or what bridges it."""
    at = {row.terminal.function: places[number] for number, row in enumerate(rows) if row.terminal is not None}
    if run.tamper_loop == "wired" and run.input.tamper_loop == "two_wire":
        turned = next((held for held in run.connections if held.ends[0].startswith("conductor:")), None)
        own = turned is None or turned.kind != "splice"
        y = (at["loop-out"] + at["loop-back"]) / 2
        return [] if own else [text(_SPLICE[0] - 2, y + 1, "tamper loop turns back", anchor="end")]
    if run.tamper_loop == "wired":
        return [text(_SPLICE[0] - 2, at["loop-out"] + 2, "loop joins pulse −", anchor="end")]
    return []
