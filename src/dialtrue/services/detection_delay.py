"""How soon a replay found what was planted, and how often it sent somebody in vain."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from dialtrue.domain.errors.replay import BadTruth
from dialtrue.domain.faults import CATALOGUE, INNOCENT
from dialtrue.domain.finding import Action
from dialtrue.domain.replay_result import DelayCurve, Key, PlantedFault, ReplayScore, ReplayStep, StepScore
from dialtrue.services.watch_quality import MATERIAL_L, MATERIAL_SHARE

Actions = dict[Key, Action]
_DAY = dt.timedelta(days=1)
NEEDED = ("meter_serial", "endpoint_serial", "port", "fault", "since")
FAMILY_NAMES = {
    "wiring": "wiring and counting", "setting": "settings", "record": "records", "data": "delivery of reads",
    "metering": "metering", "open": "not listed",
}  # fmt: skip


def read_truth(labels_folder: Path) -> list[PlantedFault]:
    """Read what was planted in a simulated town.

    Parameters
    ----------
    labels_folder : Path
        Holds ``labels.csv`` with meter_serial, endpoint_serial, port, fault, since, and mostly volume_error_l and
        true_volume_l: without these two every fault counts as material.

    Returns
    -------
    list of PlantedFault

    Raises
    ------
    BadTruth
        The file is not there, lacks a column or a cell is no time or number.

    Source
    ------
    Material: five hundredths of the water and more, and two hundred litres; see ``services.watch_quality``.
    """
    path = labels_folder / "labels.csv"
    try:
        with path.open(encoding="utf-8-sig", newline="") as stream:
            reader = csv.DictReader(stream)
            lacking = [name for name in NEEDED if name not in (reader.fieldnames or ())]
            if lacking:
                raise BadTruth(file=str(path), reason=f"it has no column {', '.join(lacking)}")
            return [_planted(row, path, line) for line, row in enumerate(reader, start=2)]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise BadTruth(file=str(path), reason=str(getattr(error, "strerror", None) or error).lower()) from error


def _planted(row: dict[str, str], path: Path, line: int) -> PlantedFault:
    try:
        since = dt.datetime.fromisoformat(row["since"].replace("Z", "+00:00")) if row["since"] else None
        if since is not None and since.tzinfo is None:
            since = since.replace(tzinfo=dt.UTC)
        material = row["fault"] != "sound" and row["fault"] not in INNOCENT
        if material and row.get("volume_error_l") and row.get("true_volume_l"):
            least = max(MATERIAL_SHARE * abs(float(row["true_volume_l"])), MATERIAL_L)
            material = abs(float(row["volume_error_l"])) >= least
        key = (row["meter_serial"], row["endpoint_serial"], int(row["port"] or 1))
    except (ValueError, TypeError) as error:
        raise BadTruth(file=str(path), reason=f"row {line}: {str(error).lower()}") from error
    return PlantedFault(key, row["fault"], since, material)


def score_replay(steps: Sequence[ReplayStep], truth: Sequence[PlantedFault]) -> ReplayScore:
    """Compare the steps of a replay with what was planted.

    Parameters
    ----------
    steps : sequence of ReplayStep
        In order of time, one or more.
    truth : sequence of PlantedFault

    Returns
    -------
    ReplayScore

    Raises
    ------
    Never raises.

    Notes
    -----
    A fault is flagged at the first step at or after its onset whose finding asks for an action, whatever the name. A
    fault that the replay's end found unflagged has been watched only so long: the share flagged by a day is the
    product-limit estimate, which counts it among the waiting up to then. A fault without an onset has stood since the
    port was first watched. A visit is new where the step before did not ask for it; it is wasted where the port was
    sound or innocent at that step.

    Source
    ------
    Product-limit estimate: ``KAPLAN-MEIER``.
    """
    asked = [{item.key: item.action for item in step.asked} for step in steps]
    material = [port for port in truth if port.material]
    waits = {port.key: _wait(port, steps, asked) for port in material}
    families: dict[str, list[Key]] = {}
    codes: dict[str, list[Key]] = {}
    for port in material:
        kind = CATALOGUE[port.fault].kind if port.fault in CATALOGUE else "open"
        families.setdefault(FAMILY_NAMES[kind], []).append(port.key)
        codes.setdefault(port.fault, []).append(port.key)

    def curve(name: str, keys: Sequence[Key]) -> DelayCurve:
        return delay_curve(name, [wait for key in keys if (wait := waits[key]) is not None])

    by_size = sorted(families.items(), key=lambda item: (-len(item[1]), item[0]))
    scores = _step_scores(steps, asked, truth)
    port_days = sum(
        score.healthy * ((step.as_of - before.as_of) / _DAY)
        for score, step, before in zip(scores[1:], steps[1:], steps[:-1], strict=True)
    )
    first = scores[0].wasted if scores else 0
    wasted = sum(score.wasted for score in scores) - first
    return ReplayScore(
        curves=(curve("all faults", [port.key for port in material]), *(curve(*item) for item in by_size)),
        by_fault=tuple(curve(*item) for item in sorted(codes.items(), key=lambda item: (-len(item[1]), item[0]))),
        steps=tuple(scores),
        wasted_rate=wasted / port_days * 30_000 if port_days else float("nan"),
    )


def _wait(port: PlantedFault, steps: Sequence[ReplayStep], asked: Sequence[Actions]) -> tuple[float, bool] | None:
    """Return the days from onset to flag and True, or to the last step and False; None if it began after that."""
    since = port.since or steps[0].as_of
    if since > steps[-1].as_of:
        return None
    for step, actions in zip(steps, asked, strict=True):
        if step.as_of >= since and port.key in actions:
            return (step.as_of - since) / _DAY, True
    return (steps[-1].as_of - since) / _DAY, False


def delay_curve(name: str, waits: Sequence[tuple[float, bool]]) -> DelayCurve:
    """Return the share flagged by days since onset, from (days, flagged) of each fault. Never raises.

    Source
    ------
    Product-limit estimate: ``KAPLAN-MEIER``.

    Examples
    --------
    >>> curve = delay_curve("all", [(7, True), (14, True), (21, False), (28, True)])
    >>> curve.days, curve.share, curve.median_days
    ((7, 14, 28), (0.25, 0.5, 1.0), 14)
    """
    waiting, still = len(waits), 1.0
    days: list[float] = []
    share: list[float] = []
    for day in sorted({wait for wait, _ in waits}):
        flagged = sum(1 for wait, found in waits if found and wait == day)
        if flagged:
            still *= 1 - flagged / waiting
            days.append(day)
            share.append(1 - still)
        waiting -= sum(1 for wait, _ in waits if wait == day)
    median = next((day for day, part in zip(days, share, strict=True) if part >= 0.5), None)
    watched = max((wait for wait, _ in waits), default=0.0)
    return DelayCurve(name, len(waits), sum(found for _, found in waits), tuple(days), tuple(share), median, watched)


def _step_scores(
    steps: Sequence[ReplayStep], asked: Sequence[Actions], truth: Sequence[PlantedFault]
) -> list[StepScore]:
    """Count new and wasted visits of each step."""
    known = {port.key: port for port in truth}
    scores = []
    before: set[Key] = set()
    for step, actions in zip(steps, asked, strict=True):
        now = {key for key, action in actions.items() if action == "visit"}
        healthy = {port.key for port in truth if _healthy(port, step.as_of)}
        new = now - before
        scores.append(StepScore(step.as_of, len(new), sum(key in healthy or key not in known for key in new),
                                len(healthy)))  # fmt: skip
        before = now
    return scores


def _healthy(port: PlantedFault, moment: dt.datetime) -> bool:
    return port.fault == "sound" or port.fault in INNOCENT or (port.since is not None and port.since > moment)
