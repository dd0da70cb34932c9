"""Reads in, a batch at a time: the source that the watch pulls from."""

from __future__ import annotations

import copy
import datetime as dt
import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, Protocol

import numpy as np

from dialtrue.domain.contracts import READS
from dialtrue.domain.errors.input_files import FileTooLarge, FileUnreadable
from dialtrue.files.limits import MAX_ENDPOINTS
from dialtrue.files.parquet_in import open_parquet
from dialtrue.files.problems import ProblemLog, Repair, RowProblem
from dialtrue.files.reads_batch import LeanReads, ReadsBatch
from dialtrue.files.reads_copies import copies_in
from dialtrue.files.reads_csv import csv_parts
from dialtrue.files.reads_parquet import ParquetPiece, ParquetPieces
from dialtrue.files.reads_part import ReadsPart, ReadsRules
from dialtrue.files.serials import KnownSerials

_EPOCH: Final = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


class Sieve(Protocol):
    """Lets some reads of each piece through and may note them; ``twin`` lets the same through and notes none."""

    def take(self, reads: LeanReads) -> LeanReads: ...
    def twin(self) -> Sieve: ...


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

    arrival_written : bool
        Whether a file taken so far says when its reads arrived.

    With ``until`` only reads are yielded that were known by then: that had arrived, or where no arrival is written,
    that had been latched; ``left_for_later`` then holds the places of the files of which some reads came later.
    ``sieve`` may be set between looks: each piece's reads go through it.
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
            repairs=outer.repairs,
            accepted=outer.accepted,
            notes=outer.notes,
            accept=outer.accept,
            decisions=outer.decisions,
        )  # bad rows of reads are kept apart from those of the tables
        self._files = files
        self._names = [_shown(path, folder) for path in files]
        self._strict = strict
        self._known = known or KnownSerials()
        self._until_us = None if until is None else (until - _EPOCH) // dt.timedelta(microseconds=1)
        self._rules = ReadsRules(zone=zone, at=at, log=self._log, received=until is not None)
        self._codes: dict[str, int] = {}
        self._lately: list[tuple[Sequence[str | None], np.ndarray]] = []
        self.endpoints: list[str] = []
        self.arrival_written = False
        self.sieve: Sieve | None = None
        self._begin: dict[int, int] | None = None
        self._only: list[str] | None = None
        self.left_for_later: set[int] = set()
        try:
            self._sizes = [path.stat().st_size for path in files]
        except OSError as error:
            raise FileUnreadable(file="reads", reason=(error.strerror or str(error)).lower()) from error
        self.total_bytes = sum(self._sizes)
        parquet = [_is_parquet(path) for path in files]
        rows = [_rows_in(path, name) for path, name, whole in zip(files, self._names, parquet, strict=True) if whole]
        self.total_rows: int | None = sum(rows) if all(parquet) else None
        self._say_twins()

    @property
    def paths(self) -> list[Path]:
        """The files of reads, in the order in which they are taken."""
        return self._files

    @property
    def names(self) -> list[str]:
        """What each file is called in messages."""
        return self._names

    def with_arrival(self) -> None:
        """Let the reads carry when each was known from now on."""
        self._rules.received = True

    def choose(self, begin: dict[int, int] | None) -> None:
        """Take only some files from now on: from a file's place to the row group of a Parquet file to begin at.

        None takes all of them again.
        """
        self._begin = begin

    def only(self, serials: Iterable[str]) -> None:
        """Leave out from now on what surely holds no read of these endpoints.

        A repair of serials that is accepted makes another serial of the written one: then nothing is left out.
        """
        self._only = None if self._log.accept else sorted(serials)

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

    def span(self) -> tuple[int, int] | None:
        """Return first and last time [us] as the files' own statistics tell them, without reading a row.

        None where any file does not tell (CSV, times without an offset, times out of bounds), where there is none, or
        where only what was known at some moment is asked for.
        """
        if self._until_us is not None or not all(_is_parquet(path) for path in self._files):
            return None
        quiet = replace(self._rules.for_file(), log=ProblemLog(accept=self._log.accept, decisions=self._log.decisions))
        spans = []
        for path, name in zip(self._files, self._names, strict=True):
            pieces = ParquetPieces(path, name, quiet)
            if pieces.rows:
                spans.append(pieces.span_us)
        told = [span for span in spans if span is not None]
        if not told or len(told) < len(spans):
            return None
        return min(low for low, _ in told), max(high for _, high in told)

    def twin(self, *, received: bool) -> ReadsSource:
        """Return a source of the same reads with the same codes that says nothing of bad rows and refuses nothing.

        For another look at the reads; with ``received`` the reads carry when each was known.
        """
        twin = copy.copy(self)
        twin._log = ProblemLog(accept=self._log.accept, decisions=self._log.decisions)
        twin._rules = replace(self._rules.for_file(), log=twin._log, received=received or self._rules.received)
        twin._strict = False
        twin.sieve = None if self.sieve is None else self.sieve.twin()
        return twin

    def batches(self) -> Iterator[ReadsBatch]:
        """Yield every read once, file after file; may be called again.

        Raises
        ------
        RowsRefused
            After the last batch, if the reading is strict and a row was bad.
        DialtrueError
            A file cannot be used; batches before it have been yielded.
        """
        for piece in self.pieces():
            piece.decode()
            reads = piece.settle()
            if reads is not None and len(reads.at_us):
                yield reads.whole()

    def pieces(self) -> Iterator[Piece]:
        """Yield every read once as pieces to be taken on several threads; may be called again.

        Each piece is first decoded, on any thread, then settled: in the order of the pieces, one at a time, and not
        while the next piece is being pulled.

        Raises
        ------
        RowsRefused
            By the last piece when it is settled, if the reading is strict and a row was bad.
        DialtrueError
            A file cannot be used; pieces before it have been yielded.
        """
        self._log.problems.clear()
        self._log.counts.clear()
        done = 0
        for place, (path, name, size) in enumerate(zip(self._files, self._names, self._sizes, strict=True)):
            if self._begin is not None and place not in self._begin:
                done += size
                continue
            rules = self._rules.for_file()
            begin = self._begin[place] if self._begin is not None else 0
            works = (
                ParquetPieces(path, name, rules, begin=begin, serials=self._only)
                if _is_parquet(path)
                else csv_parts(path, name, rules)
            )
            file = _FileTaken(name, rules, done, place)
            for work in works:
                yield Piece(self._take, work, file)
            yield Piece(self._end_file, None, file)
            done += size
        yield Piece(self._end, None, None)

    def _take(self, work: ParquetPiece | ReadsPart | None, file: _FileTaken | None) -> LeanReads:
        assert work is not None
        assert file is not None
        part = work.settle(file.rules, file.name) if isinstance(work, ParquetPiece) else work
        copies = copies_in(part) if part.copies is None else part.copies
        if copies.size:
            words = f"{file.name}: {{rows}} copying another read of the same file; a copy carries no evidence."
            self._log.tally(words, "row", part.lines_of(copies).tolist())
        file.rows += len(part.index)
        known_us = part.at_us if part.known_us is None else part.known_us
        reads = LeanReads(
            part.serial_codes, self._codes_of(part.serials), part.port, part.at_us, part.index, part.flag,
            file.bytes_before + part.bytes_done, known_us, file.place,
        )  # fmt: skip
        if self._until_us is not None and len(known_us) and int(known_us.max()) > self._until_us:
            self.left_for_later.add(file.place)
            reads = reads.rows(known_us <= self._until_us)
        return reads if self.sieve is None else self.sieve.take(reads)

    def _end_file(self, work: object, file: _FileTaken | None) -> None:
        if file is not None:
            self.arrival_written |= file.rules.arrival_written
        if file is not None and not file.rows and not self._log.counts.get(file.name):
            self._log.note(f"{file.name} has a header and no rows.")

    def _end(self, work: object, file: object) -> None:
        if self._log.naive_seen and self._rules.zone == "UTC":
            self._log.note("Reads carry times without an offset; they are taken as UTC, the programme's zone.")
        self._log.say_tallies()
        if self._strict:
            self._log.refuse()

    def _codes_of(self, serials: Sequence[str | None]) -> np.ndarray:
        """Return the code of each serial; the same list as a part before has the same codes."""
        for known, codes in self._lately:
            if known is serials:
                return codes
        codes = np.array([self._code(serial) for serial in serials], np.int32)
        self._lately = [*self._lately[-3:], (serials, codes)]
        return codes

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


@dataclass(slots=True)
class _FileTaken:
    """One file while its pieces are taken."""

    name: str
    rules: ReadsRules
    bytes_before: int
    place: int
    rows: int = 0


@dataclass(slots=True)
class Piece:
    """Some reads of a file, not yet unpacked."""

    _settle: Callable[[ParquetPiece | ReadsPart | None, _FileTaken | None], LeanReads | None]
    _work: ParquetPiece | ReadsPart | None
    _file: _FileTaken | None

    def decode(self) -> None:
        """Unpack and check, on any thread; raises ``DialtrueError`` where the file is damaged."""
        if isinstance(self._work, ParquetPiece):
            self._work.decode()
        elif self._work is not None:
            self._work.copies = copies_in(self._work)

    def settle(self) -> LeanReads | None:
        """Return the reads, None for the end of a file; in the order of the pieces, one at a time."""
        work, self._work = self._work, None
        return self._settle(work, self._file)


def _digest(path: Path) -> bytes:
    try:
        with path.open("rb") as source:
            return hashlib.file_digest(source, "sha256").digest()
    except OSError as error:
        raise FileUnreadable(file=path.name, reason=(error.strerror or str(error)).lower()) from error


def _rows_in(path: Path, name: str) -> int:
    with open_parquet(path, name, tuple(column.name for column in READS.columns)) as opened:
        return int(opened.metadata.num_rows)


def _is_parquet(path: Path) -> bool:
    return path.name.lower().endswith(".parquet")


def _shown(path: Path, folder: Path) -> str:
    """Return the name of a file as a person sees it from the programme folder."""
    return path.relative_to(folder).as_posix() if path.is_relative_to(folder) else path.name
