"""Reads in, a batch at a time: the source that the watch pulls from."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from dialtrue.domain.errors.input_files import FileTooLarge, FileUnreadable
from dialtrue.files.limits import MAX_ENDPOINTS
from dialtrue.files.problems import ProblemLog, Repair, RowProblem
from dialtrue.files.reads_csv import csv_parts
from dialtrue.files.reads_parquet import parquet_parts, rows_in
from dialtrue.files.reads_part import ReadsPart, ReadsRules
from dialtrue.files.serials import KnownSerials

_UNSORTED_SAMPLE: Final = 4096
_EPOCH: Final = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


@dataclass(slots=True)
class ReadsBatch:
    """Some reads as equal-length arrays.

    ``endpoint`` int32 codes into ``ReadsSource.endpoints``; ``port`` int32; ``at_us`` int64 UTC [µs since 1970];
    ``index`` int64 [counts of index_resolution]; ``flag`` int8: 0 blank, 1 estimated, 2 repeated. ``bytes_done`` is how
    much of ``total_bytes`` has been taken so far. Rows stand in file order; nothing is sorted. ``known_us`` int64 is
    when each was known, where only what was known at some moment was asked for; else it is ``at_us``.
    """

    endpoint: np.ndarray
    port: np.ndarray
    at_us: np.ndarray
    index: np.ndarray
    flag: np.ndarray
    bytes_done: int
    known_us: np.ndarray


class ReadsSource:
    """All reads of a programme, from one file or a folder of files, as batches.

    Attributes
    ----------
    endpoints : list of str
        Serials heard so far; a batch's codes point into it. It grows; a code never changes its meaning.
    total_bytes : int
        Size of all files. [bytes]
    total_rows : int or None
        Rows of all files where every file tells (Parquet), bad rows included.
    problems, problem_counts
        Bad rows met so far, the first 50 of each file in full; and how many in each file.
    repairs, accepted, notes
        Shared with the programme; they grow while batches are taken.

    With ``until`` only reads are yielded that were known by then: that had arrived, or where no arrival is written,
    that had been latched.
    """

    def __init__(
        self,
        files: list[Path],
        *,
        folder: Path,
        zone: str,
        at: dt.datetime,
        strict: bool = False,
        log: ProblemLog | None = None,
        known: KnownSerials | None = None,
        until: dt.datetime | None = None,
    ) -> None:
        outer = log or ProblemLog()
        self._log = ProblemLog(
            repairs=outer.repairs, accepted=outer.accepted, notes=outer.notes, accept=outer.accept
        )  # bad rows of reads are kept apart from those of the tables
        self._files = files
        self._names = [_shown(path, folder) for path in files]
        self._strict = strict
        self._known = known or KnownSerials()
        self._until_us = None if until is None else (until - _EPOCH) // dt.timedelta(microseconds=1)
        self._rules = ReadsRules(zone=zone, at=at, log=self._log, received=until is not None)
        self._codes: dict[str, int] = {}
        self.endpoints: list[str] = []
        try:
            self._sizes = [path.stat().st_size for path in files]
        except OSError as error:
            raise FileUnreadable(file="reads", reason=(error.strerror or str(error)).lower()) from error
        self.total_bytes = sum(self._sizes)
        parquet = [_is_parquet(path) for path in files]
        rows = [rows_in(path, name) for path, name, whole in zip(files, self._names, parquet, strict=True) if whole]
        self.total_rows: int | None = sum(rows) if all(parquet) else None
        self._say_twins()

    @property
    def problems(self) -> list[RowProblem]:
        """Bad rows met so far, the first 50 of each file."""
        return self._log.problems

    @property
    def problem_counts(self) -> dict[str, int]:
        """Bad rows met so far, by file."""
        return self._log.counts

    @property
    def repairs(self) -> list[Repair]:
        """Repairs offered so far and not made."""
        return self._log.repairs

    @property
    def notes(self) -> list[str]:
        """What is to be said so far."""
        return self._log.notes

    def batches(self) -> Iterator[ReadsBatch]:
        """Yield every read once, file after file; may be called again.

        Raises
        ------
        RowsRefused
            After the last batch, if the reading is strict and a row was bad.
        DialtrueError
            A file cannot be used; batches before it have been yielded.
        """
        self._log.problems.clear()
        self._log.counts.clear()
        done = 0
        for path, name, size in zip(self._files, self._names, self._sizes, strict=True):
            self._rules.begin_file()
            parts = parquet_parts if _is_parquet(path) else csv_parts
            rows = 0
            for part in parts(path, name, self._rules):
                rows += len(part.index)
                batch = self._batch(part, name, done)
                if len(batch.index):
                    yield batch
            done += size
            if not rows and not self._log.counts.get(name):
                self._log.note(f"{name} has a header and no rows.")
        if self._log.naive_seen and self._rules.zone == "UTC":
            self._log.note("Reads carry times without an offset; they are taken as UTC, the programme's zone.")
        self._log.say_tallies()
        if self._strict:
            self._log.refuse()

    def _batch(self, part: ReadsPart, name: str, done: int) -> ReadsBatch:
        to_code = np.array([self._code(serial) for serial in part.serials], np.int32)
        endpoint = to_code[part.serial_codes] if len(to_code) else np.zeros(0, np.int32)
        self._count_copies(endpoint, part, name)
        known_us = part.at_us if part.known_us is None else part.known_us
        columns = [endpoint, part.port, part.at_us, part.index, part.flag]
        if self._until_us is not None and len(known_us) and int(known_us.max()) > self._until_us:
            then = known_us <= self._until_us
            columns = [column[then] for column in columns]
            known_us = known_us[then]
        return ReadsBatch(*columns, done + part.bytes_done, known_us)

    def _code(self, serial: str | None) -> int:
        # A dictionary may hold a blank that no row uses.
        if serial is None:
            return -1
        code = self._codes.get(serial)
        if code is None:
            name = self._on_record(serial)
            code = self._codes.get(name)
            if code is None:
                code = len(self.endpoints)
                if code >= MAX_ENDPOINTS:
                    raise FileTooLarge(file="reads", limit=f"{MAX_ENDPOINTS:,} endpoints")
                self.endpoints.append(name)
                self._codes[name] = code
            self._codes[serial] = code
        return code

    def _on_record(self, serial: str) -> str:
        """Return the serial under which an endpoint is known, where a repair says so and is accepted."""
        bare = serial.strip()
        if bare != serial and self._log.offer(
            Repair("spaces:reads:endpoint_serial", "spaces", "reads", 0, "endpoint_serial", serial, bare,
                   "the serial has white space around it")):  # fmt: skip
            serial = bare
        if serial in self._known.serials:
            return serial
        padded = self._known.padded(serial)
        if padded is None:
            return serial
        why = (
            "no fitting has this serial; with leading zeros exactly one has"
            if len(padded) > len(serial)
            else "no fitting has this serial; the one fitting that differs by leading zeros alone has lost them"
        )
        key = f"zeros:reads:{serial}"
        return (
            padded
            if self._log.offer(Repair(key, "zeros", "reads", 0, "endpoint_serial", serial, padded, why))
            else serial
        )

    def _count_copies(self, endpoint: np.ndarray, part: ReadsPart, name: str) -> None:
        """Count reads that repeat another of the same batch in endpoint, port, time and index."""
        rows = len(endpoint)
        if rows < 2:
            return
        sample = endpoint[:_UNSORTED_SAMPLE]
        if np.count_nonzero(sample[1:] != sample[:-1]) * 4 > len(sample):
            found = _copies_anywhere(endpoint, part)
        else:
            found = np.flatnonzero(part.at_us[1:] == part.at_us[:-1]) + 1
            if found.size:
                same = (
                    (endpoint[found] == endpoint[found - 1])
                    & (part.port[found] == part.port[found - 1])
                    & (part.index[found] == part.index[found - 1])
                )
                found = found[same]
        if found.size:
            words = f"{name}: {{rows}} copying another read of the same file; a copy carries no evidence."
            self._log.tally(words, "row", part.lines_of(found).tolist())

    def _say_twins(self) -> None:
        """Say which files of the folder are copies of one another; they are read all the same."""
        by_size: dict[int, list[int]] = {}
        for place, size in enumerate(self._sizes):
            by_size.setdefault(size, []).append(place)
        for places in by_size.values():
            if len(places) > 1:
                seen: dict[bytes, str] = {}
                for place in places:
                    mark = _digest(self._files[place])
                    if mark in seen:
                        self._log.note(f"{self._names[place]} is a copy of {seen[mark]}: remove one.")
                    seen.setdefault(mark, self._names[place])


def _copies_anywhere(endpoint: np.ndarray, part: ReadsPart) -> np.ndarray:
    """Return rows that repeat an earlier one, in any order of rows."""
    # One 64-bit mix of the four figures; rows that share a mix are then compared in full.
    mixed = part.at_us.astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    mixed ^= (endpoint.astype(np.uint64) << np.uint64(20)) ^ part.port.astype(np.uint64)
    mixed = (mixed ^ (mixed >> np.uint64(29))) * np.uint64(0xBF58476D1CE4E5B9)
    mixed ^= part.index.astype(np.uint64) * np.uint64(0x94D049BB133111EB)
    ordered = np.sort(mixed)
    twice = ordered[1:][ordered[1:] == ordered[:-1]]
    if not twice.size:
        return twice.astype(np.int64)
    rows = np.flatnonzero(np.isin(mixed, twice))
    seen: set[tuple[int, int, int, int]] = set()
    copies = []
    for row in rows.tolist():
        key = (int(endpoint[row]), int(part.port[row]), int(part.at_us[row]), int(part.index[row]))
        if key in seen:
            copies.append(row)
        seen.add(key)
    return np.array(copies, np.int64)


def _digest(path: Path) -> bytes:
    try:
        with path.open("rb") as source:
            return hashlib.file_digest(source, "sha256").digest()
    except OSError as error:
        raise FileUnreadable(file=path.name, reason=(error.strerror or str(error)).lower()) from error


def _is_parquet(path: Path) -> bool:
    return path.name.lower().endswith(".parquet")


def _shown(path: Path, folder: Path) -> str:
    """Return the name of a file as a person sees it from the programme folder."""
    return path.relative_to(folder).as_posix() if path.is_relative_to(folder) else path.name
