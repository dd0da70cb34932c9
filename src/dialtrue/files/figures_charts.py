"""Charts of the programme figures in SVG: counts as bars, faults by month, shares with their intervals."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from dialtrue.domain.progress.account import Month
from dialtrue.domain.progress.rate import Rate
from dialtrue.domain.words import printable
from dialtrue.files.palette import roles_for
from dialtrue.files.report.markup import safe, svg_text

STYLE: Final = (
    roles_for("figs")
    + """\
.figs text { fill: var(--dt-ink); font: 13px system-ui, sans-serif; font-variant-numeric: tabular-nums; }
.figs .axis, .figs .grid { stroke: var(--dt-rule); stroke-width: 1; fill: none; }
.figs .good { fill: var(--dt-good); } .figs .water { fill: var(--dt-water); } .figs .visit { fill: var(--dt-visit); }
.figs .look { fill: var(--dt-look); } .figs .pale { fill: var(--dt-rule); }
.figs .open { fill: none; stroke: var(--dt-ink); stroke-width: 1.2; }
.figs .span { stroke: var(--dt-water); stroke-width: 2; fill: none; }
.figs .dot { fill: var(--dt-water); } .figs .few { fill: none; stroke: var(--dt-water); stroke-width: 1.5; }
.figs .level { stroke: var(--dt-ink); stroke-width: 1; stroke-dasharray: 2 3; fill: none; }
"""
)
_ROW: Final = 24


@dataclass(frozen=True, slots=True)
class Bar:
    """One row: its name, its parts as (count, look), what stands after it, and that in brief for a narrow picture."""

    name: str
    parts: tuple[tuple[int, str], ...]
    label: str
    brief: str = ""


def bars_picture(bars: Sequence[Bar], *, told: str, width: int) -> str:
    """Draw counts as bars, names before and figures after them; never raises for at least one bar."""
    left, right = (172, 120) if width > 500 else (150, 126) if width > 400 else (122, 64)
    most = max((sum(count for count, _ in bar.parts) for bar in bars), default=0) or 1
    scale = (width - left - right) / most
    rows = []
    for number, bar in enumerate(bars):
        y, x = number * _ROW + 4, float(left)
        rows.append(
            svg_text(left - 8, y + 13, _short(bar.name, 24 if width > 500 else 22 if width > 400 else 16), anchor="end")
        )
        for count, look in bar.parts:
            wide = count * scale
            if count:
                inset = 0.6 if look == "open" else 0.0
                place = f'x="{x + inset:.1f}" y="{y + 2 + inset:.1f}"'
                size = f'width="{max(wide, 1.5) - inset:.1f}" height="{13 - 2 * inset:.1f}"'
                rows.append(f'<rect class="{look}" {place} {size}/>')
            x += wide
        rows.append(svg_text(x + 6, y + 13, bar.label if width > 400 else bar.brief or bar.label))
    height = len(bars) * _ROW + 8
    axis = f'<path class="axis" d="M{left} 2V{height - 4}"/>'
    return f"{_opening(width, height, told)}{axis}{''.join(rows)}</svg>"


def months_picture(months: Sequence[Month], *, told: str, width: int) -> str:
    """Draw the faults that began in each month, open ones below those put right; never raises for at least one."""
    shown = months[-(24 if width > 400 else 12) :]
    height, base, left = 150, 118, 8
    most = max(month.open + month.put_right for month in shown) or 1
    step = (width - 2 * left) / len(shown)
    wide = min(step * 0.62, 44)
    parts = [f'<path class="axis" d="M{left} {base}H{width - left}"/>']
    every = max(1, math.ceil(44 / step))
    for number, month in enumerate(shown):
        x, y = left + (number + 0.5) * step - wide / 2, float(base)
        for count, look in ((month.open, "visit"), (month.put_right, "water")):
            tall = count / most * (base - 26)
            if count:
                y -= tall
                parts.append(f'<rect class="{look}" x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{tall:.1f}"/>')
        total = month.open + month.put_right
        if total:
            parts.append(svg_text(x + wide / 2, y - 4, f"{total:,}", anchor="middle"))
        if (len(shown) - 1 - number) % every == 0:
            parts.append(svg_text(x + wide / 2, base + 17, f"{month.month:%b}", anchor="middle"))
            if number < every or month.month.month == 1 or _new_year(shown, number, every):
                parts.append(svg_text(x + wide / 2, base + 31, str(month.month.year), anchor="middle"))
    return f"{_opening(width, height, told)}{''.join(parts)}</svg>"


def _new_year(shown: Sequence[Month], number: int, every: int) -> bool:
    before = number - every
    return before >= 0 and shown[before].month.year != shown[number].month.year


def shares_picture(shares: Sequence[tuple[str, Rate]], *, told: str, width: int, enough: int, level: float) -> str:
    """Draw shares with their 95 % intervals, in the order given; open where too few, a dashed line at a level."""
    left, right = (172, 110) if width > 400 else (122, 82)
    ends = [rate.interval[0] for _, rate in shares if rate.of >= enough]
    low = min([level, *ends])
    least = max(0.0, math.floor(low * 20 - 0.2) / 20)

    def x(share: float) -> float:
        return round(left + (max(share, least) - least) / (1.0 - least) * (width - left - right), 1)

    height = len(shares) * _ROW + 34
    foot = height - 26
    parts = [f'<path class="level" d="M{x(level)} 2V{foot}"/>', f'<path class="axis" d="M{left} {foot}H{x(1.0)}"/>']
    for number, (name, rate) in enumerate(shares):
        y = number * _ROW + 14
        parts.append(svg_text(left - 8, y + 4, _short(name, 24 if width > 400 else 16), anchor="end"))
        few = rate.of < enough
        if rate.share is not None and not few:
            begin, end = rate.interval
            parts.append(f'<path class="span" d="M{x(begin)} {y}H{x(end)}"/>')
        if rate.share is not None:
            parts.append(f'<circle class="{"few" if few else "dot"}" cx="{x(rate.share)}" cy="{y}" r="4"/>')
        words = f"{rate.count:,} of {rate.of:,}" if rate.of else "not known"
        parts.append(svg_text(x(1.0) + 10, y + 4, words))
    for share, anchor in ((least, "start"), (1.0, "end")):
        parts.append(svg_text(x(share), foot + 18, f"{100 * share:.0f} %", anchor=anchor))
    if left + 60 < x(level) < x(1.0) - 56:
        parts.append(svg_text(x(level), foot + 18, f"{100 * level:.0f} %", anchor="middle"))
    return f"{_opening(width, height, told)}{''.join(parts)}</svg>"


def _short(name: str, most: int) -> str:
    name = printable(name)
    return name if len(name) <= most else name[: most - 1] + "…"


def _opening(width: int, height: int, told: str) -> str:
    size = f'viewBox="0 0 {width} {height}" width="{width}" height="{height}"'
    return f'<svg class="figs" {size} role="img"><title>{safe(told)}</title>'


def month_name(month: dt.date) -> str:
    """Name a month: ``May 2026``. Never raises."""
    return f"{month:%b %Y}"
