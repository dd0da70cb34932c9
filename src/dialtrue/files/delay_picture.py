"""The delay of detection as small pictures in SVG: share of faults flagged against days since their onset."""

from __future__ import annotations

from typing import Final

from dialtrue.domain.replay_result import DelayCurve
from dialtrue.domain.words import counted, printable
from dialtrue.files.palette import roles_for

_WIDTH: Final = 300
_HEIGHT: Final = 210
_LEFT: Final = 40
_RIGHT: Final = 288
_TOP: Final = 44
_BOTTOM: Final = 172
_NICE: Final = (7, 14, 28, 56, 91, 182, 364, 728, 1456)

STYLE: Final = (
    roles_for("delay")
    + """\
.delay text { fill: var(--dt-ink); font: 13px system-ui, sans-serif; font-variant-numeric: tabular-nums; }
.delay .head { font-weight: 600; }
.delay .end { text-anchor: end; }
.delay .axis { stroke: var(--dt-rule); stroke-width: 1; fill: none; }
.delay .all { stroke: var(--dt-rule); stroke-width: 2; fill: none; }
.delay .one { stroke: var(--dt-water); stroke-width: 2.25; fill: none; }
.delay .half { stroke: var(--dt-ink); stroke-width: 1; stroke-dasharray: 2 3; }
"""
)


def days_drawn(curves: tuple[DelayCurve, ...]) -> int:
    """Return a round number of days that holds every curve's last step. Never raises."""
    most = max((curve.days[-1] for curve in curves if curve.days), default=7.0) * 1.05
    return next((day for day in _NICE if day >= most), int(most) + 1)


def delay_picture(curve: DelayCurve, every: DelayCurve, *, days: int) -> str:
    """Draw one family of faults over all faults together.

    Parameters
    ----------
    curve : DelayCurve
        The family; drawn in full colour.
    every : DelayCurve
        All faults together, drawn pale for comparison.
    days : int
        Right end of the axis. [day, > 0]

    Returns
    -------
    str
        An SVG element with a title and a description; styles are in ``STYLE``.

    Raises
    ------
    Never raises.
    """

    def x(day: float) -> float:
        return round(_LEFT + (_RIGHT - _LEFT) * min(day, days) / days, 1)

    def y(share: float) -> float:
        return round(_BOTTOM - (_BOTTOM - _TOP) * share, 1)

    def line(drawn: DelayCurve) -> str:
        path = f"M{x(0)} {y(0)}"
        for day, share in zip(drawn.days, drawn.share, strict=True):
            path += f"H{x(day)}V{y(share)}"
        return f"{path}H{x(drawn.watched_days)}"

    half = curve.median_days
    told = "fewer than half were flagged" if half is None else f"half were flagged within {half:.0f} days"
    ticks = "".join(
        f'<path class="axis" d="M{_LEFT} {y(share)}H{_RIGHT}"/>'
        f'<text class="end" x="{_LEFT - 6}" y="{y(share) + 4}">{share:g}</text>'
        for share in (0, 0.5, 1)
    )
    marks = "".join(
        f'<path class="axis" d="M{x(day)} {_BOTTOM}v5"/>'
        f'<text{place} x="{x(day)}" y="{_BOTTOM + 19}">{day:g}{unit}</text>'
        for day, unit, place in ((0, "", ""), (days / 2, "", ' text-anchor="middle"'), (days, " days", ' class="end"'))
    )
    hairline = "" if half is None else f'<path class="half" d="M{x(half)} {y(0.5)}V{_BOTTOM}"/>'
    pale = "" if curve is every else f'<path class="all" d="{line(every)}"/>'
    name = printable(curve.name)
    return (
        f'<svg class="delay" viewBox="0 0 {_WIDTH} {_HEIGHT}" width="{_WIDTH}" height="{_HEIGHT}" role="img">'
        f"<title>{name}: {curve.flagged} of {counted(curve.ports, 'fault')} flagged; {told}</title>"
        f'<text class="head" x="{_LEFT}" y="18">{name}</text>'
        f'<text x="{_LEFT}" y="34">{curve.flagged} of {counted(curve.ports, "fault")} flagged</text>'
        f'{ticks}{marks}{pale}<path class="one" d="{line(curve)}"/>{hairline}</svg>'
    )
