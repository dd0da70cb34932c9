"""Reads as equal-length arrays: as the watch takes them, and written out in full."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(slots=True)
class ReadsBatch:
    """Some reads as equal-length arrays.

    ``endpoint`` int32 codes into ``ReadsSource.endpoints``; ``port`` int32; ``at_us`` int64 UTC [µs since 1970];
    ``index`` int64 [counts of index_resolution]; ``flag`` int8: 0 blank, 1 estimated, 2 repeated. ``bytes_done`` is how
    much of ``total_bytes`` has been taken so far. Rows stand in file order; nothing is sorted. ``known_us`` int64 is
    when each was known, where only what was known at some moment was asked for; else it is ``at_us``. ``file`` is the
    place of their file among ``ReadsSource.names``.
    """

    endpoint: np.ndarray
    port: np.ndarray
    at_us: np.ndarray
    index: np.ndarray
    flag: np.ndarray
    bytes_done: int
    known_us: np.ndarray
    file: int = 0


@dataclass(slots=True)
class LeanReads:
    """The reads of one piece of a file, with nothing written out that all rows share.

    ``code`` int32 is each row's place in ``words``, and ``words`` int32 the endpoint's code in
    ``ReadsSource.endpoints`` (-1: blank). ``port`` int32 is one figure for all rows or one each; ``flag`` int8 is empty
    where all are blank. The others are as in ``ReadsBatch``.
    """

    code: np.ndarray
    words: np.ndarray
    port: np.ndarray
    at_us: np.ndarray
    index: np.ndarray
    flag: np.ndarray
    bytes_done: int
    known_us: np.ndarray
    file: int = 0

    def whole(self) -> ReadsBatch:
        """Write every column out."""
        rows = len(self.at_us)
        endpoint = self.words[self.code] if len(self.words) else np.zeros(rows, np.int32)
        port = self.port if len(self.port) == rows else np.repeat(self.port, rows)
        flag = self.flag if len(self.flag) == rows else np.zeros(rows, np.int8)
        return ReadsBatch(endpoint, port, self.at_us, self.index, flag, self.bytes_done, self.known_us, self.file)

    def rows(self, chosen: np.ndarray) -> LeanReads:
        """Return the rows that a mask chooses."""
        port = self.port[chosen] if len(self.port) == len(chosen) else self.port
        flag = self.flag[chosen] if len(self.flag) == len(chosen) else self.flag
        return LeanReads(
            self.code[chosen], self.words, port, self.at_us[chosen], self.index[chosen], flag, self.bytes_done,
            self.known_us[chosen], self.file,
        )  # fmt: skip
