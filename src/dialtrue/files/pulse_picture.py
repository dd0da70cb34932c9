"""Two pictures of a fit check as SVG: the pulse at the input, and the counts against flow."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from html import escape
from typing import Final

from dialtrue.domain.pulse_chain.chain import Chain
from dialtrue.domain.pulse_chain.counting import CountShare, count_curve, cut_off_flow_lpm, first_loss_flow_lpm
from dialtrue.domain.pulse_chain.levels import (
    Circuit,
    circuit_at,
    closed_level_v,
    closed_tau_ms,
    crossing_ms,
    open_level_v,
    open_tau_ms,
)
from dialtrue.domain.pulse_chain.margins import can_drive
from dialtrue.domain.pulse_chain.measure import said_ohm, sensible
from dialtrue.domain.pulse_chain.timing import closed_least_ms, figure, need_closed_ms, period_ms
from dialtrue.domain.pulse_chain.words import said_flow
from dialtrue.files.palette import roles_for

_WIDTH: Final = 720
_HEIGHT: Final = 360
_LEFT: Final = 64
_RIGHT: Final = 540
_TOP: Final = 40
_BOTTOM: Final = 300
_LINE_GAP: Final = 18

_STYLE: Final = (
    f"\n{roles_for('fit')}"
    + """\
.fit .ground { fill: var(--dt-paper); }
.fit text { fill: var(--dt-ink); font: 14px system-ui, sans-serif; font-variant-numeric: tabular-nums; }
.fit .head { font-size: 16px; font-weight: 600; }
.fit .axis { stroke: var(--dt-rule); stroke-width: 1; fill: none; }
.fit .threshold { stroke: var(--dt-ink); stroke-width: 1; stroke-dasharray: 6 4; }
.fit .line { stroke: var(--dt-water); stroke-width: 2.5; fill: none; }
.fit .damp { stroke: var(--dt-look); stroke-width: 2; stroke-dasharray: 2 4; fill: none; }
.fit .filter { stroke: var(--dt-ink); stroke-width: 4; }
.fit .short { stroke: var(--dt-visit); }
.fit .band { fill: var(--dt-rule); opacity: 0.6; }
.fit .edge { stroke: var(--dt-visit); stroke-width: 1; }
"""
)

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Scale:
    """From figures to places on the picture."""

    x_most: float
    y_most: float

    def x(self, value: float) -> float:
        """Return the place of a time or flow."""
        return round(_LEFT + (_RIGHT - _LEFT) * min(max(value / self.x_most, 0.0), 1.0), 1)

    def y(self, value: float) -> float:
        """Return the place of a level or share."""
        return round(_BOTTOM - (_BOTTOM - _TOP) * min(max(value / self.y_most, 0.0), 1.0), 1)


def _svg(title: str, description: str, body: Sequence[str]) -> str:
    """Return the whole element with style, title and description."""
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="fit" viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" '
            'aria-labelledby="t d">',
            f'<title id="t">{escape(title)}</title>',
            f'<desc id="d">{escape(description)}</desc>',
            f"<style>{_STYLE}</style>",
            f'<rect class="ground" width="{_WIDTH}" height="{_HEIGHT}"/>',
            *body,
            "</svg>",
            "",
        )
    )


def _text(x: float, y: float, words: str, *, css: str = "", anchor: str = "start") -> str:
    """Return a text element."""
    kind = f' class="{css}"' if css else ""
    return f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}"{kind}>{escape(words)}</text>'


def _rule(x1: float, y1: float, x2: float, y2: float, css: str) -> str:
    """Return a straight line."""
    return f'<line x1="{x1:g}" y1="{y1:g}" x2="{x2:g}" y2="{y2:g}" class="{css}"/>'


def _path(points: Sequence[Point], scale: _Scale, css: str) -> str:
    """Return a line through points in figures."""
    places = " L".join(f"{scale.x(x):g} {scale.y(y):g}" for x, y in points)
    return f'<path d="M{places}" class="{css}"/>'


def _labels(wanted: Sequence[tuple[float, str]]) -> list[str]:
    """Return labels at the right, moved apart where they would touch."""
    placed: list[str] = []
    last = -math.inf
    for y, words in sorted(wanted):
        last = max(y, last + _LINE_GAP)
        placed.append(_text(_RIGHT + 10, last + 5, words))
    return placed


def wave(circuit: Circuit, *, closed_ms: float, open_ms: float, lead_ms: float) -> list[Point]:
    """Return the line's level over one pulse, as (time, level) points.

    Parameters
    ----------
    circuit : Circuit
        At one corner.
    closed_ms, open_ms, lead_ms : float
        Closed time, pause, and the open time shown before. [ms]

    Returns
    -------
    list of (float, float)
        [ms, V] Exponentials drawn with 24 points a state.

    Raises
    ------
    Never raises.

    Source
    ------
    First-order circuit; see ``levels``.
    """
    low, high = closed_level_v(circuit), open_level_v(circuit)
    points: list[Point] = [(0.0, high), (lead_ms, high)]
    level, begin = high, lead_ms
    for length, final, tau in ((closed_ms, low, closed_tau_ms(circuit)), (open_ms, high, open_tau_ms(circuit))):
        for number in range(1, 25):
            time = length * (number / 24.0) ** 2
            decay = math.exp(-time / tau) if tau > 0.0 else 0.0
            points.append((begin + time, final + (level - final) * decay))
        level, begin = points[-1][1], begin + length
    return points


def pulse_svg(chain: Chain, *, sentence: str, system: str = "us") -> str | None:
    """Draw the pulse at the input at the greatest flow: levels, thresholds, filter and the damp case.

    Parameters
    ----------
    chain : Chain
        The chain.
    sentence : str
        The verdict, for the description.
    system : str
        ``us`` or ``metric``.

    Returns
    -------
    str or None
        One SVG; None where a figure that the picture needs is missing.

    Raises
    ------
    Never raises.

    Source
    ------
    Nominal circuit of ``levels.circuit_at``; the damp case has the leakage stated for the site, else the wished one.
    """
    circuit = circuit_at(chain)
    period = period_ms(figure(chain.weight_l), figure(chain.max_flow_lpm))
    closed = closed_least_ms(chain.output, period)
    high, low, need = open_level_v(circuit), closed_level_v(circuit), need_closed_ms(chain.input)
    known = (period, closed, high, low, need, circuit.open_above_v, circuit.closed_below_v, open_tau_ms(circuit))
    if can_drive(chain) != 1.0 or any(value != value for value in known) or not 0.0 < closed < period:
        return None
    reach = max(closed, need) + crossing_ms(low, max(high, 1e-9), 0.95 * high, open_tau_ms(circuit))
    shown = min(period - closed, max(1.2 * reach, 0.6 * closed))
    lead = 0.15 * (closed + shown)
    leak = chain.leakage_ohm if chain.leakage_ohm is not None else chain.settings.damp_ohm
    damp = replace(circuit, leak_ohm=min(leak, circuit.leak_ohm))
    scale = _Scale(lead + closed + shown, 1.15 * max(high, circuit.open_above_v, circuit.source_v))
    body = [_text(_LEFT, 22, f"Pulse at the input at {_flow(chain, system)}", css="head")]
    body += [_rule(_LEFT, _BOTTOM, _RIGHT, _BOTTOM, "axis"), _rule(_LEFT, _TOP, _LEFT, _BOTTOM, "axis")]
    labels: list[tuple[float, str]] = []
    for level, words in (
        (circuit.open_above_v, f"open above {sensible(circuit.open_above_v)} V"),
        (circuit.closed_below_v, f"closed below {sensible(circuit.closed_below_v)} V"),
    ):
        body.append(_rule(_LEFT, scale.y(level), _RIGHT, scale.y(level), "threshold"))
        labels.append((scale.y(level), words))
    body.append(_path(wave(circuit, closed_ms=closed, open_ms=shown, lead_ms=lead), scale, "line"))
    body.append(_path(wave(damp, closed_ms=closed, open_ms=shown, lead_ms=lead), scale, "damp"))
    labels.append((scale.y(high), f"dry {sensible(high)} V"))
    labels.append((scale.y(open_level_v(damp)), f"damp {said_ohm(leak)}: {sensible(open_level_v(damp))} V"))
    fits = closed >= need
    begin, bar = scale.x(lead), _BOTTOM + 14
    body.append(_rule(begin, bar, scale.x(lead + need), bar, "filter" if fits else "filter short"))
    told = f"closed {sensible(closed)} ms, the filter asks {sensible(need)} ms: {'enough' if fits else 'too short'}"
    body.append(_text(begin, bar + 20, told))
    body.append(_text(_LEFT - 8, scale.y(0.0) + 5, "0 V", anchor="end"))
    body.append(_text(_RIGHT + 12, scale.y(0.0) + 5, f"{sensible(lead + closed + shown)} ms shown"))
    said = (
        f"{sentence} Dry, the line stands at {sensible(high)} V open and {sensible(low)} V closed; "
        f"with {said_ohm(leak)} of leakage at {sensible(open_level_v(damp))} V open. {told}."
    )
    return _svg("The pulse at the input", said, [*body, *_labels(labels)])


def _flow(chain: Chain, system: str) -> str:
    """Return the greatest flow in words."""
    return said_flow(figure(chain.max_flow_lpm), system)


def curve_svg(chain: Chain, *, sentence: str, system: str = "us") -> str | None:
    """Draw the counts a pulse makes against flow.

    Parameters
    ----------
    chain : Chain
        The chain.
    sentence : str
        The verdict, for the description.
    system : str
        ``us`` or ``metric``.

    Returns
    -------
    str or None
        One SVG; None where a figure that the curve needs is missing.

    Raises
    ------
    Never raises.

    Source
    ------
    ``counting.count_curve``; the band lies between the surest and the kindest case.
    """
    curve: list[CountShare] = count_curve(chain)
    if not curve or any(point.expected != point.expected for point in curve):
        return None
    scale = _Scale(curve[-1].flow_lpm, 1.15 * max(1.0, *(point.high for point in curve)))
    upper = " L".join(f"{scale.x(point.flow_lpm):g} {scale.y(point.high):g}" for point in curve)
    lower = " L".join(f"{scale.x(point.flow_lpm):g} {scale.y(point.low):g}" for point in reversed(curve))
    first, last = first_loss_flow_lpm(chain), cut_off_flow_lpm(chain)
    body = [_text(_LEFT, 22, "Counts a pulse makes, against flow", css="head")]
    body.append(f'<path d="M{upper} L{lower} Z" class="band"/>')
    body += [_rule(_LEFT, _BOTTOM, _RIGHT, _BOTTOM, "axis"), _rule(_LEFT, _TOP, _LEFT, _BOTTOM, "axis")]
    body.append(_rule(_LEFT, scale.y(1.0), _RIGHT, scale.y(1.0), "threshold"))
    body.append(_path([(point.flow_lpm, point.expected) for point in curve], scale, "line"))
    top = figure(chain.max_flow_lpm)
    body.append(_rule(scale.x(top), _TOP, scale.x(top), _BOTTOM, "threshold"))
    body.append(_text(scale.x(top), _TOP - 4, f"greatest flow {said_flow(top, system)}", anchor="middle"))
    said = [sentence]
    for place, (edge, words) in enumerate(((first, "losses may begin"), (last, "none is counted"))):
        if 0.0 < edge < scale.x_most:
            x = scale.x(edge)
            body.append(_rule(x, _TOP + 10, x, _BOTTOM, "edge"))
            aside, anchor = (6, "start") if place else (-6, "end")
            body.append(
                _text(x + aside, _BOTTOM - 60 + 20 * place, f"{words}: {said_flow(edge, system)}", anchor=anchor)
            )
            said.append(f"Above {said_flow(edge, system)} {words}.")
    body.append(_text(_LEFT - 8, scale.y(0.0) + 5, "0", anchor="end"))
    body.append(_text(_LEFT - 8, scale.y(1.0) + 5, "1", anchor="end"))
    body.append(_text(_LEFT, _BOTTOM + 24, "0"))
    body.append(_text(_RIGHT, _BOTTOM + 24, said_flow(scale.x_most, system), anchor="end"))
    labels = [(scale.y(1.0), "every pulse once"), (scale.y(0.5), "band: by chance")]
    return _svg("Counts a pulse makes, against flow", " ".join(said), [*body, *_labels(labels)])
