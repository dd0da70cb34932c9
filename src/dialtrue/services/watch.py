"""Watch: read a programme folder once and say which endpoints no longer count true, since when and why."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

from dialtrue.domain.errors.as_of import NothingKnownYet
from dialtrue.domain.errors.reads import NothingToWatch
from dialtrue.domain.watch_result import WatchResult
from dialtrue.engine.evidence import gather_evidence
from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.onsets import Onsets, candidate_onsets
from dialtrue.engine.pairing import Pairs, lay_pairs, start_against_looks
from dialtrue.engine.posterior import combine
from dialtrue.engine.scan import Scan
from dialtrue.engine.scan_runs import make_ready
from dialtrue.files.programme import Programme, open_programme
from dialtrue.services.base_rates import base_rates
from dialtrue.services.calendar import build_calendar
from dialtrue.services.fleet_records import FleetRecords, alarm_counts, gather, moment_of
from dialtrue.services.reads_scan import count_reads, span_of
from dialtrue.services.watch_findings import Judged, compose
from dialtrue.services.watch_state import CountedNight, count_night

Progress = Callable[[str, int, int], None]


def _quiet(what: str, done: int, total: int) -> None:
    """Show nothing."""


def watch_folder(
    folder: Path,
    *,
    at: dt.datetime,
    as_of: dt.datetime | None = None,
    state: Path | None = None,
    keep: bool = True,
    strict: bool = False,
    accept: Sequence[str] = (),
    traces: int = 10,
    progress: Progress | None = None,
) -> WatchResult:
    """Judge every fitted port of a programme folder.

    Parameters
    ----------
    folder : Path
        Programme folder of plain files.
    at : datetime
        The time of the run, aware.
    as_of : datetime, optional
        Judge with only what was known at this moment, aware: the run is as if made then.
    state : Path, optional
        Folder of figures kept from run to run: only new reads are counted, and the folder is brought up to date.
    keep : bool
        Bring the folder of figures up to date; else it is only used.
    strict : bool
        Refuse files with bad rows.
    accept : sequence of str
        Repairs to make, as ``open_programme`` takes them.
    traces : int
        Findings for which the series of dial and index are kept for drawing. [0 or more]
    progress : callable, optional
        Called as ``progress(what, done, total)``.

    Returns
    -------
    WatchResult

    Raises
    ------
    NothingToWatch
        The folder has neither fittings nor reads.
    NothingKnownYet
        At ``as_of`` it had neither.
    DialtrueError
        A file cannot be used.

    Source
    ------
    Bayes' rule over the fault catalogue; see the blocks in ``dialtrue.engine.evidence``.
    """
    judged = judge_folder(
        folder, at=at, as_of=as_of, state=state, keep=keep, strict=strict, accept=accept, progress=progress
    )
    result = compose(judged, traces=traces)
    (progress or _quiet)("weighing the evidence", 3, 3)
    return result


def judge_folder(
    folder: Path,
    *,
    at: dt.datetime,
    as_of: dt.datetime | None = None,
    state: Path | None = None,
    keep: bool = True,
    strict: bool = False,
    accept: Sequence[str] = (),
    progress: Progress | None = None,
) -> Judged:
    """Work out all that a watch knows of a folder, before it is put into words; parameters as in ``watch_folder``.

    Raises
    ------
    NothingToWatch
        The folder has neither fittings nor reads.
    NothingKnownYet
        At ``as_of`` it had neither.
    DialtrueError
        A file cannot be used.
    """
    say = progress or _quiet
    # Getting the compiled loops ready takes a moment that the reading of tables leaves unused on another core.
    with ThreadPoolExecutor(1) as beside:
        beside.submit(make_ready)
        programme = open_programme(folder, at=at, strict=strict, accept=accept, as_of=as_of)
    if "fittings" not in programme.tables and programme.reads is None:
        raise NothingToWatch(folder=str(folder))
    counted = None
    if state is not None:
        taken = (*accept, *programme.decided_reads)
        counted = count_night(programme, state, at=at, as_of=as_of, accept=taken, keep=keep, say=say)
    if counted is None:
        counted = _count(programme, say)
    if as_of is not None and not counted.reads and not _fitted(programme):
        raise NothingKnownYet(folder=folder.name, moment=f"{as_of:%Y-%m-%d %H:%M} UTC")
    programme.notes += counted.said
    records = counted.records
    say("weighing the evidence", 0, 3)
    case, onsets = _case(programme, records, counted.scan, counted.last_us)
    blocks = gather_evidence(case, onsets)
    rates = base_rates(programme.tables, records, case, stated=programme.watch.prior)
    if rates.block is not None:
        blocks.append(rates.block)
    records.said.extend(rates.said)
    say("weighing the evidence", 1, 3)
    posterior = combine(blocks, case.notes.onset_sum, prior=rates.shares, group_log_factor=rates.log_factor)
    say("weighing the evidence", 2, 3)
    return Judged(
        programme, records, case, onsets, blocks, posterior, counted.heard, counted.reads, counted.first_us,
        counted.last_us, rates.settled_us, rates.log_factor,
    )  # fmt: skip


def _count(programme: Programme, say: Progress) -> CountedNight:
    """Count every read."""
    span = span_of(programme.reads, say)
    records = gather(programme.tables, watch_start=moment_of(span.first_us) if span.any_reads else None)
    calendar = build_calendar(span.first_us, span.last_us, programme.timezone, programme.tables.get("weather"))
    counted = count_reads(programme.reads, records, calendar, say=say, kept=span.kept)
    return CountedNight(records, counted.scan, counted.heard, counted.reads, span.first_us, span.last_us)


def _fitted(programme: Programme) -> bool:
    fittings = programme.tables.get("fittings")
    return fittings is not None and fittings.num_rows > 0


def _case(programme: Programme, records: FleetRecords, scan: Scan, last_us: int) -> tuple[Case, Onsets]:
    fleet, dials = records.fleet, records.dials

    def lay() -> Pairs:
        return lay_pairs(
            fleet, scan, fitting=dials.fitting, at_us=dials.at_us, dial_raw_l=dials.raw_l, misread=dials.misread,
            clock_sd_h=dials.clock_sd_h,
        )  # fmt: skip

    pairs = lay()
    doubted, confirmed = start_against_looks(fleet, scan, pairs, dials.raw_l)
    if doubted.any():
        # The keyed start agrees with every later look: the start was right and the text of the dial is what slipped.
        start_l = fleet.start_count * fleet.quantum_index_l
        fleet.dial_fit_l = np.where(doubted, start_l, fleet.dial_fit_l)
        pairs = lay()
    alarms = programme.tables.get("alarms")
    counts = alarm_counts(alarms.to_pylist() if alarms is not None else [], records)
    end = np.minimum(fleet.removed_us, last_us if last_us else fleet.fit_us)
    case = Case(fleet, scan, pairs, end, counts, records.rivals, records.partner, records.compound, doubted, confirmed)
    onsets = candidate_onsets(fleet, scan, pairs.start_gap)
    return case, onsets
