"""CSV files as checked bytes: UTF-8, no zero bytes, no endless line, no more than the memory set aside."""

from __future__ import annotations

import codecs
import csv
import gzip
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Final

import numpy as np

from dialtrue.domain.errors import DialtrueError
from dialtrue.domain.errors.input_files import (
    ColumnTwice,
    DamagedFile,
    EmptyFile,
    FileTooLarge,
    FileUnreadable,
    HeaderTooLarge,
    LineTooLong,
    NotText,
    NotUtf8,
    WrongSeparator,
)
from dialtrue.files.limits import BLOCK_BYTES, MAX_COLUMNS, MAX_HEADER_BYTES, MAX_LINE_BYTES

_MAGIC: Final = {
    b"PAR1": "it begins like a Parquet file",
    b"PK\x03\x04": "it begins like a workbook or a zip archive",
    b"\x1f\x8b": "it begins like a gzip file",
    b"%PDF": "it begins like a PDF",
    b"\xd0\xcf\x11\xe0": "it begins like an old workbook",
    b"\x89PNG": "it begins like a picture",
    b"SQLite": "it begins like a database",
}
_SEPARATORS: Final = {";": "a semicolon ;", "\t": "a tab", "|": "an upright bar |"}


@dataclass(frozen=True, slots=True)
class Block:
    """Whole lines of a file.

    ``first_line`` counts from 1; ``line_ends`` are the ends of line in ``data``; ``bytes_done`` is the place reached in
    the file on disk.
    """

    data: bytes
    first_line: int
    line_ends: int
    bytes_done: int


class CheckedText:
    """A CSV or gzipped CSV file, given as blocks of whole lines that have passed every check of text.

    Use it as a context. The header is read and judged on entry.
    """

    def __init__(self, path: Path, name: str, known: tuple[str, ...], *, block_bytes: int, most: int | None) -> None:
        self.name = name
        self._path = path
        self._known = known
        self._block_bytes = block_bytes
        self._most = most
        self._taken = 0
        self._line = 1
        self._rest = b""
        self._end = False
        self._old_mac = False
        self.header: list[str] = []

    def __enter__(self) -> CheckedText:
        try:
            self._raw: BinaryIO = self._path.open("rb")
            packed = self._path.name.lower().endswith(".gz")
            self._stream: BinaryIO = gzip.GzipFile(fileobj=self._raw) if packed else self._raw  # type: ignore[assignment]
        except OSError as error:
            raise FileUnreadable(file=self.name, reason=(error.strerror or str(error)).lower()) from error
        try:
            self._open_header()
        except BaseException:
            self._raw.close()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._raw.close()

    def _pull(self, size: int) -> bytes:
        """Read up to ``size`` unpacked bytes; fewer only at the end."""
        parts = []
        while size > 0 and not self._end:
            try:
                part = self._stream.read(min(size, BLOCK_BYTES))
            except (EOFError, zlib.error, gzip.BadGzipFile) as error:
                raise DamagedFile(
                    file=self.name, kind="gzip", reason=str(error).lower() or "it is cut short"
                ) from error
            except OSError as error:
                raise FileUnreadable(file=self.name, reason=(error.strerror or str(error)).lower()) from error
            if not part:
                self._end = True
            parts.append(part)
            size -= len(part)
            self._taken += len(part)
            if self._most is not None and self._taken > self._most:
                raise FileTooLarge(file=self.name, limit=f"{self._most // 1_000_000:,} MB when unpacked")
        return parts[0] if len(parts) == 1 else b"".join(parts)

    def _open_header(self) -> None:
        head = self._pull(MAX_HEADER_BYTES + 4)
        if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) or head[:64].count(0) > len(head[:64]) // 4:
            raise NotUtf8(file=self.name, row=1, byte=f"0x{head[0]:02X}", guess="UTF-16")
        for magic, what in _MAGIC.items():
            if head.startswith(magic):
                raise NotText(file=self.name, row=1, what=what)
        head = head.removeprefix(codecs.BOM_UTF8)
        if not head.strip():
            raise EmptyFile(file=self.name, header=",".join(self._known[:4]) + " …")
        if b"\n" not in head and b"\r" in head:
            self._old_mac = True
            head = head.replace(b"\r", b"\n")
        # Blank lines before the header are passed over, and still counted.
        while head[:1] in (b"\n", b"\r"):
            cut = 2 if head.startswith(b"\r\n") else 1
            head = head[cut:]
            self._line += 1
        end = head.find(b"\n")
        first = head if end < 0 else head[:end]
        self._check(first[: MAX_HEADER_BYTES // 10] if len(first) > MAX_HEADER_BYTES else first)
        if len(first) > MAX_HEADER_BYTES:
            size = f"{first.count(b',') + 1:,} columns or more in its first megabyte"
            raise HeaderTooLarge(file=self.name, size=size, limit=f"{MAX_HEADER_BYTES:,} bytes")
        self.header = split_header(first.rstrip(b"\r").decode("utf-8"), self.name, self._known)
        self._line += 1
        self._rest = b"" if end < 0 else head[end + 1 :]

    def blocks(self) -> Iterator[Block]:
        """Yield the lines after the header.

        Raises
        ------
        DialtrueError
            A check failed: encoding, zero byte, line length, size, a damaged gzip stream.
        """
        while True:
            more = self._pull(max(self._block_bytes - len(self._rest), 1)) if not self._end else b""
            data = self._rest + (more.replace(b"\r", b"\n") if self._old_mac else more)
            if not data:
                return
            if self._end:
                block, self._rest = data, b""
            else:
                cut = data.rfind(b"\n") + 1
                block, self._rest = data[:cut], data[cut:]
                if len(self._rest) > MAX_LINE_BYTES:
                    raise self._too_long(self._line + block.count(b"\n"))
                if not block:
                    continue
            self._check(block)
            self._check_lines(block)
            line_ends = block.count(b"\n")
            yield Block(block, self._line, line_ends, self._raw.tell())
            self._line += line_ends

    def _check(self, data: bytes) -> None:
        if b"\x00" in data:
            row = self._line + data.count(b"\n", 0, data.index(b"\x00"))
            raise NotText(file=self.name, row=row, what="it holds a zero byte")
        if data.isascii():
            return
        try:
            data.decode("utf-8")
        except UnicodeDecodeError as error:
            row = self._line + data.count(b"\n", 0, error.start)
            guess = "Latin-1 or Windows-1252" if data[error.start] >= 0x80 else "another encoding"
            raise NotUtf8(file=self.name, row=row, byte=f"0x{data[error.start]:02X}", guess=guess) from error

    def _check_lines(self, block: bytes) -> None:
        # A line above the limit covers at least one stride of half its length whole, so a stride without an end of line
        # is the sign to look closer.
        stride = MAX_LINE_BYTES // 2
        whole = range(0, len(block) - stride + 1, stride)
        if all(block.find(b"\n", start, start + stride) >= 0 for start in whole):
            return
        ends = np.flatnonzero(np.frombuffer(block, np.uint8) == 10)
        lengths = np.diff(np.concatenate(([-1], ends, [len(block)])))
        if int(lengths.max()) > MAX_LINE_BYTES:
            raise self._too_long(self._line + int(np.argmax(lengths > MAX_LINE_BYTES)))

    def _too_long(self, row: int) -> DialtrueError:
        return LineTooLong(file=self.name, row=row, limit=f"{MAX_LINE_BYTES:,}")


def split_header(line: str, name: str, known: tuple[str, ...]) -> list[str]:
    """Split the header row and name its cells.

    Parameters
    ----------
    line : str
        The first line of the file.
    name : str
        The file, for messages.
    known : tuple of str
        The contract's columns; they tell which separator was meant.

    Returns
    -------
    list of str
        One name a column, all different; a blank name becomes ``unnamed_3``, a second one gets a number.

    Raises
    ------
    WrongSeparator, HeaderTooLarge, ColumnTwice
    """
    commas = _cells(line, ",")
    for separator, words in _SEPARATORS.items():
        if separator in line:
            other = {cell.strip().casefold() for cell in _cells(line, separator)} & set(known)
            if len(other) > len({cell.strip().casefold() for cell in commas} & set(known)) or (
                len(commas) == 1 and not other & set(known) and len(_cells(line, separator)) > 2
            ):
                raise WrongSeparator(file=name, separator=words)
    return named_once([cell.strip() for cell in commas], name, known)


def named_once(cells: list[str], name: str, known: tuple[str, ...]) -> list[str]:
    """Give every column a name of its own; raise ``ColumnTwice`` where a contract column is there twice."""
    if len(cells) > MAX_COLUMNS:
        raise HeaderTooLarge(file=name, size=f"{len(cells):,} columns", limit=f"{MAX_COLUMNS:,} columns")
    taken: dict[str, int] = {"_row": 0}
    names = []
    for place, cell in enumerate(cells, start=1):
        label = cell or f"unnamed_{place}"
        if label in taken:
            if label in known:
                raise ColumnTwice(file=name, column=label, places=f"{taken[label]} and {place}")
            label = f"{label}_{place}"
        while label in taken:
            label += "_"
        taken[label] = place
        names.append(label)
    return names


def _cells(line: str, separator: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=separator), [])
    except csv.Error:
        return line.split(separator)
