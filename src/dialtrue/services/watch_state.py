"""The watch from night to night: figures kept, only new reads counted, the same result as from all reads.

The figures that are kept hold the reads up to a horizon, some days before the run: what comes late falls behind it
seldom. Reads after the horizon are counted anew at every run. What falls behind it (late and corrected reads, changed
records, looks at the dial that became known later) has its ports counted again from all their reads, and no other.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from dialtrue.domain.errors.watch_state import StateDamaged, StateOfAnotherProgramme, StateOfAnotherVersion
from dialtrue.engine.fleet import Ints
from dialtrue.engine.kept_scan import KeptScan, block_of, closed, nothing_kept, opened, part_of, rearranged, replaced
from dialtrue.engine.scan import Calendar, Scan, Scanner, Windows, windows_of
from dialtrue.engine.scan_kernel import DAY_US, HOUR_US
from dialtrue.files.as_of import weather_step
from dialtrue.files.programme import Programme
from dialtrue.files.reads import ReadsSource
from dialtrue.files.reads_batch import LeanReads
from dialtrue.files.watch_state_file import StateFile, load_state, save_state
from dialtrue.services.calendar import build_calendar
from dialtrue.services.fleet_records import FleetRecords, gather, moment_of, us_of
from dialtrue.services.kept_fittings import fittings_table, match_fittings, missed_looks, records_part
from dialtrue.services.kept_state import KeptState, packed, unpacked
from dialtrue.services.night_files import CountAll, NightFiles
from dialtrue.services.night_reads import decoded, feed
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
    except (StateDamaged, StateOfAnotherProgramme, StateOfAnotherVersion) as error:
        said.append(error.rendered())
    except CountAll as why:
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
        self.files = NightFiles(source)
        self.after: list[LeanReads] = []
        self.heard: dict[tuple[str, int], int] = {}
        self.span, self.first_us, self.last_us = Span(), 0, 0
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
            raise CountAll("the figures kept know more than was known at the moment asked for, and stay as they are")
        for what, now in self.key.items():
            if kept.facts["key"].get(what) != now:
                raise StateOfAnotherProgramme(folder=str(self.folder), what=what)
        return kept if kept.facts["reads"] else None

    def go_on(self, kept: KeptState) -> None:
        """Count what came since; raises ``CountAll`` where that cannot be told from what was counted."""
        self.horizon_us = max(self.horizon_us, kept.horizon_us)
        self.say("joining the records", 0, 1)
        self.files.since(kept)
        first_us = int(kept.facts["first_us"])
        records = gather(self.programme.tables, watch_start=moment_of(first_us))
        heard = kept.heard
        matched = match_fittings(kept.file.fittings, records.fleet, horizon_us=kept.horizon_us, heard=set(heard))
        self.say("joining the records", 1, 1)
        if matched.gone:
            raise CountAll("a fitting was taken out of the records")
        parted = SinceLast(
            kept.horizon_us, kept.known_us, self.horizon_us, self.files.seen, self.files.counted
        )  # fmt: skip
        for piece in decoded(self.source):
            reads = piece.settle()
            if reads is not None:
                parted.take(reads)
                self.say("reading what is new", min(reads.bytes_done, self.source.total_bytes), self.source.total_bytes)
            if parted.held > MOST_NEW:
                raise CountAll("as many reads have come as are not to be held at once")
        self.source.choose(None)
        pa.default_memory_pool().release_unused()
        self.after = parted.after
        self.span = Span(int(kept.facts["reads"]), first_us, int(kept.facts["last_us"]))
        for reads in (*parted.late, *parted.due):
            self.span.add(reads.at_us)
        self._bound(self.source.span())
        if moment_of(self.first_us).date() != moment_of(first_us).date():
            raise CountAll("reads have come that are older than any before")
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
                raise CountAll("late reads or changed records touch most ports")
            self._count_again(records, calendar, chosen)
            self.said.append(
                f"{len(chosen):,} of {records.fleet.size:,} ports were counted again from all their reads: late or "
                "corrected reads, changed records, or looks at the dial that became known later."
            )
        self.before = kept.file
        self.files.settle(kept)

    def _bound(self, told: tuple[int, int] | None) -> None:
        """Set first and last time: as the files' statistics tell them, as a run over all reads would, else as found."""
        spans = [(self.span.low_us, self.span.high_us)]
        spans += [(int(reads.at_us.min()), int(reads.at_us.max())) for reads in self.after]
        self.first_us, self.last_us = told or (min(low for low, _ in spans), max(high for _, high in spans))

    def _calendar(self, kept: KeptState) -> Calendar:
        """Return the whole window; raises where its old hours are not what they were when their reads were counted."""
        weather = self.programme.tables.get("weather")
        calendar = build_calendar(self.first_us, self.last_us, self.programme.timezone, weather)
        if calendar.start_us != kept.scan.start_us:
            raise CountAll("the window of days has moved on")
        hours = len(kept.calendar.hour_local)
        for name in ("hour_local", "wet", "cold"):
            if not np.array_equal(getattr(calendar, name)[:hours], getattr(kept.calendar, name)):
                raise CountAll("the weather of earlier hours has changed")
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
        scan = opened(kept, fleet, calendar, windows, first_block=first_block, take=True)
        scanner = Scanner(fleet, part_of(calendar, first_block), windows, scan=scan)
        spikes, last_us = scan.figures["spikes"].copy(), scan.figures["last_us"].copy()
        feed(scanner, due, channels)
        due.clear()
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
        self.files.all_anew()
        span = span_of(self.source, self.say)
        if not span.any_reads:
            return False
        records = gather(self.programme.tables, watch_start=moment_of(span.first_us))
        self.records, self.fittings = records, fittings_table(records.fleet)
        weather = self.programme.tables.get("weather")
        calendar = build_calendar(span.first_us, span.last_us, self.programme.timezone, weather)
        sieve = UpTo(self.horizon_us, self.files.seen)
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
        self.first_us, self.last_us = span.first_us, span.last_us
        self.files.settle(None)
        return True

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
            "first_us": self.first_us, "last_us": self.span.high_us, "reads": self.span.reads,
            "heard": [[serial, port, rows] for (serial, port), rows in self.heard.items()],
            "files": [seen.as_dict() for seen in self.files.seen.values()], "problems": self.files.problems,
            "counts": self.files.counts,
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
        scan = opened(self.scan, records.fleet, calendar, windows, first_block=0, take=True)
        scanner = Scanner(records.fleet, calendar, windows, scan=scan)
        heard = dict(self.heard)
        reads = self.span.reads + sum(len(part.at_us) for part in self.after)
        channels = self.channels or Channels(self.source, records)
        channels.heard = heard
        feed(scanner, self.after, channels)
        self.after.clear()
        self.say("counting the last days", 1, 1)
        return CountedNight(records, scanner.finish(), heard, reads, self.first_us, self.last_us, self.said)


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


def _windows(records: FleetRecords) -> Windows:
    dials = records.dials
    return windows_of(records.fleet, dials.fitting, dials.at_us, len(records.channels))
