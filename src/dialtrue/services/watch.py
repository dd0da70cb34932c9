"""Watch: read a programme folder once and say which endpoints no longer count true, since when and why."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dialtrue.domain.errors.as_of import NothingKnownYet
from dialtrue.domain.errors.reads import NothingToWatch
from dialtrue.domain.watch_result import WatchResult
from dialtrue.engine.evidence import gather_evidence
from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.onsets import Onsets, candidate_onsets
from dialtrue.engine.pairing import Pairs, lay_pairs, start_against_looks
from dialtrue.engine.posterior import combine
from dialtrue.engine.scan import Calendar, Scan, Scanner, windows_of
from dialtrue.files.programme import Programme, open_programme
from dialtrue.files.reads import ReadsBatch, ReadsSource
from dialtrue.services.calendar import build_calendar
from dialtrue.services.fleet_records import FleetRecords, alarm_counts, gather, moment_of
from dialtrue.services.watch_findings import Judged, compose

Progress = Callable[[str, int, int], None]
MOST_PORT = 100
KEEP_ROWS = 40_000_000
"""Reads kept in memory between the look at their times and the count. Our assumption: one gigabyte; beyond it the
files are read twice."""


def _quiet(what: str, done: int, total: int) -> None:
    """Show nothing."""


def watch_folder(
    folder: Path,
    *,
    at: dt.datetime,
    as_of: dt.datetime | None = None,
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
    judged = judge_folder(folder, at=at, as_of=as_of, strict=strict, accept=accept, progress=progress)
    result = compose(judged, traces=traces)
    (progress or _quiet)("weighing the evidence", 3, 3)
    return result


def judge_folder(
    folder: Path,
    *,
    at: dt.datetime,
    as_of: dt.datetime | None = None,
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
    programme = open_programme(folder, at=at, strict=strict, accept=accept, as_of=as_of)
    if "fittings" not in programme.tables and programme.reads is None:
        raise NothingToWatch(folder=str(folder))
    batches: list[ReadsBatch] = []
    first_us, last_us, count, kept = _look_at_times(programme.reads, batches, say)
    if as_of is not None and not count and not _fitted(programme):
        raise NothingKnownYet(folder=folder.name, moment=f"{as_of:%Y-%m-%d %H:%M} UTC")
    records = gather(programme.tables, watch_start=moment_of(first_us) if count else None)
    calendar = build_calendar(first_us, last_us, programme.timezone, programme.tables.get("weather"))
    scan, heard = _count(programme.reads, batches if kept else None, records, calendar, say)
    say("weighing the evidence", 0, 3)
    case, onsets = _case(programme, records, scan, last_us)
    blocks = gather_evidence(case, onsets)
    say("weighing the evidence", 1, 3)
    posterior = combine(blocks, case.notes.onset_sum)
    say("weighing the evidence", 2, 3)
    return Judged(programme, records, case, onsets, blocks, posterior, heard, count, first_us, last_us)


def _fitted(programme: Programme) -> bool:
    fittings = programme.tables.get("fittings")
    return fittings is not None and fittings.num_rows > 0


def _look_at_times(source: ReadsSource | None, batches: list[ReadsBatch], say: Progress) -> tuple[int, int, int, bool]:
    """Return first and last time, the number of reads, and whether all batches were kept."""
    first, last, count, kept = np.iinfo(np.int64).max, 0, 0, True
    if source is not None:
        for batch in source.batches():
            count += len(batch.at_us)
            first, last = min(first, int(batch.at_us.min())), max(last, int(batch.at_us.max()))
            if kept and count <= KEEP_ROWS:
                batches.append(batch)
            elif kept:
                kept = False
                batches.clear()
            say("reading the reads", min(batch.bytes_done, source.total_bytes), source.total_bytes)
    return (first, last, count, kept) if count else (0, 0, 0, True)


class _Channels:
    """Turns a batch's endpoint codes and ports into channels, and notes what nothing is fitted to."""

    def __init__(self, source: ReadsSource, records: FleetRecords) -> None:
        self._source = source
        self._channels = records.channels
        self._table: NDArray[np.int32] = np.full((0, MOST_PORT), -1, np.int32)
        self.heard: dict[tuple[str, int], int] = {}

    def of(self, batch: ReadsBatch) -> NDArray[np.int32]:
        """Return the channel of each read, -1 where no fitting listens."""
        if len(self._table) < len(self._source.endpoints):
            self._grow()
        port = np.clip(batch.port, 0, MOST_PORT - 1)
        found = self._table[np.maximum(batch.endpoint, 0), port]
        channel: NDArray[np.int32] = np.where(batch.endpoint >= 0, found, -1).astype(np.int32)
        lost = channel < 0
        if lost.any():
            keys, counts = np.unique(batch.endpoint[lost].astype(np.int64) * MOST_PORT + port[lost], return_counts=True)
            for key, count in zip(keys, counts, strict=True):
                name = (self._source.endpoints[int(key) // MOST_PORT], int(key) % MOST_PORT)
                self.heard[name] = self.heard.get(name, 0) + int(count)
        return channel

    def _grow(self) -> None:
        code = {serial: number for number, serial in enumerate(self._source.endpoints)}
        self._table = np.full((len(code), MOST_PORT), -1, np.int32)
        for (serial, port), channel in self._channels.items():
            if serial in code and 0 <= port < MOST_PORT:
                self._table[code[serial], port] = channel


def _count(
    source: ReadsSource | None,
    batches: list[ReadsBatch] | None,
    records: FleetRecords,
    calendar: Calendar,
    say: Progress,
) -> tuple[Scan, dict[tuple[str, int], int]]:
    """Run the scan; reads that do not come in order of time are sorted and run again."""
    dials = records.dials
    windows = windows_of(records.fleet, dials.fitting, dials.at_us, len(records.channels))
    scanner = Scanner(records.fleet, calendar, windows)
    if source is None:
        return scanner.finish(), {}
    channels = _Channels(source, records)
    for batch in batches if batches is not None else source.batches():
        scanner.feed(channels.of(batch), batch.at_us, batch.index, batch.flag)
        say("counting", min(batch.bytes_done, source.total_bytes), source.total_bytes)
    scan = scanner.finish()
    if int(scan.figures["disorder"].sum()):
        whole = list(batches if batches is not None else source.batches())
        again = _Channels(source, records)
        channel = np.concatenate([again.of(batch) for batch in whole])
        at_us, index, flag = (np.concatenate([getattr(batch, name) for batch in whole]) for name in
                              ("at_us", "index", "flag"))  # fmt: skip
        order = np.argsort(at_us, kind="stable")
        scanner = Scanner(records.fleet, calendar, windows)
        scanner.feed(channel[order], at_us[order], index[order], flag[order])
        scan = scanner.finish()
    return scan, channels.heard


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
