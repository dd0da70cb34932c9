"""Validate: check every read of a programme, and estimate what did not come, by published practice."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np
import pyarrow as pa

from dialtrue.domain.errors.validate import NothingToValidate
from dialtrue.domain.read_checks.account import CADENCES, ValidationAccount
from dialtrue.domain.read_checks.rules import FILL_RULES, READ_RULES
from dialtrue.domain.read_checks.settings import ValidateSettings
from dialtrue.domain.words import counted
from dialtrue.engine.fleet import Ints
from dialtrue.engine.gap_fill import LEFT_LONG, LEFT_OPEN, FillRules, Gaps, LocalTime, cadence_of, fill_gaps, find_gaps
from dialtrue.engine.gap_shape import DAY_US, HOUR_US
from dialtrue.engine.read_checks import CheckedReads, check_reads, mark_spikes, order_of, out_of_order
from dialtrue.files.programme import Programme, open_programme
from dialtrue.files.reads_aside import ReadsAside
from dialtrue.files.reads_batch import LeanReads
from dialtrue.services.fleet_records import FleetRecords, gather, moment_of, us_of
from dialtrue.services.port_checks import check_ports
from dialtrue.services.port_records import HeardPorts, port_records
from dialtrue.services.read_calendar import local_time, month_edges
from dialtrue.services.read_rows import tally_ports, validated_rows

Progress = Callable[[str, int, int], None]
KEEP_ROWS = 8_000_000
"""Reads kept in memory between the look at who is heard and the checks; more are read twice. Our assumption."""
_LEFT = {LEFT_LONG: "longer than a gap is filled", LEFT_OPEN: "an open end with no history of its own"}
_CADENCE_BOUNDS_US = (5400_000_000, 20 * HOUR_US, 36 * HOUR_US, 10 * DAY_US)
AHEAD_SHARE = 0.05
"""Ports whose last reads may lie after the moment up to which reads are looked for. Our assumption."""
WORST = 200
"""Ports kept for the list of the worst. Our assumption."""


class Validation:
    """Reads of one programme on their way through the checks: take ``blocks()`` to their end, then read ``account``.

    Attributes
    ----------
    account : ValidationAccount
        Whole once the last block has been taken.
    originals : list of Path
        The files of the reads, which are never written to.
    """

    def __init__(
        self, programme: Programme, settings: ValidateSettings, *, at: dt.datetime, progress: Progress | None = None
    ) -> None:
        if programme.reads is None:
            raise NothingToValidate(folder=programme.folder)
        self._programme, self._source, self._settings = programme, programme.reads, settings
        self._now_us = us_of(at, 0)
        self._say = progress or (lambda what, done, total: None)
        self.account = ValidationAccount()
        self.originals = list(programme.reads.paths)

    def blocks(self) -> Iterator[pa.Table]:
        """Yield the rows that go out, in order of endpoint, port and time; see ``files.validated_out.SCHEMA``.

        Raises
        ------
        NothingToValidate
            The files hold not one good read.
        DialtrueError
            A file cannot be used.
        """
        heard, kept = self._hear()
        account = self.account
        records = gather(self._programme.tables, watch_start=moment_of(heard.first_us))
        local = local_time(heard.first_us, heard.last_us, self._programme.timezone)
        months = month_edges(heard.first_us, heard.last_us, self._programme.timezone)
        with ReadsAside(heard.size, heard.reads) as aside:
            self._set_aside(aside, heard, kept)
            del kept
            done = 0
            for channel, at_us, index, flag, known_us in aside.shelves():
                if not len(channel):
                    continue
                self._say("checking and filling", done, heard.reads)
                yield self._block(heard, records, months, local, channel, at_us, index, flag, known_us)
                done += len(channel)
        self._say("checking and filling", heard.reads, heard.reads)
        account.worst.sort(
            key=lambda port: (-port.failed, -(port.missing + port.left), port.endpoint_serial, port.port)
        )
        del account.worst[WORST:]
        account.notes = [*self._programme.notes, *records.said]
        if self._programme.repairs:
            offered = counted(len(self._programme.repairs), "repair")
            account.notes.append(f"{offered} offered and not made; dialtrue watch lists them, --accept makes them.")
        counts = {**self._programme.problem_counts, **self._source.problem_counts}
        account.bad_rows = {name: count for name, count in counts.items() if count}

    def _hear(self) -> tuple[HeardPorts, list[LeanReads] | None]:
        """Find out who is heard and from when to when; keep the reads where they are few."""
        keys: set[int] = set()
        kept: list[LeanReads] | None = []
        self._source.with_arrival()
        first_us, last_us, reads = np.iinfo(np.int64).max, 0, 0
        for piece in self._source.pieces():
            piece.decode()
            some = piece.settle()
            if some is None or not len(some.at_us):
                continue
            batch = some.whole()
            keys.update(np.unique((batch.endpoint.astype(np.int64) << 32) + batch.port).tolist())
            first_us, last_us = min(first_us, int(batch.at_us.min())), max(last_us, int(batch.at_us.max()))
            reads += len(batch.at_us)
            if kept is not None:
                kept.append(some)
                kept = kept if reads <= KEEP_ROWS else None
            self._say("reading the reads", min(some.bytes_done, self._source.total_bytes), self._source.total_bytes)
        if not reads:
            raise NothingToValidate(folder=self._programme.folder)
        return HeardPorts.of(keys, self._source.endpoints, first_us, last_us, reads), kept

    def _set_aside(self, aside: ReadsAside, heard: HeardPorts, kept: list[LeanReads] | None) -> None:
        parts: Iterator[LeanReads]
        if kept is not None:
            parts = iter(kept)
        else:
            pieces = self._source.twin(received=True).pieces()
            parts = (some for piece in pieces if (some := _settled(piece)) is not None)
        last = np.zeros(heard.size, np.int64)
        for part in parts:
            batch = part.whole()
            channel = heard.channel_of(batch.endpoint, batch.port)
            aside.add(channel, batch.at_us, batch.index, batch.flag, batch.known_us)
            np.maximum.at(last, channel, np.minimum(batch.at_us, self._now_us))
        # A few clocks that run ahead must not open an end at every other port.
        heard.until_us = int(np.sort(last)[-1 - int(AHEAD_SHARE * heard.size)])

    def _block(
        self,
        heard: HeardPorts,
        records: FleetRecords,
        months: Ints,
        local: LocalTime,
        channel: np.ndarray,
        at_us: Ints,
        index: Ints,
        flag: np.ndarray,
        known_us: Ints,
    ) -> pa.Table:
        settings, account = self._settings, self.account
        account.out_of_order += out_of_order(channel, at_us)
        order = order_of(channel, at_us, index, flag, known_us)
        channel, flag = channel[order], flag[order]
        at_us, index, known_us = at_us[order], index[order], known_us[order]
        begin = np.flatnonzero(np.diff(channel, prepend=-1))
        runs, first = channel[begin], np.append(begin, len(channel))
        known = port_records(runs, heard, records, self._programme.tables, until_us=heard.until_us)
        reads = check_reads(first, at_us, index, flag, known_us, known.arrays, now_us=self._now_us)
        cadence = cadence_of(reads)
        mark_spikes(reads, months, cadence, ratio=settings.spike_ratio, least=settings.spike_least)
        rules = _fill_rules(settings)
        gaps = find_gaps(reads, cadence, known.until_us, rules)
        made = fill_gaps(
            reads, gaps, known.arrays.capacity, cadence, local, rules, alarm_first=known.alarm_first,
            alarms_us=known.alarms_us,
        )  # fmt: skip
        self._count(reads, gaps, made.gap, cadence)
        checks = check_ports(reads, runs, known, records, months, settings)
        for check in checks:
            account.failed_ports[check.rule] = account.failed_ports.get(check.rule, 0) + 1
        account.checks += checks
        account.worst += tally_ports(reads, gaps, made.gap, runs, known)
        if len(account.worst) > 20 * WORST:
            account.worst.sort(key=lambda port: (-port.failed, -(port.missing + port.left)))
            del account.worst[WORST:]
        return validated_rows(reads, gaps, made, runs, heard, known, cadence)

    def _count(self, reads: CheckedReads, gaps: Gaps, made: Ints, cadence: Ints) -> None:
        account = self.account
        account.reads += len(reads.at_us)
        account.ports += len(cadence)
        place = np.where(cadence > 0, np.searchsorted(_CADENCE_BOUNDS_US, cadence, side="right"), len(CADENCES) - 1)
        _add(account.cadences, CADENCES, np.bincount(place, minlength=len(CADENCES)))
        # A gap in which a read stands that was set aside may need no estimate at all.
        _add(account.gaps, FILL_RULES, np.bincount(gaps.rule[np.unique(made)], minlength=len(FILL_RULES)))
        _add(account.estimates, FILL_RULES, np.bincount(gaps.rule[made], minlength=len(FILL_RULES)))
        for rule, why in _LEFT.items():
            chosen = gaps.rule == rule
            if chosen.any():
                before = account.left.get(why, (0, 0))
                account.left[why] = (before[0] + int(chosen.sum()), before[1] + int(gaps.missing[chosen].sum()))
        bits = np.bincount(reads.said)
        for code in np.flatnonzero(bits).tolist():
            for rule_said in READ_RULES:
                if code & rule_said.bit:
                    account.said[rule_said.name] = account.said.get(rule_said.name, 0) + int(bits[code])
            if any(code & each.bit for each in READ_RULES if each.failed):
                account.failed_reads += int(bits[code])


def open_validation(
    folder: Path,
    *,
    at: dt.datetime,
    settings: ValidateSettings,
    strict: bool = False,
    accept: Sequence[str] = (),
    progress: Progress | None = None,
) -> Validation:
    """Open a programme folder for the checks of its reads.

    Parameters
    ----------
    folder : Path
        Programme folder of plain files.
    at : datetime
        The time of the run, aware.
    settings : ValidateSettings
        Limits of the checks and how gaps are filled.
    strict : bool
        Refuse files with bad rows.
    accept : sequence of str
        Repairs to make, as ``open_programme`` takes them.
    progress : callable, optional
        Called as ``progress(what, done, total)``.

    Returns
    -------
    Validation

    Raises
    ------
    NothingToValidate
        The folder has no reads.
    DialtrueError
        A file cannot be used.

    Source
    ------
    ``CA-VEE``, ``WA-METERING-CODE``; see the functions of ``engine.read_checks`` and ``engine.gap_fill``.
    """
    programme = open_programme(folder, at=at, strict=strict, accept=accept)
    return Validation(programme, settings, at=at, progress=progress)


def _settled(piece: object) -> LeanReads | None:
    piece.decode()  # type: ignore[attr-defined]
    some: LeanReads | None = piece.settle()  # type: ignore[attr-defined]
    return some


def _fill_rules(settings: ValidateSettings) -> FillRules:
    return FillRules(
        interpolate_us=round(settings.interpolate_up_to_h * HOUR_US),
        past_alarm=settings.interpolate_past_alarm,
        reference_us=round(settings.reference_days * DAY_US),
        longest_us=round(settings.longest_gap_d * DAY_US),
        open_us=round(settings.open_end_d * DAY_US),
    )


def _add(to: dict[str, int], names: Sequence[str], counts: np.ndarray) -> None:
    for name, count in zip(names, counts.tolist(), strict=True):
        if count:
            to[name] = to.get(name, 0) + count
