"""Reads in any order brought into the order of ports and time in bounded memory: spilled to disk by groups."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

_ROW: Final = np.dtype([("port", "<i4"), ("at_us", "<i8"), ("index", "<i8"), ("quality", "i1")])


@dataclass(slots=True)
class Thinned:
    """How many reads were left out on the way and why."""

    twice: int = 0
    contradicting: int = 0
    thinned: int = 0


class SortedReads:
    """Reads of numbered ports, spilled while they come and given back sorted.

    Parameters
    ----------
    scratch : Path
        A folder for the spilled rows; it is made, and whoever made its parent clears it away.
    ports_per_group : int
        Ports that are held in memory at once. [1 or more]
    """

    def __init__(self, scratch: Path, ports_per_group: int) -> None:
        self._scratch = scratch
        self._size = ports_per_group
        self._groups: set[int] = set()
        scratch.mkdir(parents=True, exist_ok=True)

    def add(self, port: np.ndarray, at_us: np.ndarray, index: np.ndarray, quality: np.ndarray) -> None:
        """Take some reads; ``port`` is the number of each read's port."""
        if not len(port):
            return
        rows = np.empty(len(port), _ROW)
        rows["port"], rows["at_us"], rows["index"], rows["quality"] = port, at_us, index, quality
        group = port // self._size
        order = np.argsort(group, kind="stable")
        rows, group = rows[order], group[order]
        edges = np.flatnonzero(np.diff(group, prepend=-1))
        for low, high in zip(edges.tolist(), [*edges[1:].tolist(), len(group)], strict=True):
            number = int(group[low])
            self._groups.add(number)
            with self._path(number).open("ab") as sink:
                rows[low:high].tofile(sink)

    def groups(self) -> Iterator[np.ndarray]:
        """Yield each group's rows (port, at_us, index, quality) by port and time; what was spilled is deleted."""
        for number in sorted(self._groups):
            path = self._path(number)
            rows = np.fromfile(path, _ROW)
            path.unlink()
            yield rows[np.lexsort((rows["quality"], rows["at_us"], rows["port"]))]

    def __len__(self) -> int:
        return len(self._groups)

    def _path(self, number: int) -> Path:
        return self._scratch / f"{number:06d}.reads"


def without_twins(rows: np.ndarray, told: Thinned) -> np.ndarray:
    """Keep the best of several equal reads of a port and moment, and none of several that contradict each other."""
    if not len(rows):
        return rows
    first = np.concatenate(([True], (np.diff(rows["port"]) != 0) | (np.diff(rows["at_us"]) != 0)))
    run = np.cumsum(first) - 1
    low = np.minimum.reduceat(rows["index"], np.flatnonzero(first))
    high = np.maximum.reduceat(rows["index"], np.flatnonzero(first))
    agree = (low == high)[run]
    told.contradicting += int((~agree).sum())
    told.twice += int((agree & ~first).sum())
    return rows[agree & first]


def last_of_day(rows: np.ndarray, day: np.ndarray, told: Thinned) -> np.ndarray:
    """Keep each port's last read of each local day; ``day`` is the local day of each row."""
    if not len(rows):
        return rows
    last = np.concatenate(((np.diff(rows["port"]) != 0) | (np.diff(day) != 0), [True]))
    told.thinned += int((~last).sum())
    return rows[last]
