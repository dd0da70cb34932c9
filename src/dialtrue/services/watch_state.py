"""The watch from night to night: figures kept, only new reads counted, the same result as from all reads.

The figures that are kept hold the reads up to a horizon, some days before the run: what comes late falls behind it
seldom. Reads after the horizon are counted anew at every run. What falls behind it (late and corrected reads, changed
records, looks at the dial that became known later) has its ports counted again from all their reads, and no other.
"""

from __future__ import annotations

import datetime as dt
from collections import deque
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from dialtrue.domain.errors.base import DialtrueError
from dialtrue.domain.errors.watch_state import StateDamaged, StateFolderTaken, StateOfAnotherProgramme
from dialtrue.domain.watch_result import RowProblem
from dialtrue.engine.fleet import Ints
from dialtrue.engine.kept_scan import KeptScan, block_of, closed, nothing_kept, opened, part_of, rearranged, replaced
from dialtrue.engine.scan import Calendar, Scan, Scanner, Windows, windows_of
from dialtrue.engine.scan_kernel import DAY_US, HOUR_US
from dialtrue.engine.scan_order import find_astray, in_order
from dialtrue.files.as_of import weather_step
from dialtrue.files.programme import Programme
from dialtrue.files.reads import Piece, ReadsSource
from dialtrue.files.reads_batch import LeanReads
from dialtrue.files.reads_seen import SeenFile, compare, seen_now, settled
from dialtrue.files.watch_state_file import StateFile, load_state, save_state
from dialtrue.services.calendar import build_calendar
from dialtrue.services.fleet_records import FleetRecords, gather, moment_of, us_of
from dialtrue.services.kept_fittings import fittings_table, match_fittings, missed_looks, records_part
from dialtrue.services.kept_state import KeptState, packed, unpacked
from dialtrue.services.reads_by_time import NEVER_US, SinceLast, Span, UpTo
from dialtrue.services.reads_scan import Channels, Progress, count_reads, span_of

HELD_BACK_H = 48
"""Reads of so many hours before a run are counted anew at the next. Our assumption: most late reads come within two
days; more costs memory, less sends more ports back to their old reads. [h]"""
WEATHER_WAIT_D = 14
"""So long the horizon waits for weather that has not come. Our assumption. [d]"""
MOST_NEW = 200_000_000
"""New reads that are held in memory at most, twenty bytes each and as much again to bring them in order; beyond it all
reads are counted again, piece by piece. Our assumption: three nights of two million ports."""
MOST_AGAIN = 0.5
"""Share of ports from which all are counted again. Our assumption."""


@dataclass(slots=True)
class CountedNight:
    """What the watch goes on with; ``said`` holds sentences on what was counted again and why."""

    records: FleetRecords
    scan: Scan
    heard: dict[tuple[str, int], int]
    reads: int
    first_us: int
    last_us: int
    said: list[str] = field(default_factory=list)


class _CountAll(Exception):
    """All reads have to be counted again; the words say why."""


def count_night(
    programme: Programme,
    folder: Path,
    *,
    at: dt.datetime,
    as_of: dt.datetime | None,
    accept: tuple[str, ...],
    keep: bool,
    say: Progress,
) -> CountedNight | None:
    """Count what came since the last run, and keep the figures.

    Parameters
    ----------
    programme : Programme
        As opened; its reads have not been taken.
    folder : Path
        Where the figures are kept.
    at, as_of : datetime
        The time of the run, and the moment looked back to if any.
    accept : tuple of str
        Repairs accepted: they decide what a read means.
    keep : bool
        Keep the new figures; else the folder is left as it is.
    say : callable
        Called as ``say(what, done, total)``.

    Returns
    -------
    CountedNight or None
        None where there are no reads.

    Raises
    ------
    StateFolderTaken
        The folder holds other things.
    DialtrueError
        A file of the programme cannot be used, or the state not written.
    """
    source = programme.reads
    if source is None:
        return None
    source.with_arrival()
    night = _Night(programme, source, folder, at if as_of is None else as_of, as_of, accept, say)
    said: list[str] = []
    counted = False
    try:
        kept = night.load()
        if kept is not None:
            night.go_on(kept)
            counted = True
    except StateFolderTaken:
        raise
    except DialtrueError as error:
        if not isinstance(error, StateDamaged | StateOfAnotherProgramme) and not error.code.startswith("STATE-"):
            raise
        said.append(error.rendered())
    except _CountAll as why:
        said.append(f"All reads were counted again: {why}.")
    if not counted and not night.count_all():
        return None
    night.said[:0] = said
    if keep and not night.looks_back:
        night.save()
    return night.finish()


class _Night:
    """One run: what it has read, and what it will keep."""

    def __init__(
        self, programme: Programme, source: ReadsSource, folder: Path, run: dt.datetime, as_of: dt.datetime | None,
        accept: tuple[str, ...], say: Progress,
    ) -> None:  # fmt: skip
        self.programme, self.source, self.folder, self.say = programme, source, folder, say
        self.known_us = NEVER_US if as_of is None else us_of(as_of, 0)
        self.key = {"time zone": programme.timezone, "repairs accepted": sorted(accept)}
        self.horizon_us = _horizon(us_of(run, 0), programme)
        self.looks_back = False
        self.files: dict[int, SeenFile] = {}
        self.problems: list[dict[str, Any]] = []
        self.counts: dict[str, int] = {}
        self.after: list[LeanReads] = []
        self.heard: dict[tuple[str, int], int] = {}
        self.span = Span()
        self.scan: KeptScan | None = None
        self.calendar: Calendar | None = None
        self.records: FleetRecords | None = None
        self.fittings: pa.Table | None = None
        self.channels: Channels | None = None
        self.said: list[str] = []
        self.before: StateFile | None = None

    def load(self) -> KeptState | None:
        """Return the state that this run can go on from, None where there is none."""
        self.say("checking the figures kept", 0, 1)
        file = load_state(self.folder)
        self.say("checking the figures kept", 1, 1)
        if file is None:
            return None
        kept = unpacked(file, self.folder)
        if kept.known_us > self.known_us:
            self.looks_back = True
            raise _CountAll("the figures kept know more than was known at the moment asked for, and stay as they are")
        for what, now in self.key.items():
            if kept.facts["key"].get(what) != now:
                raise StateOfAnotherProgramme(folder=str(self.folder), what=what)
        return kept if kept.facts["reads"] else None

    def go_on(self, kept: KeptState) -> None:
        """Count what came since; raises ``_CountAll`` where that cannot be told from what was counted."""
        self.horizon_us = max(self.horizon_us, kept.horizon_us)
        self.say("joining the records", 0, 1)
        begin, counted = self._choose(kept)
        first_us = int(kept.facts["first_us"])
        records = gather(self.programme.tables, watch_start=moment_of(first_us))
        heard = kept.heard
        matched = match_fittings(kept.file.fittings, records.fleet, horizon_us=kept.horizon_us, heard=set(heard))
        self.say("joining the records", 1, 1)
        if matched.gone:
            raise _CountAll("a fitting was taken out of the records")
        parted = SinceLast(kept.horizon_us, kept.known_us, self.horizon_us, self.files, counted)
        self.source.choose(begin)
        for piece in _decoded(self.source):
            reads = piece.settle()
            if reads is not None:
                parted.take(reads)
                self.say("reading what is new", min(reads.bytes_done, self.source.total_bytes), self.source.total_bytes)
            if parted.held > MOST_NEW:
                raise _CountAll("as many reads have come as are not to be held at once")
        self.source.choose(None)
        self.after = parted.after
        self.span = Span(int(kept.facts["reads"]), first_us, int(kept.facts["last_us"]))
        for reads in (*parted.late, *parted.due):
            self.span.add(reads.at_us)
        if moment_of(self.span.low_us).date() != moment_of(first_us).date():
            raise _CountAll("reads have come that are older than any before")
        self.say("counting what is new", 0, 1)
        calendar = self._calendar(kept)
        self.heard = {name: count for name, count in heard.items() if name not in records.channels}
        self.channels = channels = Channels(self.source, records, heard=self.heard)
        scan = rearranged(kept.scan, matched.place)
        anew = matched.anew | missed_looks(scan, records.dials, records.fleet.size)
        for reads in parted.late:
            anew |= np.isin(records.fleet.channel, channels.job(reads).channel)
        self.records, self.fittings = records, fittings_table(records.fleet)
        first_block = block_of(kept.horizon_us - DAY_US, scan.start_us)
        scan, spiked = self._count_due(scan, parted.due, records, calendar, channels, first_block)
        self.say("counting what is new", 1, 1)
        anew |= spiked
        self.scan, self.calendar = scan, calendar
        if anew.any():
            chosen = np.flatnonzero(np.isin(records.fleet.channel, records.fleet.channel[anew]))
            if len(chosen) > MOST_AGAIN * records.fleet.size and records.fleet.size > 20:
                raise _CountAll("late reads or changed records touch most ports")
            self._count_again(records, calendar, chosen)
            self.said.append(
                f"{len(chosen):,} of {records.fleet.size:,} ports were counted again from all their reads: late or "
                "corrected reads, changed records, or looks at the dial that became known later."
            )
        self.before = kept.file
        self._take_over(kept, begin)

    def _choose(self, kept: KeptState) -> tuple[dict[int, int], dict[int, int]]:
        """Return which files to read, from which row group on, and how many rows of each were read before."""
        before = {item["name"]: SeenFile(**item) for item in kept.facts["files"]}
        begin: dict[int, int] = {}
        counted: dict[int, int] = {}
        for place, (path, name) in enumerate(zip(self.source.paths, self.source.names, strict=True)):
            old = before.pop(name, None)
            if old is None:
                self.files[place], begin[place] = seen_now(path, name), 0
                continue
            now, seen = compare(path, old)
            self.files[place] = seen
            done = old.high_us <= kept.horizon_us and not old.open_end
            if now == "changed":
                if old.rows and old.low_us <= kept.horizon_us:
                    raise _CountAll(f"{name} is not what it was")
                _unread(seen)
                begin[place] = 0
            elif now == "grown" and old.open_end:
                raise _CountAll(f"{name} has grown, and some of its rows could not be counted before")
            elif now == "grown" and done and old.absolute and path.name.lower().endswith(".parquet"):
                begin[place] = len(old.marks)
            elif now == "grown" or not done:
                # Of a file that is the same every row was there before: what it told then is told by time alone.
                begin[place], counted[place] = 0, NEVER_US if now == "same" else old.rows
                _unread(seen)
        for old in before.values():
            if old.rows and old.low_us <= kept.horizon_us:
                raise _CountAll(f"{old.name} is not there any more")
        return begin, counted

    def _calendar(self, kept: KeptState | None) -> Calendar:
        """Return the whole window; raises where its old hours are not what they were when their reads were counted."""
        last_us = max([self.span.high_us, *(int(reads.at_us.max()) for reads in self.after)])
        first_us = min([self.span.low_us, *(int(reads.at_us.min()) for reads in self.after)])
        weather = self.programme.tables.get("weather")
        calendar = build_calendar(first_us, last_us, self.programme.timezone, weather)
        if kept is not None:
            if calendar.start_us != kept.scan.start_us:
                raise _CountAll("the window of days has moved on")
            hours = len(kept.calendar.hour_local)
            for name in ("hour_local", "wet", "cold"):
                if not np.array_equal(getattr(calendar, name)[:hours], getattr(kept.calendar, name)):
                    raise _CountAll("the weather of earlier hours has changed")
        return calendar

    def _count_due(
        self,
        kept: KeptScan,
        due: list[LeanReads],
        records: FleetRecords,
        calendar: Calendar,
        channels: Channels,
        first_block: int,
    ) -> tuple[KeptScan, NDArray[np.bool_]]:
        """Fold the reads up to the horizon into the figures; mark ports of which a day before the window changed."""
        fleet = records.fleet
        windows = _windows(records)
        scan = opened(kept, fleet, calendar, windows, first_block=first_block)
        scanner = Scanner(fleet, part_of(calendar, first_block), windows, scan=scan)
        spikes, last_us = scan.figures["spikes"].copy(), scan.figures["last_us"].copy()
        _feed(scanner, due, channels)
        spiked = (scan.figures["spikes"] > spikes) & (last_us < scan.calendar.start_us)
        return closed(kept, scan, windows, first_block=first_block), spiked

    def _count_again(self, records: FleetRecords, calendar: Calendar, chosen: Ints) -> None:
        """Count some ports from all their reads up to the horizon, and put their figures in place."""
        assert self.scan is not None
        part = records_part(records, chosen)
        self.source.choose(None)
        twin = self.source.twin(received=True)
        twin.sieve = UpTo(self.horizon_us)
        twin.only(set(part.fleet.endpoint_serial))
        counted = count_reads(twin, part, calendar, say=self.say)
        windows = _windows(part)
        other = closed(nothing_kept(self.scan.start_us), counted.scan, windows, first_block=0)
        self.scan = replaced(self.scan, chosen, other)

    def count_all(self) -> bool:
        """Count every read; False where there is none."""
        self.source.choose(None)
        self.files = {
            place: seen_now(path, name)
            for place, (path, name) in enumerate(zip(self.source.paths, self.source.names, strict=True))
        }
        self.source.left_for_later.clear()
        span = span_of(self.source, self.say)
        if not span.any_reads:
            return False
        records = gather(self.programme.tables, watch_start=moment_of(span.first_us))
        self.records, self.fittings = records, fittings_table(records.fleet)
        weather = self.programme.tables.get("weather")
        calendar = build_calendar(span.first_us, span.last_us, self.programme.timezone, weather)
        sieve = UpTo(self.horizon_us, self.files)
        kept = None if span.kept is None else [sieve.take(reads) for reads in span.kept]
        self.source.sieve = sieve
        try:
            counted = count_reads(self.source, records, calendar, say=self.say, kept=kept)
        finally:
            self.source.sieve = None
        self.after, self.span, self.heard = sieve.after, sieve.through, counted.heard
        windows = _windows(records)
        self.scan = closed(nothing_kept(calendar.start_us), counted.scan, windows, first_block=0)
        self.calendar, self.before, self.channels = calendar, None, None
        self._take_over(None, None)
        return True

    def _take_over(self, kept: KeptState | None, begin: dict[int, int] | None) -> None:
        """Note what is to be said of files that were not read again, and which rows may count later."""
        source, skipped = self.source, set()
        if kept is not None and begin is not None:
            skipped = {self.files[place].name for place in self.files if begin.get(place) != 0}
            for problem in kept.facts["problems"]:
                if problem["file"] in skipped:
                    source.problems.append(RowProblem(**problem))
            for name, count in kept.facts["counts"].items():
                if name in skipped:
                    source.problem_counts[name] = source.problem_counts.get(name, 0) + count
        told: dict[str, int] = {}
        ahead = set()
        for problem in source.problems:
            told[problem.file] = told.get(problem.file, 0) + 1
            if problem.code == "TIME-TOO-LATE":
                ahead.add(problem.file)
        ahead |= {name for name, count in source.problem_counts.items() if count > told.get(name, 0)}
        for place, seen in self.files.items():
            if seen.name not in skipped:
                seen.open_end = place in source.left_for_later or seen.name in ahead
                self.files[place] = settled(source.paths[place], seen)
        self.problems = [asdict(problem) for problem in source.problems]
        self.counts = dict(source.problem_counts)

    def save(self) -> None:
        """Keep the figures up to the horizon."""
        assert self.scan is not None
        assert self.calendar is not None
        assert self.fittings is not None
        calendar = self.calendar
        hours = max(0, min(len(calendar.hour_local), (self.horizon_us - calendar.start_us) // HOUR_US))
        old = Calendar(calendar.start_us, *(getattr(calendar, name)[:hours] for name in ("hour_local", "wet", "cold")))
        facts = {
            "key": self.key, "known_us": self.known_us, "horizon_us": self.horizon_us,
            "first_us": self.span.low_us, "last_us": self.span.high_us, "reads": self.span.reads,
            "heard": [[serial, port, rows] for (serial, port), rows in self.heard.items()],
            "files": [seen.as_dict() for seen in self.files.values()], "problems": self.problems, "counts": self.counts,
        }  # fmt: skip
        self.say("keeping the figures", 0, 1)
        save_state(self.folder, packed(self.scan, old, self.fittings, facts, self.before))
        self.say("keeping the figures", 1, 1)

    def finish(self) -> CountedNight:
        """Count the reads after the horizon on top, for tonight only."""
        assert self.scan is not None
        assert self.calendar is not None
        assert self.records is not None
        records, calendar = self.records, self.calendar
        self.say("counting the last days", 0, 1)
        windows = _windows(records)
        scan = opened(self.scan, records.fleet, calendar, windows, first_block=0)
        scanner = Scanner(records.fleet, calendar, windows, scan=scan)
        heard = dict(self.heard)
        span = Span(self.span.reads, self.span.low_us, self.span.high_us)
        for reads in self.after:
            span.add(reads.at_us)
        channels = self.channels or Channels(self.source, records)
        channels.heard = heard
        _feed(scanner, self.after, channels)
        self.say("counting the last days", 1, 1)
        return CountedNight(records, scanner.finish(), heard, span.reads, span.low_us, span.high_us, self.said)


def _horizon(run_us: int, programme: Programme) -> int:
    """Return up to when reads are kept counted: some days before the run, at a whole hour, not beyond the weather."""
    horizon = run_us - HELD_BACK_H * HOUR_US
    weather = programme.tables.get("weather")
    if weather is not None and weather.num_rows:
        step = weather_step(weather) // dt.timedelta(microseconds=1)
        end = us_of(pc.max(weather["at"]).as_py(), 0) + step
        if end > run_us - WEATHER_WAIT_D * DAY_US:
            horizon = min(horizon, end)
    return horizon // HOUR_US * HOUR_US


def _decoded(source: ReadsSource) -> Iterator[Piece]:
    """Yield a source's pieces unpacked, the next ones being unpacked meanwhile."""
    with ThreadPoolExecutor(2) as pool:
        waiting: deque[tuple[Piece, Future[None]]] = deque()
        for piece in source.pieces():
            waiting.append((piece, pool.submit(piece.decode)))
            if len(waiting) > 2:
                first, done = waiting.popleft()
                done.result()
                yield first
        for first, done in waiting:
            done.result()
            yield first


def _windows(records: FleetRecords) -> Windows:
    dials = records.dials
    return windows_of(records.fleet, dials.fitting, dials.at_us, len(records.channels))


def _unread(seen: SeenFile) -> None:
    """Forget how many rows a file had: they are about to be read again."""
    seen.rows, seen.low_us, seen.high_us = 0, 0, 0


def _feed(scanner: Scanner, parts: list[LeanReads], channels: Channels) -> None:
    """Count reads; those of channels that are out of order or corrected are brought in order first."""
    jobs = [channels.job(reads) for reads in parts]
    last_us = np.full(scanner.channels, -NEVER_US, np.int64)
    astray = np.zeros(scanner.channels, bool)
    for job in jobs:
        find_astray(job.runs.first, job.channel, job.reads.at_us, last_us, astray)
    aside: list[list[NDArray[Any]]] = []
    for job in jobs:
        reads, runs = job.reads, job.runs
        led = (job.channel >= 0) & astray[np.maximum(job.channel, 0)]
        if led.any():
            rows = np.repeat(led, runs.rows)
            flag = reads.flag[rows] if len(reads.flag) else np.zeros(int(rows.sum()), np.int8)
            channel = np.repeat(job.channel[led], runs.rows[led])
            aside.append([channel, reads.at_us[rows], reads.index[rows], flag, reads.known_us[rows]])
        scanner.count(runs.first, np.where(led, -1, job.channel).astype(np.int32), reads.at_us, reads.index, reads.flag)
    if aside:
        channel, at_us, index, flag, known_us = (np.concatenate(column) for column in zip(*aside, strict=True))
        scanner.count(*in_order(channel, at_us, index, flag, known_us, scanner.channels))
