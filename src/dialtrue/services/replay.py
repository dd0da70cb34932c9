"""Replay a season: run the watch as of one moment after another, as if each run had been made then."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from pathlib import Path

from dialtrue.domain.errors.as_of import BadStep, NothingKnownYet, StepsBackwards
from dialtrue.domain.errors.reads import NothingToWatch
from dialtrue.domain.replay_result import Asked, PlantedFault, ReplayResult, ReplayStep
from dialtrue.domain.watch_result import WatchResult
from dialtrue.files.programme import open_programme
from dialtrue.files.replay_steps import HalfDone
from dialtrue.services.detection_delay import score_replay
from dialtrue.services.fleet_records import moment_of
from dialtrue.services.watch import Progress, watch_folder

_STEP = re.compile(r"([1-9]\d{0,4})\s*([dh])")


def step_named(text: str) -> dt.timedelta:
    """Return the step between runs that a text such as ``7d`` or ``12h`` names.

    Raises
    ------
    BadStep
        It names none.

    Examples
    --------
    >>> step_named("7d"), step_named("12h")
    (datetime.timedelta(days=7), datetime.timedelta(seconds=43200))
    """
    found = _STEP.fullmatch(text.strip().lower())
    if found is None:
        raise BadStep(text=text[:40])
    count = int(found[1])
    return dt.timedelta(days=count) if found[2] == "d" else dt.timedelta(hours=count)


def steps_between(first: dt.datetime, last: dt.datetime, every: dt.timedelta) -> list[dt.datetime]:
    """Return the moments of the runs: from ``first`` on by steps, and ``last`` itself.

    Raises
    ------
    StepsBackwards
        ``last`` lies before ``first``.
    """
    if last < first:
        raise StepsBackwards(first=f"{first:%Y-%m-%d %H:%M} UTC", last=f"{last:%Y-%m-%d %H:%M} UTC")
    moments = [first + k * every for k in range((last - first) // every + 1)]
    return moments if moments[-1] == last else [*moments, last]


def season_of(folder: Path, *, at: dt.datetime, progress: Progress | None = None) -> tuple[dt.datetime, dt.datetime]:
    """Return the moments at which the first and the last read of a programme were known.

    Raises
    ------
    NothingToWatch
        The folder has no read.
    DialtrueError
        A file cannot be used.
    """
    source = open_programme(folder, at=at, as_of=at).reads
    spans = []
    for batch in source.batches() if source is not None else ():
        spans.append((int(batch.known_us.min()), int(batch.known_us.max())))
        if progress is not None and source is not None:
            progress("looking at the season", min(batch.bytes_done, source.total_bytes), source.total_bytes)
    if not spans:
        raise NothingToWatch(folder=str(folder))
    return moment_of(min(low for low, _ in spans)), moment_of(max(high for _, high in spans))


def replay_folder(
    folder: Path,
    *,
    at: dt.datetime,
    moments: Sequence[dt.datetime],
    keep: HalfDone,
    truth: Sequence[PlantedFault] | None = None,
    strict: bool = False,
    accept: Sequence[str] = (),
    progress: Progress | None = None,
) -> ReplayResult:
    """Run the watch as of each moment in turn.

    Parameters
    ----------
    folder : Path
        Programme folder.
    at : datetime
        The present moment, aware.
    moments : sequence of datetime
        When the runs are made, rising, aware, not after ``at``.
    keep : HalfDone
        Steps run before; each new one is kept there as soon as it is done.
    truth : sequence of PlantedFault, optional
        What is true of each port, for the score.
    strict, accept
        As in ``watch_folder``.
    progress : callable, optional
        Called as ``progress(what, done, total)``.

    Returns
    -------
    ReplayResult

    Raises
    ------
    DialtrueError
        A file cannot be used; steps done before are kept.

    Source
    ------
    Definition: nothing that was not known at a step is used at it.
    """
    steps: list[ReplayStep] = []
    taken_up = 0
    for number, moment in enumerate(moments):
        if progress is not None:
            progress("replaying", number, len(moments))
        step = keep.step(moment)
        if step is None:
            step = _run(folder, moment, at=at, state=keep.figures, strict=strict, accept=accept)
            keep.keep(step)
        else:
            taken_up += 1
        steps.append(step)
    if progress is not None:
        progress("replaying", len(moments), len(moments))
    said = (f"{taken_up:,} of {len(moments):,} steps were taken up from an interrupted replay.",) if taken_up else ()
    return ReplayResult(tuple(steps), score_replay(steps, truth) if truth is not None else None, said)


def _run(
    folder: Path, moment: dt.datetime, *, at: dt.datetime, state: Path, strict: bool, accept: Sequence[str]
) -> ReplayStep:  # fmt: skip
    try:
        result = watch_folder(folder, at=at, as_of=moment, state=state, strict=strict, accept=accept, traces=0)
    except NothingKnownYet:
        return ReplayStep(moment, 0, 0, ())
    return ReplayStep(moment, result.summary.ports, result.summary.reads, _asked(result))


def _asked(result: WatchResult) -> tuple[Asked, ...]:
    names = Asked.__dataclass_fields__
    return tuple(
        Asked(**{name: getattr(finding, name) for name in names})
        for finding in result.findings
        if finding.action != "none"
    )
