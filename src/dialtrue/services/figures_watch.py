"""What the programme figures need of a watch: who was heard when, dial beside index, findings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dialtrue.domain.errors import NothingToWatch
from dialtrue.domain.finding import Finding
from dialtrue.engine.pairing import Pairs, lay_pairs
from dialtrue.engine.scan import Scan
from dialtrue.files.programme import Programme, open_programme
from dialtrue.services.calendar import build_calendar
from dialtrue.services.findings_file import read_findings
from dialtrue.services.fleet_records import FleetRecords, alarm_counts, gather, moment_of
from dialtrue.services.reads_scan import count_reads, span_of
from dialtrue.services.watch import judge_folder
from dialtrue.services.watch_findings import compose

Progress = Callable[[str, int, int], None]


@dataclass(slots=True)
class Watched:
    """One look at a programme: its records and reads, and the findings that go with them."""

    programme: Programme
    records: FleetRecords
    scan: Scan
    pairs: Pairs
    alarms: NDArray[np.int64]
    heard: dict[tuple[str, int], int]
    reads: int
    last_us: int
    findings: Sequence[Finding]
    said: list[str]


def watched(
    folder: Path,
    *,
    at: dt.datetime,
    as_of: dt.datetime | None,
    findings: Path | None,
    accept: Sequence[str],
    progress: Progress | None,
) -> Watched:
    """Look at a programme: judge it, or count its reads and take the findings from a file.

    Parameters
    ----------
    folder : Path
        The programme folder.
    at : datetime
        The time of the run, aware.
    as_of : datetime, optional
        Use only what was known then.
    findings : Path, optional
        Findings as ``dialtrue watch`` wrote them; the folder is judged where None.
    accept : sequence of str
        Repairs to make.
    progress : callable, optional
        Called as ``progress(what, done, total)``.

    Returns
    -------
    Watched

    Raises
    ------
    NothingToWatch
        The folder has neither fittings nor reads.
    DialtrueError
        A file cannot be used.
    """
    if findings is None:
        judged = judge_folder(folder, at=at, as_of=as_of, accept=accept, progress=progress)
        result = compose(judged, traces=0)
        said = [*result.said, *_bad_rows(result.bad_rows)]
        return Watched(
            judged.programme, judged.records, judged.case.scan, judged.case.pairs, judged.case.alarm_counts,
            judged.heard, judged.reads, judged.last_us, result.findings, said,
        )  # fmt: skip
    say = progress or _quiet
    programme = open_programme(folder, at=at, accept=accept, as_of=as_of)
    if "fittings" not in programme.tables and programme.reads is None:
        raise NothingToWatch(folder=str(folder))
    found, told = read_findings(findings, zone=programme.timezone, at=at)
    span = span_of(programme.reads, say)
    records = gather(programme.tables, watch_start=moment_of(span.first_us) if span.any_reads else None)
    calendar = build_calendar(span.first_us, span.last_us, programme.timezone, None)
    counted_reads = count_reads(programme.reads, records, calendar, say=say, kept=span.kept)
    dials = records.dials
    pairs = lay_pairs(
        records.fleet, counted_reads.scan, fitting=dials.fitting, at_us=dials.at_us, dial_raw_l=dials.raw_l,
        misread=dials.misread, clock_sd_h=dials.clock_sd_h,
    )  # fmt: skip
    alarms = programme.tables.get("alarms")
    counts = alarm_counts(alarms.to_pylist() if alarms is not None else [], records)
    bad = dict(programme.problem_counts) | (programme.reads.problem_counts if programme.reads is not None else {})
    said = [*programme.notes, *records.said, *told, *_bad_rows(bad)]
    return Watched(
        programme, records, counted_reads.scan, pairs, counts, counted_reads.heard, counted_reads.reads, span.last_us,
        found, said,
    )  # fmt: skip


def _bad_rows(counts: dict[str, int]) -> list[str]:
    return [f"{file}: {count:,} bad rows left out; dialtrue watch lists them." for file, count in counts.items()]


def _quiet(what: str, done: int, total: int) -> None:
    """Show nothing."""
