"""Which files of reads a run has seen, and whether they still are what they were."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal

import pyarrow as pa
import pyarrow.parquet as pq

from dialtrue.domain.errors.input_files import FileUnreadable
from dialtrue.files.parquet_in import SPOILT

_CHUNK: Final = 1 << 22
_PART: Final = "+"
"""Marks a text whose last line has no end: what comes after it may belong to that line."""
Now = Literal["same", "grown", "changed"]


@dataclass(slots=True)
class SeenFile:
    """One file of reads as a run left it.

    ``marks`` are digests of its content: one a row group of a Parquet file, one for a whole file of another kind.
    ``rows`` were read, from ``low_us`` to ``high_us``. ``open_end`` says that some rows may count at a later run that
    did not at this one: they had not arrived, or their time lay ahead. ``absolute`` says that every
    time is written with its offset, so that no row's meaning hangs on the rows before it.
    """

    name: str
    size: int
    mtime_ns: int
    marks: list[str]
    absolute: bool = False
    rows: int = 0
    low_us: int = 0
    high_us: int = 0
    open_end: bool = False

    def as_dict(self) -> dict[str, Any]:
        """Return the plain form."""
        return {name: getattr(self, name) for name in self.__slots__}


def seen_now(path: Path, name: str) -> SeenFile:
    """Look at a file's content, without reading its rows.

    Raises
    ------
    FileUnreadable
    """
    try:
        about = path.stat()
        return SeenFile(name, about.st_size, about.st_mtime_ns, *_marks(path, about.st_size))
    except OSError as error:
        raise FileUnreadable(file=name, reason=(error.strerror or str(error)).lower()) from error


def compare(path: Path, before: SeenFile) -> tuple[Now, SeenFile]:
    """Return what became of a file, and how it stands now; the row counts of ``before`` are taken over.

    ``grown`` says that all it held is still there, unchanged, and that rows have come after it.

    Raises
    ------
    FileUnreadable
    """
    try:
        about = path.stat()
        if (about.st_size, about.st_mtime_ns) == (before.size, before.mtime_ns) and before.marks:
            return "same", before
        now = seen_now(path, before.name)
        now.rows, now.low_us, now.high_us, now.open_end = before.rows, before.low_us, before.high_us, before.open_end
        if now.marks == before.marks and before.marks:
            return "same", now
        if not before.marks or about.st_size <= before.size:
            return "changed", now
        if path.name.lower().endswith(".parquet"):
            return ("grown" if now.marks[: len(before.marks)] == before.marks else "changed"), now
        whole = not before.marks[0].endswith(_PART)
        if (
            path.name.lower().endswith(".csv")
            and whole
            and [_digest(path, 0, before.size, whole_line=True)] == before.marks
        ):
            return "grown", now
    except OSError as error:
        raise FileUnreadable(file=before.name, reason=(error.strerror or str(error)).lower()) from error
    return "changed", now


def settled(path: Path, seen: SeenFile) -> SeenFile:
    """Return ``seen`` as it may be kept: without marks where the file was written to while it was being read."""
    try:
        about = path.stat()
    except OSError:
        about = None
    if about is None or (about.st_size, about.st_mtime_ns) != (seen.size, seen.mtime_ns):
        seen.marks = []
    return seen


def _marks(path: Path, size: int) -> tuple[list[str], bool]:
    if not path.name.lower().endswith(".parquet"):
        return [_digest(path, 0, size, whole_line=True)], False
    try:
        about = pq.read_metadata(path)
    except SPOILT:
        return [_digest(path, 0, size)], False
    kinds = about.schema.to_arrow_schema()
    times = [field.type for field in kinds if pa.types.is_timestamp(field.type)]
    absolute = bool(times) and all(kind.tz is not None for kind in times)
    schema = hashlib.blake2b(str(kinds).encode(), digest_size=8).hexdigest()
    marks = []
    for number in range(about.num_row_groups):
        group = about.row_group(number)
        columns = [group.column(place) for place in range(group.num_columns)]
        if not columns:
            marks.append("")
            continue
        begins = [column.dictionary_page_offset or column.data_page_offset for column in columns]
        begin = min(min(begins), *(column.data_page_offset for column in columns))
        end = max(start + column.total_compressed_size for start, column in zip(begins, columns, strict=True))
        marks.append(f"{schema}-{group.num_rows}-{begin}-{_digest(path, begin, end - begin)}")
    return marks, absolute


def _digest(path: Path, begin: int, length: int, *, whole_line: bool = False) -> str:
    """Return the digest of a stretch of a file; with ``whole_line`` it says too whether the last line is whole."""
    digest = hashlib.blake2b(digest_size=16)
    last = b"\n"
    with path.open("rb") as source:
        source.seek(begin)
        left = length
        while left > 0:
            chunk = source.read(min(left, _CHUNK))
            if not chunk:
                break
            digest.update(chunk)
            last = chunk[-1:]
            left -= len(chunk)
    return digest.hexdigest() + ("" if not whole_line or last == b"\n" else _PART)
