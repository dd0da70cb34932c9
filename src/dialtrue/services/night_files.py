"""The files of reads from night to night: which are read again, from where on, and what was said of the others."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from dialtrue.domain.watch_result import RowProblem
from dialtrue.files.reads import ReadsSource
from dialtrue.files.reads_seen import SeenFile, compare, seen_now, settled
from dialtrue.services.kept_state import KeptState
from dialtrue.services.reads_by_time import NEVER_US


class CountAll(Exception):
    """All reads have to be counted again; the words say why."""


class NightFiles:
    """A run's view of the files.

    ``seen`` maps a file's place to what is known of it; ``begin`` maps the place of each file that is to be read to the
    row group to begin at, ``counted`` to how many of its rows an earlier run has read. ``problems`` and ``counts`` are
    what is to be said of bad rows, those of files not read again among them.
    """

    def __init__(self, source: ReadsSource) -> None:
        self._source = source
        self._skipped: set[str] = set()
        self.seen: dict[int, SeenFile] = {}
        self.begin: dict[int, int] = {}
        self.counted: dict[int, int] = {}
        self.problems: list[dict[str, Any]] = []
        self.counts: dict[str, int] = {}

    def all_anew(self) -> None:
        """Take every file as if none had been seen."""
        source = self._source
        source.choose(None)
        source.left_for_later.clear()
        self._skipped = set()
        self.seen = {
            place: seen_now(path, name)
            for place, (path, name) in enumerate(zip(source.paths, source.names, strict=True))
        }

    def since(self, kept: KeptState) -> None:
        """Choose what has to be read after an earlier run.

        Raises
        ------
        CountAll
            Reads that the kept figures hold are not in the files as they were.
        """
        before = {item["name"]: SeenFile(**item) for item in kept.facts["files"]}
        source = self._source
        for place, (path, name) in enumerate(zip(source.paths, source.names, strict=True)):
            old = before.pop(name, None)
            if old is None:
                self.seen[place], self.begin[place] = seen_now(path, name), 0
                continue
            now, seen = compare(path, old)
            self.seen[place] = seen
            done = old.high_us <= kept.horizon_us and not old.open_end
            if now == "changed":
                if old.rows and old.low_us <= kept.horizon_us:
                    raise CountAll(f"{name} is not what it was")
                self._read_whole(place, counted=0)
            elif now == "grown" and old.open_end:
                raise CountAll(f"{name} has grown, and some of its rows could not be counted before")
            elif now == "grown" and done and old.absolute and path.name.lower().endswith(".parquet"):
                self.begin[place] = len(old.marks)
            elif now == "grown":
                self._read_whole(place, counted=old.rows)
            elif not done:
                # Every row was there before: time alone tells what was counted.
                self._read_whole(place, counted=NEVER_US)
        for old in before.values():
            if old.rows and old.low_us <= kept.horizon_us:
                raise CountAll(f"{old.name} is not there any more")
        self._skipped = {seen.name for place, seen in self.seen.items() if self.begin.get(place) != 0}
        source.choose(self.begin)

    def _read_whole(self, place: int, *, counted: int) -> None:
        seen = self.seen[place]
        seen.rows, seen.low_us, seen.high_us = 0, 0, 0
        self.begin[place], self.counted[place] = 0, counted

    def settle(self, kept: KeptState | None) -> None:
        """Note what is to be said of files that were not read again, and which rows may count at a later run."""
        source = self._source
        if kept is not None:
            for problem in kept.facts["problems"]:
                if problem["file"] in self._skipped:
                    source.problems.append(RowProblem(**problem))
            for name, count in kept.facts["counts"].items():
                if name in self._skipped:
                    source.problem_counts[name] = source.problem_counts.get(name, 0) + count
        told: dict[str, int] = {}
        ahead = set()
        for item in source.problems:
            told[item.file] = told.get(item.file, 0) + 1
            if item.code == "TIME-TOO-LATE":
                ahead.add(item.file)
        ahead |= {name for name, count in source.problem_counts.items() if count > told.get(name, 0)}
        for place, seen in self.seen.items():
            if seen.name not in self._skipped:
                seen.open_end = place in source.left_for_later or seen.name in ahead
                self.seen[place] = settled(source.paths[place], seen)
        self.problems = [asdict(item) for item in source.problems]
        self.counts = dict(source.problem_counts)
