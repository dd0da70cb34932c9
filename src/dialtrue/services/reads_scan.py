"""The reads of a programme counted in one pass: pieces of files on several threads, ports out of order once more."""

from __future__ import annotations

import os
import threading
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from dialtrue.engine.fleet import Ints
from dialtrue.engine.scan import Calendar, Scan, Scanner, windows_of
from dialtrue.engine.scan_order import in_order
from dialtrue.engine.scan_runs import Runs, find_runs
from dialtrue.files.reads import ReadsSource
from dialtrue.files.reads_aside import ReadsAside
from dialtrue.files.reads_batch import LeanReads
from dialtrue.services.fleet_records import FleetRecords

Progress = Callable[[str, int, int], None]
MOST_PORT = 100
KEEP_ROWS = 15_000_000
"""Reads kept in memory between the look at their times and the count. Our assumption: a third of a gigabyte; beyond it
files that do not tell their first and last time are read twice."""
MOST_THREADS = 8
"""Our assumption: beyond it the interpreter's lock is what waits."""


@dataclass(slots=True)
class ReadsSpan:
    """First and last time of the reads [us], and the reads themselves where the look at them has kept them."""

    first_us: int = 0
    last_us: int = 0
    any_reads: bool = False
    kept: list[LeanReads] | None = None


@dataclass(slots=True)
class CountedReads:
    """What one pass over the reads gave: the figures, what was heard that nothing is fitted to, and how many reads.

    ``overtaken`` lists fittings with a read older than figures of an earlier run: they have to be counted anew from all
    their reads.
    """

    scan: Scan
    heard: dict[tuple[str, int], int] = field(default_factory=dict)
    reads: int = 0
    overtaken: Ints = field(default_factory=lambda: np.zeros(0, np.int64))


def span_of(source: ReadsSource | None, say: Progress) -> ReadsSpan:
    """Find the first and last time of all reads: from the files' own statistics where they tell, else by a look."""
    if source is None:
        return ReadsSpan()
    told = source.span()
    if told is not None:
        return ReadsSpan(*told, any_reads=True)
    span, count, kept = ReadsSpan(np.iinfo(np.int64).max, 0), 0, []
    for piece in source.pieces():
        piece.decode()
        reads = piece.settle()
        if reads is None or not len(reads.at_us):
            continue
        count += len(reads.at_us)
        span.first_us = min(span.first_us, int(reads.at_us.min()))
        span.last_us = max(span.last_us, int(reads.at_us.max()))
        if count <= KEEP_ROWS:
            kept.append(reads)
        else:
            kept.clear()
        say("reading the reads", min(reads.bytes_done, source.total_bytes), source.total_bytes)
    if not count:
        return ReadsSpan()
    span.any_reads, span.kept = True, kept if count <= KEEP_ROWS else None
    return span


def count_reads(
    source: ReadsSource | None,
    records: FleetRecords,
    calendar: Calendar,
    *,
    say: Progress,
    kept: list[LeanReads] | None = None,
    earlier: Scan | None = None,
    threads: int | None = None,
) -> CountedReads:
    """Run the scan over all reads of a source.

    Parameters
    ----------
    source : ReadsSource or None
        None: there are no reads.
    records : FleetRecords
        The fleet, its channels and its dial reads.
    calendar : Calendar
        The watch window.
    say : callable
        Called as ``say(what, done, total)``.
    kept : list of LeanReads, optional
        All reads of the source, where a look at them has kept them.
    earlier : Scan, optional
        Figures to go on from; the source then holds only what came since. They are changed in place.
    threads : int, optional
        Threads to use; as many as the machine has by default. [1 or more]

    Returns
    -------
    CountedReads
        Without ``earlier``, ports whose reads do not come in order of time, or are corrected by a later arrival, have
        been counted again from their reads in order: the figures are those of a sorted file.

    Raises
    ------
    DialtrueError
        A file cannot be used.
    """
    dials = records.dials
    windows = windows_of(records.fleet, dials.fitting, dials.at_us, len(records.channels))
    scanner = Scanner(records.fleet, calendar, windows, scan=earlier)
    if source is None:
        return CountedReads(scanner.finish())
    before = scanner.scan.figures["disorder"].copy() if earlier is not None else None
    many = threads or min(len(os.sched_getaffinity(0)), MOST_THREADS)
    first = _FirstPass(scanner, Channels(source, records), say, source.total_bytes, numbered=kept is None)
    pieces: Iterable[_Pieceable] = source.pieces() if kept is None else (_Taken(reads) for reads in kept)
    _Sweep(iter(pieces), first, scanner.channels).run(many)
    # What the row groups stood in is given back before the evidence asks for room.
    pa.default_memory_pool().release_unused()
    figures = scanner.finish().figures
    counted = CountedReads(scanner.scan, first.channels.heard, first.reads)
    if before is not None:
        counted.overtaken = np.flatnonzero(figures["disorder"] > before)
        return counted
    wrong = figures["disorder"] > 0
    if source.arrival_written:
        # A read beyond the index's digits makes no clash with the one that corrects it.
        wrong |= (figures["clashes"] > 0) | (figures["beyond"] > 0)
    if wrong.any():
        _count_again(source, records, scanner, np.flatnonzero(wrong), first, many)
    return counted


def _count_again(
    source: ReadsSource, records: FleetRecords, scanner: Scanner, wrong: Ints, first: _FirstPass, threads: int
) -> None:
    """Collect the reads of the channels of some fittings, bring them in order and count them anew."""
    chosen = np.zeros(scanner.channels, bool)
    chosen[records.fleet.channel[wrong]] = True
    fittings = np.flatnonzero(chosen[records.fleet.channel])
    scanner.forget(fittings)
    twin = source.twin(received=True)
    with ReadsAside(scanner.channels, first.reads_of(chosen)) as aside:
        second = _SecondPass(Channels(twin, records), chosen, aside)
        pieces = (piece for number, piece in enumerate(twin.pieces()) if first.holds(number, chosen))
        _Sweep(pieces, second, scanner.channels).run(threads)
        for shelf in aside.shelves():
            channel, at_us, index, flag, known_us = shelf
            scanner.count(*in_order(channel, at_us, index, flag, known_us, scanner.channels))
    scanner.finish()


class _Pieceable(Protocol):
    def decode(self) -> None: ...
    def settle(self) -> LeanReads | None: ...


@dataclass(slots=True)
class _Taken:
    """Reads that an earlier look has kept."""

    reads: LeanReads

    def decode(self) -> None:
        """Nothing is left to unpack."""

    def settle(self) -> LeanReads | None:
        """Return the reads."""
        return self.reads


@dataclass(slots=True)
class Job:
    """Reads cut into runs, with the channel of each run (-1: nobody listens)."""

    reads: LeanReads
    runs: Runs
    channel: NDArray[np.int32]


class Channels:
    """Turns endpoint codes and ports into channels, and notes what nothing is fitted to."""

    def __init__(
        self, source: ReadsSource, records: FleetRecords, *, heard: dict[tuple[str, int], int] | None = None
    ) -> None:
        self._endpoints = source.endpoints
        self._fitted: dict[str, list[tuple[int, int]]] = defaultdict(list)
        for (serial, port), channel in records.channels.items():
            if 0 <= port < MOST_PORT:
                self._fitted[serial].append((port, channel))
        # As many columns as ports are fitted, and one that stands for all higher ports.
        highest = max((port for _, port in records.channels if port < MOST_PORT), default=0)
        self._table: NDArray[np.int32] = np.full((1024, highest + 2), -1, np.int32)
        self._known = 0
        self.heard: dict[tuple[str, int], int] = {} if heard is None else heard

    def job(self, reads: LeanReads) -> Job:
        """Cut reads into runs and find who listens to each."""
        self._grow()
        runs = find_runs(reads.code, reads.port)
        endpoint = np.where(runs.code >= 0, reads.words[runs.code], -1)
        port = np.clip(runs.port, 0, MOST_PORT - 1)
        column = np.minimum(port, self._table.shape[1] - 1)
        channel = np.where(endpoint >= 0, self._table[np.maximum(endpoint, 0), column], -1).astype(np.int32)
        lost = np.flatnonzero((channel < 0) & (endpoint >= 0))
        if len(lost):
            keys, places = np.unique(endpoint[lost].astype(np.int64) * MOST_PORT + port[lost], return_inverse=True)
            rows = np.bincount(places, weights=runs.rows[lost])
            for key, count in zip(keys.tolist(), rows.tolist(), strict=True):
                name = (self._endpoints[key // MOST_PORT], key % MOST_PORT)
                self.heard[name] = self.heard.get(name, 0) + int(count)
        return Job(reads, runs, channel)

    def _grow(self) -> None:
        while len(self._table) < len(self._endpoints):
            self._table = np.concatenate([self._table, np.full_like(self._table, -1)])
        for code in range(self._known, len(self._endpoints)):
            for port, channel in self._fitted.get(self._endpoints[code], ()):
                self._table[code, port] = channel
        self._known = len(self._endpoints)


class _FirstPass:
    """Counts every read, and remembers which piece holds which channels."""

    def __init__(
        self, scanner: Scanner, channels: Channels, say: Progress, total_bytes: int, *, numbered: bool
    ) -> None:  # fmt: skip
        self._scanner = scanner
        self.channels = channels
        self._say, self._total = say, total_bytes
        # Whether pieces are numbered as the files' own are.
        self._numbered = numbered
        self._held: list[tuple[NDArray[np.int32] | None, NDArray[np.uint8] | None]] = []
        self.reads = 0

    def prepare(self, reads: LeanReads | None) -> Job | None:
        """Cut a piece's reads into runs; in the order of the pieces."""
        if reads is None or not len(reads.at_us):
            self._held.append((None, None))
            return None
        job = self.channels.job(reads)
        self.reads += len(reads.at_us)
        listened = job.channel[job.channel >= 0]
        # As a list while that is the smaller, else a bit for each channel.
        if len(listened) * 32 > self._scanner.channels:
            bits = np.zeros(self._scanner.channels, bool)
            bits[listened] = True
            self._held.append((None, np.packbits(bits)))
        else:
            self._held.append((listened, None))
        self._say("counting", min(reads.bytes_done, self._total), self._total)
        return job

    def count(self, job: Job) -> None:
        """Fold a piece's reads into the figures; at the same time as others that share no channel with it."""
        self._scanner.count(job.runs.first, job.channel, job.reads.at_us, job.reads.index, job.reads.flag)

    def holds(self, number: int, chosen: NDArray[np.bool_]) -> bool:
        """Tell whether a piece of the files may hold reads of any of the chosen channels."""
        if not self._numbered:
            return True
        listed, bits = self._held[number] if number < len(self._held) else (None, None)
        if bits is not None:
            return bool(np.unpackbits(bits, count=len(chosen))[chosen].any())
        return listed is not None and bool(chosen[listed].any())

    def reads_of(self, chosen: NDArray[np.bool_]) -> int:
        """Return at most how many reads the chosen channels may have."""
        return self.reads if chosen.sum() * 2 > len(chosen) else int(self.reads * chosen.mean() * 4) + 1


class _SecondPass:
    """Sets the reads of chosen channels aside, in the order of the files."""

    def __init__(self, channels: Channels, chosen: NDArray[np.bool_], aside: ReadsAside) -> None:
        self._channels, self._chosen, self._aside = channels, chosen, aside

    def prepare(self, reads: LeanReads | None) -> Job | None:
        """Set a piece's reads aside; in the order of the pieces."""
        if reads is not None and len(reads.at_us):
            job = self._channels.job(reads)
            run = (job.channel >= 0) & self._chosen[np.maximum(job.channel, 0)]
            rows = np.repeat(run, job.runs.rows)
            some = reads.rows(rows)
            channel = np.repeat(job.channel[run], job.runs.rows[run])
            flag = some.flag if len(some.flag) else np.zeros(len(channel), np.int8)
            self._aside.add(channel, some.at_us, some.index, flag, some.known_us)
        return None

    def count(self, job: Job) -> None:
        """Nothing is left to count."""


class _Sweep:
    """Takes pieces on several threads: unpacked in any order, settled in theirs, counted where no channel is shared."""

    def __init__(self, pieces: Iterator[_Pieceable], work: _FirstPass | _SecondPass, channels: int) -> None:
        self._pieces = pieces
        self._work = work
        self._turn = threading.Condition()
        self._busy = np.zeros(channels, bool)
        self._pulled = self._settled = 0
        self._failure: BaseException | None = None

    def run(self, threads: int) -> None:
        """Take every piece; raises what a piece raises."""
        others = [threading.Thread(target=self._take_all, daemon=True) for _ in range(threads - 1)]
        for other in others:
            other.start()
        try:
            self._take_all()
        except BaseException as stopped:  # an interrupt: let the others end too
            self._fail(stopped)
        for other in others:
            other.join()
        if self._failure is not None:
            raise self._failure

    def _fail(self, failure: BaseException) -> None:
        with self._turn:
            self._failure = self._failure or failure
            self._turn.notify_all()

    def _take_all(self) -> None:
        try:
            while self._take_one():
                pass
        except Exception as failure:
            self._fail(failure)

    def _take_one(self) -> bool:
        with self._turn:
            piece = None if self._failure is not None else next(self._pieces, None)
            if piece is None:
                return False
            number = self._pulled
            self._pulled += 1
        piece.decode()
        with self._turn:
            self._turn.wait_for(lambda: self._settled == number or self._failure is not None)
            if self._failure is not None:
                return False
            job = self._work.prepare(piece.settle())
            held = job.channel[job.channel >= 0] if job is not None else np.zeros(0, np.int32)
            self._turn.wait_for(lambda: not self._busy[held].any() or self._failure is not None)
            self._busy[held] = True
            self._settled += 1
            self._turn.notify_all()
        if job is not None:
            self._work.count(job)
            with self._turn:
                self._busy[held] = False
                self._turn.notify_all()
        return True
