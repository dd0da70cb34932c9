"""One part of a file of reads, checked; and the way round for parts in which some cell is odd."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import pyarrow as pa

from dialtrue.domain.contracts import FLAGS, READS, Table
from dialtrue.files.cells import ROUNDED_SERIAL
from dialtrue.files.csv_in import RawTable
from dialtrue.files.date_order import Order
from dialtrue.files.limits import MAX_INDEX, MAX_SERIAL_CHARACTERS
from dialtrue.files.normalise import normalise, time_bounds
from dialtrue.files.problems import ProblemLog
from dialtrue.files.times import Moments, moments, to_utc
from dialtrue.files.zone import DAY_US, FOLD_RULE, GAP_RULE, FoldOrder

READS_BOUNDED: Final[Table] = replace(
    READS, columns=tuple(replace(c, maximum=MAX_INDEX) if c.name == "index" else c for c in READS.columns)
)
"""The contract of reads with the largest index that is believed."""

NEEDED: Final = ("endpoint_serial", "port", "at", "index", "flag")
"""The columns that a batch carries; others are not read."""

RECEIVED: Final = "received_at"
"""Read too where only what was known at some moment may be used."""

_ROUNDED: Final = re.compile(ROUNDED_SERIAL)


@dataclass(slots=True)
class ReadsPart:
    """Checked reads of one block or row group. ``lines`` is the line of the first row, or the line of each row.

    ``port`` is one figure for all rows or one each; ``flag`` is empty where all are blank. ``known_us`` is when each
    read was known: when it arrived if that is written, else when it was latched. It is None where nobody asked or the
    file does not say. ``bounded`` tells that the file's own statistics place times and counts within bounds; ``naive``
    that the times have yet to go through the programme's zone; ``copies`` are rows that repeat another.
    """

    serials: Sequence[str | None]
    serial_codes: np.ndarray
    port: np.ndarray
    at_us: np.ndarray
    index: np.ndarray
    flag: np.ndarray
    lines: int | np.ndarray
    bytes_done: int
    known_us: np.ndarray | None = None
    bounded: bool = False
    naive: bool = False
    copies: np.ndarray | None = None

    def ports(self, rows: np.ndarray) -> np.ndarray:
        """Return the port of each of ``rows``."""
        return self.port[rows] if len(self.port) == len(self.at_us) else np.repeat(self.port, len(rows))

    def lines_of(self, rows: np.ndarray) -> np.ndarray:
        """Return the file's line of each of ``rows``."""
        return rows + self.lines if isinstance(self.lines, int) else self.lines[rows]


@dataclass(slots=True)
class ReadsRules:
    """What a read must keep to, and where its news goes.

    ``received`` asks for the time when each was known; ``arrival_written`` becomes true when a file has that column.
    """

    zone: str
    at: dt.datetime
    log: ProblemLog
    received: bool = False
    arrival_written: bool = False
    order: FoldOrder = field(default_factory=FoldOrder)
    dates: Order | None = None
    low_us: int = 0
    high_us: int = 0

    def __post_init__(self) -> None:
        self.low_us, self.high_us = time_bounds("reads", self.at)

    def for_file(self) -> ReadsRules:
        """Return the same rules with nothing settled yet of what each file settles for itself."""
        return replace(self, order=FoldOrder(), dates=None)

    @property
    def needed(self) -> tuple[str, ...]:
        """The columns to be read."""
        return (*NEEDED, RECEIVED) if self.received else NEEDED

    def holds(self, part: ReadsPart) -> bool:
        """Tell whether every read of a part is within bounds and every serial is a serial."""
        if not len(part.index):
            return True
        return (
            (part.bounded or self._times_and_counts_hold(part))
            and int(part.port.min()) >= 1
            and int(part.port.max()) <= 99
            and (not len(part.flag) or int(part.flag.min()) >= 0)
            and all(serial is None or plain_serial(serial) for serial in part.serials)
            and (
                part.known_us is None
                or (int(part.known_us.min()) >= self.low_us and int(part.known_us.max()) <= self.high_us)
            )
        )

    def _times_and_counts_hold(self, part: ReadsPart) -> bool:
        return (
            int(part.at_us.min()) >= self.low_us
            and int(part.at_us.max()) <= self.high_us
            and int(part.index.min()) >= 0
            and int(part.index.max()) <= MAX_INDEX
        )

    def within_any_zone(self, part: ReadsPart) -> bool:
        """Tell whether naive times are within bounds in any zone, with a day to spare at both ends.

        Judged before they go through the zone: a part that fails is taken again cell by cell, and its repeated hours
        must not have been counted by then.
        """
        near = len(part.index) and (
            int(part.at_us.min()) < self.low_us + DAY_US or int(part.at_us.max()) > self.high_us - DAY_US
        )
        return not near and self.holds(part)

    def to_utc(self, naive_us: np.ndarray, series: np.ndarray, lines: int, name: str) -> np.ndarray:
        """Take naive times through the zone, and count those in skipped and repeated hours."""
        self.log.naive_seen = True
        if self.zone == "UTC":
            return naive_us
        every = np.ones(len(naive_us), bool)
        us, news = to_utc(Moments(naive_us, every, every, ~every), self.zone, series, self.order)
        for rows, what, rule in ((news.gap, "skips", GAP_RULE), (news.fold, "repeats", FOLD_RULE)):
            if rows.any():
                words = f"{name}, at: {{rows}} in an hour that {self.zone} {what}: {rule}."
                self.log.tally(words, "time", (np.flatnonzero(rows) + lines).tolist())
        return us


def plain_serial(serial: str) -> bool:
    """Tell whether a text can be a serial: not blank, not endless, not rounded by a spreadsheet. Never raises."""
    return 0 < len(serial) <= MAX_SERIAL_CHARACTERS and not serial.isspace() and not _ROUNDED.match(serial)


def flag_codes(words: Sequence[str | None]) -> np.ndarray:
    """Return 0 for blank, 1 estimated, 2 repeated, -1 for any other word. Never raises."""
    known: dict[str | None, int] = {None: 0, "": 0, **{flag: place for place, flag in enumerate(FLAGS, start=1)}}
    return np.array([known.get(word, -1) for word in words], np.int8)


def careful_part(raw: RawTable, rules: ReadsRules, bytes_done: int) -> ReadsPart:
    """Take a part cell by cell: bad rows are described and left out, the others loaded.

    Raises what ``normalise`` raises.
    """
    # An arrival that cannot be read costs no read: it is taken as not written, whoever asks for arrivals and who not.
    read = replace(raw, columns={name: cells for name, cells in raw.columns.items() if name != RECEIVED})
    table = normalise(
        read, READS_BOUNDED, rules.log, zone=rules.zone, at=rules.at, order=rules.order, dates=rules.dates, whole=False
    )
    serial = _one(table["endpoint_serial"]).dictionary_encode()
    flag = _one(table["flag"]).dictionary_encode()
    flag_lut = np.append(flag_codes(flag.dictionary.to_pylist()), np.int8(0))
    flag_rows = flag.indices.fill_null(len(flag_lut) - 1).to_numpy(zero_copy_only=False)
    at_us = _one(table["at"]).view(pa.int64()).to_numpy(zero_copy_only=False)
    known_us = None
    if rules.received and RECEIVED in raw.columns:
        known_us = _arrivals(raw, rules, table["_row"].to_numpy(), at_us)
    return ReadsPart(
        serials=serial.dictionary.to_pylist(),
        serial_codes=serial.indices.to_numpy(zero_copy_only=False),
        port=table["port"].to_numpy().astype(np.int32),
        at_us=at_us,
        index=table["index"].to_numpy(),
        flag=flag_lut[flag_rows],
        lines=table["_row"].to_numpy(),
        bytes_done=bytes_done,
        known_us=known_us,
    )


def _arrivals(raw: RawTable, rules: ReadsRules, lines: np.ndarray, at_us: np.ndarray) -> np.ndarray:
    """Return when the reads of some lines were known, saying which arrivals could not be read."""
    found = moments(raw.columns[RECEIVED])
    us, _ = to_utc(found, rules.zone, np.zeros(len(found.us), np.int64), FoldOrder())
    written = found.known & (us >= rules.low_us) & (us <= rules.high_us)
    lost = found.odd | (found.known & ~written)
    if lost.any():
        words = f"{raw.file}, received_at: {{rows}} without a time that can be; known from the read's own time."
        rules.log.tally(words, "row", raw.lines[lost].tolist())
    rows = np.searchsorted(raw.lines, lines)
    return np.where(written[rows], us[rows], at_us)


def known_times(received_us: pa.Array, at_us: np.ndarray) -> np.ndarray:
    """Return when each read was known: when it arrived, else when it was latched. Never raises."""
    written = received_us.is_valid().to_numpy(zero_copy_only=False)
    return np.where(written, received_us.fill_null(0).to_numpy(zero_copy_only=False), at_us)


def _one(column: pa.ChunkedArray) -> pa.Array:
    flat = column.combine_chunks()
    return flat if isinstance(flat, pa.Array) else pa.concat_arrays(flat.chunks)
