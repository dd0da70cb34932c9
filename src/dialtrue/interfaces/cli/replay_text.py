"""A replay in plain text and as JSON: the runs, and with the truth how soon faults were found."""

from __future__ import annotations

import math
from typing import Any

from dialtrue.domain.replay_result import DelayCurve, ReplayResult
from dialtrue.domain.words import counted
from dialtrue.interfaces.cli.output import aligned, wrapped

DAYS_SHOWN = (7, 14, 30, 60, 90)
"""Days since the onset at which the text says the share flagged. Our assumption: a week, a month, a billing quarter."""


def replay_lines(result: ReplayResult) -> list[str]:
    """Return the replay as lines of at most 100 columns. Never raises."""
    steps, score = result.steps, result.score
    last = steps[-1]
    lines = [
        f"{counted(len(steps), 'run')} from {steps[0].as_of:%Y-%m-%d} to {last.as_of:%Y-%m-%d}; "
        f"the last asked for {counted(last.visits, 'visit')} and {counted(last.remote_checks, 'check')} from the desk."
    ]
    for sentence in result.said:
        lines += wrapped(sentence, indent=0)
    head = ["run", "ports", "reads", "visits", "checks"]
    rows = [
        [f"{s.as_of:%Y-%m-%d %H:%M}", f"{s.ports:,}", f"{s.reads:,}", str(s.visits), str(s.remote_checks)]
        for s in steps
    ]
    if score is not None:
        head += ["new visits", "wasted"]
        rows = [[*row, str(s.new_visits), str(s.wasted)] for row, s in zip(rows, score.steps, strict=True)]
    lines += ["", *aligned([head, *rows], right=range(1, len(head)))]
    if score is None:
        return lines
    rate = "not known" if math.isnan(score.wasted_rate) else f"{score.wasted_rate:.2f}"
    lines += ["", f"Wasted visits per 1,000 healthy ports per 30 days: {rate}.", "",
              "Material faults that asked for an action, by days since their onset (share; those still waiting when",
              "the replay ended count up to then):"]  # fmt: skip
    head = ["", "ports", "flagged", *(f"{day} d" for day in DAYS_SHOWN), "half by"]
    rows = [_row(curve) for curve in (*score.curves, *score.by_fault)]
    return [*lines, *aligned([head, *rows[: len(score.curves)]], right=range(1, len(head))), "",
            *aligned([head, *rows[len(score.curves) :]], right=range(1, len(head)))]  # fmt: skip


def _row(curve: DelayCurve) -> list[str]:
    half = "-" if curve.median_days is None else f"{curve.median_days:.0f} d"
    return [curve.name, str(curve.ports), str(curve.flagged), *(f"{curve.by(day):.2f}" for day in DAYS_SHOWN), half]


def replay_document(result: ReplayResult) -> dict[str, Any]:
    """Return the replay as a document of plain values. Never raises."""
    document: dict[str, Any] = {
        "said": list(result.said),
        "steps": [
            {
                "as_of": step.as_of.isoformat(), "ports": step.ports, "reads": step.reads, "visits": step.visits,
                "remote_checks": step.remote_checks,
                "asked": [
                    {
                        "meter_serial": item.meter_serial, "endpoint_serial": item.endpoint_serial, "port": item.port,
                        "fault": item.fault, "probability": item.probability, "action": item.action,
                        "since": item.since.isoformat() if item.since else None, "priority": item.priority,
                    }
                    for item in step.asked
                ],
            }
            for step in result.steps
        ],
    }  # fmt: skip
    if result.score is not None:
        score = result.score
        document["score"] = {
            "wasted_visits_per_1000_healthy_ports_per_30_days": None
            if math.isnan(score.wasted_rate)
            else score.wasted_rate,
            "steps": [{"as_of": s.as_of.isoformat(), "new_visits": s.new_visits, "wasted": s.wasted,
                       "healthy": s.healthy} for s in score.steps],
            "families": [_curve(curve) for curve in score.curves],
            "faults": [_curve(curve) for curve in score.by_fault],
        }  # fmt: skip
    return document


def _curve(curve: DelayCurve) -> dict[str, Any]:
    return {
        "name": curve.name, "ports": curve.ports, "flagged": curve.flagged, "median_days": curve.median_days,
        "days": list(curve.days), "share": list(curve.share),
    }  # fmt: skip
