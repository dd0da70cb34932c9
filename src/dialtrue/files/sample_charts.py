"""Charts of acceptance in SVG: what a plan lets pass, lots in their order, crews by how much of their work was seen."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from dialtrue.domain.acceptance.chance import acceptance_chance
from dialtrue.domain.acceptance.comparison import limits
from dialtrue.domain.acceptance.judgement import percent, times_in_100
from dialtrue.domain.acceptance.plan import GradePlan, characteristic
from dialtrue.domain.words import printable
from dialtrue.files.palette import roles_for
from dialtrue.files.report.markup import safe, svg_text

USUAL: Final = 0.05
RARE: Final = 0.002
"""Chance of lying outside the inner and the outer limits: 95 % and 99.8 %. Source: ``FUNNEL-PLOT``."""

_STEPS: Final = (1, 1.2, 1.6, 2, 2.4, 3.2, 4, 4.8, 6, 8, 10)

STYLE: Final = (
    roles_for("lots")
    + """\
.lots text { paint-order: stroke; stroke: var(--dt-paper); stroke-width: 3px; }
.lots text { fill: var(--dt-ink); font: 13px system-ui, sans-serif; font-variant-numeric: tabular-nums; }
.lots .head { font-weight: 600; }
.lots .axis { stroke: var(--dt-rule); stroke-width: 1; fill: none; }
.lots .curve { stroke: var(--dt-water); stroke-width: 2.25; fill: none; stroke-linejoin: round; }
.lots .hair { stroke: var(--dt-ink); stroke-width: 1; stroke-dasharray: 2 3; fill: none; }
.lots .inner { stroke: var(--dt-water); stroke-width: 1.25; fill: none; stroke-dasharray: 5 4; }
.lots .outer { stroke: var(--dt-water); stroke-width: 1.5; fill: none; }
.lots .middle { stroke: var(--dt-ink); stroke-width: 1; fill: none; }
.lots .dot { fill: var(--dt-ink); }
.lots .few { fill: var(--dt-paper); stroke: var(--dt-ink); stroke-width: 1.5; }
.lots .out { fill: var(--dt-visit); }
"""
)


@dataclass(frozen=True, slots=True)
class Group:
    """A lot or a crew on a chart: its name, sites seen, bad ones, and whether too few were seen to say anything."""

    name: str
    inspected: int
    bad: int
    few: bool = False


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where a chart's axes lie, and what they hold."""

    width: int
    height: int
    most_x: float
    most_y: float
    left: int = 46
    right: int = 14
    top: int = 44
    bottom: int = 40

    def x(self, value: float) -> float:
        return round(self.left + (self.width - self.left - self.right) * value / self.most_x, 1)

    def y(self, value: float) -> float:
        return round(self.height - self.bottom - (self.height - self.top - self.bottom) * value / self.most_y, 1)


def characteristic_picture(plan: GradePlan, lot_size: int, *, marked: float = 0.04) -> str:
    """Draw how often lots pass, against their share of bad sites.

    Parameters
    ----------
    plan : GradePlan
        The plan for a grade.
    lot_size : int
        Sites drawn from. [sites, >= 1]
    marked : float
        The share whose chance is written beside the curve. [-, 0..1]

    Returns
    -------
    str
        An SVG element; styles are in ``STYLE``.

    Raises
    ------
    Never raises.
    """
    curve = characteristic(plan, lot_size)
    most = _round_up(max(curve[-1][0], marked * 1.5))
    curve = [point for point in curve if point[0] <= most]
    frame = _Frame(300, 230, most, 1.0)
    bad = round(marked * lot_size)
    here = bad / lot_size
    chance = acceptance_chance(lot_size, bad, size=plan.size, accept=plan.accept)
    path = "M" + "L".join(f"{frame.x(share)} {frame.y(each)}" for share, each in curve)
    told = f"A lot with {percent(here)} bad passes {times_in_100(chance)}"
    label_left = frame.x(here) > frame.width - 150
    label_x = frame.x(here) + (-8 if label_left else 8)
    return (
        _opening(frame, f"{plan.grade}, accept at {plan.accept} in {plan.size}: {told}.")
        + svg_text(frame.left, 18, f"{plan.grade.capitalize()}: accept at {plan.accept} in {plan.size}", look="head")
        + svg_text(frame.left, 34, "chance that the lot passes")
        + _side(frame, [(0.0, "0"), (0.5, "0.5"), (1.0, "1")])
        + _foot(frame, [(0.0, "0"), (most / 2, percent(most / 2, _digits(most / 2))), (most, f"{_whole(most)} % bad")])
        + f'<path class="curve" d="{path}"/>'
        + f'<path class="hair" d="M{frame.x(here)} {frame.y(0)}V{frame.y(chance)}H{frame.left}"/>'
        + f'<circle class="dot" cx="{frame.x(here)}" cy="{frame.y(chance)}" r="4"/>'
        + svg_text(label_x, max(frame.y(chance) - 8, frame.top + 12), f"{percent(here, _digits(here))}: {chance:.2f}",
                   anchor="end" if label_left else "start")
        + "</svg>"
    )  # fmt: skip


def funnel_picture(groups: Sequence[Group], *, what: str, width: int) -> str:
    """Draw crews by sites seen and share of bad ones, between the limits within which chance alone keeps them.

    Parameters
    ----------
    groups : sequence of Group
        Each with at least one site seen.
    what : str
        What the share is of, such as ``critical``.
    width : int
        [px]

    Returns
    -------
    str
        An SVG element. Names stand at their points and nowhere in an order of merit.

    Raises
    ------
    Never raises.
    """
    seen = sum(each.inspected for each in groups)
    share = sum(each.bad for each in groups) / seen if seen else 0.0
    most_x = float(_nice(max([each.inspected for each in groups] or [1]) * 1.08))
    highest = max([each.bad / each.inspected for each in groups] + [share * 2, 0.05])
    most_y = min(1.0, _round_up(highest * 1.15))
    frame = _Frame(width, 300, most_x, most_y)
    parts = [
        _opening(frame, f"{what} by crew: {percent(share)} of {seen} sites seen; limits by chance alone."),
        svg_text(frame.left, 18, f"{what.capitalize()} [% of sites], by crew", look="head"),
        svg_text(frame.left, 34, _limits_words(share, width)),
        _side(frame, [(most_y * step / 4, percent(most_y * step / 4, _digits(most_y / 4))) for step in range(5)]),
        _foot(frame, [(0.0, "0"), (most_x / 2, f"{most_x / 2:g}"), (most_x, f"{most_x:g} seen")]),
    ]
    if 0.0 < share < 1.0:
        parts += _limit_curves(frame, share)
    parts.append(f'<path class="middle" d="M{frame.left} {frame.y(share)}H{frame.x(most_x)}"/>')
    taken: list[tuple[float, float]] = []
    for each in sorted(groups, key=lambda group: group.name):
        parts.append(_point(frame, each, float(each.inspected), share))
        parts.append(_name(frame, each.name, frame.x(each.inspected), frame.y(each.bad / each.inspected), taken))
    return "".join(parts) + "</svg>"


def lots_picture(groups: Sequence[Group], *, what: str, width: int) -> str:
    """Draw lots in the order of their draws, each between the limits for as many sites as were seen of it.

    Parameters
    ----------
    groups : sequence of Group
        Each with at least one site seen.
    what : str
        What the share is of.
    width : int
        [px]

    Returns
    -------
    str
        An SVG element.

    Raises
    ------
    Never raises.
    """
    seen = sum(each.inspected for each in groups)
    share = sum(each.bad for each in groups) / seen if seen else 0.0
    bounds = [(limits(each.inspected, share, outside=USUAL), limits(each.inspected, share, outside=RARE))
              for each in groups]  # fmt: skip
    highest = max([each.bad / each.inspected for each in groups] + [outer[1] for _, outer in bounds] + [0.05])
    most_y = min(1.0, _round_up(highest * 1.1))
    frame = _Frame(width, 300, float(max(len(groups), 1)), most_y, bottom=56)
    parts = [
        _opening(frame, f"{what} by lot: {percent(share)} of {seen} sites seen; limits by chance alone."),
        svg_text(frame.left, 18, f"{what.capitalize()} [% of sites], by lot", look="head"),
        svg_text(frame.left, 34, _limits_words(share, width)),
        _side(frame, [(most_y * step / 4, percent(most_y * step / 4, _digits(most_y / 4))) for step in range(5)]),
        f'<path class="middle" d="M{frame.left} {frame.y(share)}H{frame.x(frame.most_x)}"/>',
    ]
    if 0.0 < share < 1.0:
        for look, each in (("inner", 0), ("outer", 1)):
            for side in (0, 1):
                if not any(bound[each][side] > 0.0 for bound in bounds):
                    continue
                path = "".join(
                    f"{'M' if number == 0 else 'L'}{frame.x(number)} {frame.y(bound[each][side])}H{frame.x(number + 1)}"
                    for number, bound in enumerate(bounds)
                )
                parts.append(f'<path class="{look}" d="{path}"/>')
    step = max(1, math.ceil(len(groups) * 84 / max(frame.width - frame.left - frame.right, 1)))
    for number, each in enumerate(groups):
        parts.append(_point(frame, each, number + 0.5, share))
        if number % step == 0:
            row = 16 + 16 * (number // step % 2)
            parts.append(svg_text(frame.x(number + 0.5), frame.y(0) + row, _short(each.name), anchor="middle"))
    return "".join(parts) + "</svg>"


def _limits_words(share: float, width: int) -> str:
    if width < 400:
        return f"together {percent(share)}; limits 95 and 99.8 %"
    return f"all together {percent(share)}; dashed the 95 % limits, drawn out the 99.8 % limits"


def _limit_curves(frame: _Frame, share: float) -> list[str]:
    """Draw the funnel: two pairs of limits, at some fifty numbers of sites."""
    counts = sorted({max(1, round(frame.most_x * (step / 50) ** 1.5)) for step in range(1, 51)})
    parts = []
    for look, outside in (("inner", USUAL), ("outer", RARE)):
        ends = [limits(count, share, outside=outside) for count in counts]
        for side in (0, 1):
            points = [
                (count, min(end[side], frame.most_y)) for count, end in zip(counts, ends, strict=True)
                if 0.0 < end[side] < frame.most_y
            ]  # fmt: skip
            if points:
                path = "M" + "L".join(f"{frame.x(count)} {frame.y(end)}" for count, end in points)
                parts.append(f'<path class="{look}" d="{path}"/>')
    return parts


def _point(frame: _Frame, group: Group, at: float, share: float) -> str:
    """Draw a group: open where too few were seen, a red triangle above the outer limit, a dot otherwise."""
    x, y = frame.x(at), frame.y(group.bad / group.inspected)
    told = f"<title>{safe(group.name)}: {group.bad} in {group.inspected}</title>"
    if group.few:
        return f'<circle class="few" cx="{x}" cy="{y}" r="4.5">{told}</circle>'
    if 0.0 < share < 1.0 and group.bad / group.inspected > limits(group.inspected, share, outside=RARE)[1]:
        return f'<path class="out" d="M{x} {y - 7}l6.5 11.5h-13z">{told}</path>'
    return f'<circle class="dot" cx="{x}" cy="{y}" r="4.5">{told}</circle>'


def _name(frame: _Frame, name: str, x: float, y: float, taken: list[tuple[float, float]]) -> str:
    """Write a name beside its point, moved up while another name stands there."""
    left = x > frame.width - 90
    place = y - 8 if y > frame.y(0) - 8 else y + 4
    while any(abs(place - other_y) < 14 and abs(x - other_x) < 70 for other_x, other_y in taken) and place > 14:
        place -= 14
    taken.append((x, place))
    return svg_text(x + (-9 if left else 9), place, _short(name), anchor="end" if left else "start")


def _short(name: str) -> str:
    name = printable(name)
    return name if len(name) <= 14 else name[:13] + "…"


def _opening(frame: _Frame, told: str) -> str:
    size = f'viewBox="0 0 {frame.width} {frame.height}" width="{frame.width}" height="{frame.height}"'
    return f'<svg class="lots" {size} role="img"><title>{safe(told)}</title>'


def _side(frame: _Frame, ticks: Sequence[tuple[float, str]]) -> str:
    return "".join(
        f'<path class="axis" d="M{frame.left} {frame.y(value)}H{frame.x(frame.most_x)}"/>'
        + svg_text(frame.left - 6, frame.y(value) + 4, words.removesuffix(" %"), anchor="end")
        for value, words in ticks
    )


def _foot(frame: _Frame, ticks: Sequence[tuple[float, str]]) -> str:
    anchors = ("start", "middle", "end")
    return "".join(
        f'<path class="axis" d="M{frame.x(value)} {frame.y(0)}v5"/>'
        + svg_text(frame.x(value), frame.y(0) + 20, words, anchor=anchor)
        for (value, words), anchor in zip(ticks, anchors, strict=True)
    )


def _round_up(share: float) -> float:
    """Return the next share whose quarters are round."""
    if share <= 0:
        return 0.05
    power = 10.0 ** math.floor(math.log10(share))
    return next(step * power for step in _STEPS if step * power >= share - 1e-12)


def _nice(count: float) -> int:
    """Return the next round number of sites."""
    power = 10 ** math.floor(math.log10(max(count, 10)))
    return int(next(step * power for step in (1, 1.2, 1.6, 2, 3, 4, 5, 6, 8, 10) if step * power >= count))


def _digits(share: float) -> int:
    return 0 if abs(100 * share - round(100 * share)) < 1e-9 else 1


def _whole(share: float) -> str:
    return f"{100 * share:g}"
