"""The report of a replay: how soon faults were found, what each run asked for."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path
from typing import Final

from dialtrue import __version__
from dialtrue.domain.replay_result import DelayCurve, ReplayResult, ReplayScore
from dialtrue.domain.words import counted, day_text
from dialtrue.files.delay_picture import STYLE as DELAY_STYLE
from dialtrue.files.delay_picture import days_drawn, delay_picture
from dialtrue.files.report.markup import safe, section, table
from dialtrue.files.report.style import STYLE
from dialtrue.files.tables_out import write_atomically

_POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'"
_PANELS: Final = (
    ".panels{display:flex;flex-wrap:wrap;gap:1rem;margin-top:1rem}"
    ".panels svg{flex:0 1 270px;min-width:240px;height:auto}"
)
_DAYS: Final = (7, 14, 30, 60, 90)


def write_replay_report(path: Path, result: ReplayResult, *, title: str, at: dt.datetime) -> None:
    """Write the report of a replay, whole or not at all; raises ``OutputNotWritten``."""
    content = replay_page(result, title=title, at=at).encode()
    write_atomically(path, lambda sink: sink.write(content) and None)


def replay_page(result: ReplayResult, *, title: str, at: dt.datetime) -> str:
    """Return the report as one HTML text that needs no network and no script. Never raises."""
    first, last = result.steps[0], result.steps[-1]
    summary = (
        f"{counted(len(result.steps), 'run')} from {day_text(first.as_of)} to {day_text(last.as_of)}. "
        f"The last asked for {counted(last.visits, 'visit')} and {counted(last.remote_checks, 'check')} from the desk."
    )
    score = result.score
    parts = [section("delay", "Days from onset to the first word", _delay(score))] if score is not None else []
    parts.append(section("runs", "The runs", _runs(result)))
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f'<meta name="color-scheme" content="light dark"><title>{safe(title)}: replay</title>'
        f"<style>{STYLE}{DELAY_STYLE}{_PANELS}</style></head><body>"
        f'<header><h1>{safe(title)}: replay</h1><p class="summary">{safe(summary)}</p>'
        f'<p class="small">Each run used only what was known when it would have been made.</p></header>'
        f'<main id="main">{"".join(parts)}</main>'
        f"<footer><p>Made {at:%Y-%m-%d %H:%M} UTC by dialtrue {safe(__version__)}.</p></footer></body></html>\n"
    )


def _delay(score: ReplayScore) -> str:
    every = score.curves[0]
    if not every.ports:
        return "<p>No material fault began before the last run.</p>"
    days = days_drawn(score.curves)
    drawn = "".join(delay_picture(curve, every, days=days) for curve in score.curves)
    rate = (
        "The runs are too few to tell how often a visit is wasted."
        if math.isnan(score.wasted_rate)
        else f"Wasted visits: {score.wasted_rate:.2f} per 1,000 healthy ports per 30 days."
    )
    head = ["fault", "ports", "flagged", *(f"{day} d" for day in _DAYS), "half by"]
    rows = [_row(curve) for curve in (*score.curves, *score.by_fault)]
    return (
        f"<p>{rate} A fault counts as flagged when its port first asks for a check or a visit, under whatever name; "
        "one that was still waiting when the replay ended is counted as waiting up to then. Pale: all faults "
        f'together.</p><div class="panels">{drawn}</div>'
        + table(head, rows, caption="Share flagged by days since the onset", right=range(1, len(head)))
    )


def _row(curve: DelayCurve) -> list[str]:
    half = "" if curve.median_days is None else f"{curve.median_days:.0f} d"
    shares = (f"{curve.by(day):.2f}" for day in _DAYS)
    return [safe(curve.name), str(curve.ports), str(curve.flagged), *shares, half]


def _runs(result: ReplayResult) -> str:
    head = ["as of (UTC)", "ports", "reads", "visits", "checks"]
    rows = [
        [f"{s.as_of:%Y-%m-%d %H:%M}", f"{s.ports:,}", f"{s.reads:,}", str(s.visits), str(s.remote_checks)]
        for s in result.steps
    ]
    if result.score is not None:
        head += ["new visits", "wasted"]
        rows = [[*row, str(s.new_visits), str(s.wasted)] for row, s in zip(rows, result.score.steps, strict=True)]
    return table(head, rows, right=range(1, len(head)))
