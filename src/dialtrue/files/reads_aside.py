"""Reads set aside to be sorted, in memory while they are few, in temporary files while they are many."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from typing import IO, Final

import numpy as np

ASIDE_ROWS: Final = 4_000_000
"""Reads sorted at a time. Our assumption: a quarter of a gigabyte with all that sorting needs."""
_MOST_SHELVES: Final = 512

_ROW: Final = np.dtype(
    [("channel", np.int32), ("at_us", np.int64), ("index", np.int64), ("flag", np.int8), ("known_us", np.int64)]
)


class ReadsAside:
    """Collects reads by channel, shelf by shelf.

    Parameters
    ----------
    channels : int
        Number of channels.
    rows : int
        Reads to come, as far as is known; decides the number of shelves.

    Whole channels go to one shelf. Use as a context manager: temporary files are gone at its end.
    """

    def __init__(self, channels: int, rows: int) -> None:
        self._shelves = max(1, min(-(-rows // ASIDE_ROWS), _MOST_SHELVES, channels))
        self._channels = max(channels, 1)
        self._memory: list[np.ndarray] = []
        self._files: list[IO[bytes]] = []
        if self._shelves > 1:
            # Each is closed by __exit__.
            self._files = [tempfile.TemporaryFile(prefix="dialtrue-reads-") for _ in range(self._shelves)]  # noqa: SIM115

    def __enter__(self) -> ReadsAside:
        return self

    def __exit__(self, *_: object) -> None:
        for file in self._files:
            file.close()

    def add(
        self, channel: np.ndarray, at_us: np.ndarray, index: np.ndarray, flag: np.ndarray, known_us: np.ndarray
    ) -> None:  # fmt: skip
        """Set reads of known channels aside, in the order of the file."""
        rows = np.empty(len(channel), _ROW)
        for name, values in zip(_ROW.names or (), (channel, at_us, index, flag, known_us), strict=True):
            rows[name] = values
        if not self._files:
            self._memory.append(rows)
            return
        shelf = channel.astype(np.int64) * self._shelves // self._channels
        for place in np.unique(shelf).tolist():
            self._files[place].write(rows[shelf == place].tobytes())

    def shelves(self) -> Iterator[tuple[np.ndarray, ...]]:
        """Yield channel, at_us, index, flag and known_us of one shelf after the other, in the order they came."""
        if not self._files:
            yield _columns(np.concatenate(self._memory) if self._memory else np.empty(0, _ROW))
        for file in self._files:
            file.seek(0)
            yield _columns(np.frombuffer(file.read(), _ROW))


def _columns(rows: np.ndarray) -> tuple[np.ndarray, ...]:
    return tuple(np.ascontiguousarray(rows[name]) for name in _ROW.names or ())
