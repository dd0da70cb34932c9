"""Sieves for reads: which are counted into the kept figures, which tonight only, which are counted already."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dialtrue.files.reads_batch import LeanReads
from dialtrue.files.reads_seen import SeenFile

NEVER_US = int(np.iinfo(np.int64).max)


@dataclass(slots=True)
class Span:
    """How many reads, and from when to when."""

    reads: int = 0
    low_us: int = NEVER_US
    high_us: int = -NEVER_US

    def add(self, at_us: NDArray[np.int64]) -> None:
        """Take some reads in."""
        if len(at_us):
            self.reads += len(at_us)
            self.low_us = min(self.low_us, int(at_us.min()))
            self.high_us = max(self.high_us, int(at_us.max()))


@dataclass(slots=True)
class UpTo:
    """Lets reads through up to a moment; what comes after it is set aside, and every file's span is noted."""

    horizon_us: int
    files: dict[int, SeenFile] | None = None
    through: Span = field(default_factory=Span)
    after: list[LeanReads] = field(default_factory=list)

    def take(self, reads: LeanReads) -> LeanReads:
        """Return the reads up to the moment."""
        if not len(reads.at_us):
            return reads
        if self.files is not None:
            note(self.files[reads.file], reads)
        late = reads.at_us > self.horizon_us
        if late.any():
            if self.files is not None:
                self.after.append(reads.rows(late))
            reads = reads.rows(~late)
        self.through.add(reads.at_us)
        return reads

    def twin(self) -> UpTo:
        """Return a sieve that lets the same through and notes nothing."""
        return UpTo(self.horizon_us)


@dataclass(slots=True)
class SinceLast:
    """Parts the reads of a later run: late ones, those up to the new horizon, those after it.

    ``before_us`` is the horizon of the kept figures, ``known_us`` up to when reads were known to them; ``counted`` maps
    a file's place to how many of its first rows were read then; ``held`` counts the reads kept in memory.
    """

    before_us: int
    known_us: int
    horizon_us: int
    files: dict[int, SeenFile]
    counted: dict[int, int]
    late: list[LeanReads] = field(default_factory=list)
    due: list[LeanReads] = field(default_factory=list)
    after: list[LeanReads] = field(default_factory=list)
    passed: dict[int, int] = field(default_factory=dict)
    held: int = 0

    def take(self, reads: LeanReads) -> None:
        """Part some reads; those that are counted already are passed over."""
        rows = len(reads.at_us)
        if not rows:
            return
        begun = self.passed.get(reads.file, 0)
        self.passed[reads.file] = begun + rows
        note(self.files[reads.file], reads)
        old = np.arange(begun, begun + rows) < self.counted.get(reads.file, 0)
        old &= (reads.at_us <= self.before_us) & (reads.known_us <= self.known_us)
        late = ~old & (reads.at_us <= self.before_us)
        after = reads.at_us > self.horizon_us
        for where, to in ((late, self.late), (after, self.after), (~(old | late | after), self.due)):
            count = int(where.sum())
            self.held += count
            if count == rows:
                to.append(reads)
            elif count:
                to.append(reads.rows(where))


def note(seen: SeenFile, reads: LeanReads) -> None:
    """Add reads to what is known of their file."""
    low, high = int(reads.at_us.min()), int(reads.at_us.max())
    seen.low_us, seen.high_us = (min(seen.low_us, low), max(seen.high_us, high)) if seen.rows else (low, high)
    seen.rows += len(reads.at_us)
