"""What is said about input: bad rows, offered repairs, missing tables, and the log that gathers them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from dialtrue.domain.errors.input_files import RowsRefused
from dialtrue.domain.survey.repair_line import under
from dialtrue.domain.watch_result import Repair, RowProblem
from dialtrue.files.decisions import Decisions
from dialtrue.files.limits import MAX_PROBLEMS_A_FILE

__all__ = ["Missing", "ProblemLog", "Repair", "RowProblem", "count_of", "some"]


@dataclass(frozen=True, slots=True)
class Missing:
    """A table that is not in the folder, and what its lack costs."""

    table: str
    without_it: str


@dataclass(slots=True)
class ProblemLog:
    """Gathers bad rows (the first ones of each file in full, all counted), repairs and notes."""

    problems: list[RowProblem] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)
    repairs: list[Repair] = field(default_factory=list)
    accepted: list[Repair] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    accept: tuple[str, ...] = ()
    decisions: Decisions = field(default_factory=Decisions)
    refused: list[Repair] = field(default_factory=list)
    tallies: dict[tuple[str, str], tuple[int, list[int]]] = field(default_factory=dict)
    offered: set[str] = field(default_factory=set)
    naive_seen: bool = False
    """Some time had no offset, so that the programme's zone mattered."""

    def bad(self, problem: RowProblem) -> None:
        """Count a bad row; keep it in full while the file has few."""
        self.bad_many(problem.file, [problem], 1)

    def bad_many(self, file: str, kept: Sequence[RowProblem], count: int) -> None:
        """Count ``count`` bad rows of one file, of which ``kept`` are described."""
        if not count:
            return
        before = self.counts.get(file, 0)
        self.counts[file] = before + count
        self.problems.extend(kept[: max(0, MAX_PROBLEMS_A_FILE - before)])

    def room(self, file: str) -> int:
        """Return how many more bad rows of ``file`` would be kept in full."""
        return max(0, MAX_PROBLEMS_A_FILE - self.counts.get(file, 0))

    def takes(self, key: str) -> bool:
        """Tell whether the repair of that key was accepted: by key, by any leading part of it, or by ``all``."""
        return any(under(key, word) for word in self.accept) or self.decisions.accepts(key)

    def names(self, key: str) -> bool:
        """Tell whether exactly this key was accepted, on the command line or in ``repairs.csv``."""
        return key in self.accept or self.decisions.names(key)

    def offer(self, repair: Repair) -> bool:
        """List the repair once; return True if it was accepted and is to be made.

        A decision in ``repairs.csv`` counts only while the text is still what it was; a refused one is not listed.
        """
        asked = any(under(repair.key, word) for word in self.accept)
        meant = asked or self.decisions.still_meant(repair)
        taken = asked or (meant and self.decisions.accepts(repair.key))
        if repair.key in self.offered:
            return taken
        self.offered.add(repair.key)
        self.decisions.met.add(repair.key)
        if not taken and meant and self.decisions.refuses(repair.key):
            self.refused.append(repair)
            return False
        (self.accepted if taken else self.repairs).append(replace(repair, accepted=taken))
        return taken

    def note(self, text: str) -> None:
        """Add a sentence once."""
        if text not in self.notes:
            self.notes.append(text)

    def tally(self, words: str, noun: str, rows: Sequence[int]) -> None:
        """Count rows of which the same is to be said; ``words`` holds ``{rows}``. Said by ``say_tallies``."""
        count, first = self.tallies.get((words, noun), (0, []))
        self.tallies[words, noun] = (count + len(rows), (first + list(rows[:8]))[:8])

    def say_decisions(self, tables: Sequence[str]) -> None:
        """Note which decisions of ``repairs.csv`` found another text than they spoke of, and which found none."""
        for words in self.decisions.said:
            self.note(words)
        gone = sorted({line.key for line in self.decisions.unmet(tables)} | self.decisions.changed)
        if gone:
            self.note(
                f"repairs.csv: {count_of(len(gone), 'decision')} no longer meet the text they were made for; nothing "
                f"was changed there: {some(gone)}. Run dialtrue survey again."
            )

    def say_tallies(self) -> None:
        """Turn what was counted into notes: ``3 times (rows 5, 9, 12)``."""
        for (words, noun), (count, first) in self.tallies.items():
            places = some(first[:5]) + (f" and {count - 5:,} more" if count > 5 else "")
            self.note(words.format(rows=f"{count_of(count, noun)} ({'row' if count == 1 else 'rows'} {places})"))
        self.tallies.clear()

    def refuse(self) -> None:
        """Raise one error that lists the bad rows, if there are any."""
        total = sum(self.counts.values())
        if not total:
            return
        lines = ["  " + problem.says() for problem in self.problems]
        if total > len(lines):
            lines.append(f"  and {total - len(lines)} more")
        raise RowsRefused(count=total, rows="\n".join(lines))


def some(values: Sequence[int] | Sequence[str], shown: int = 5) -> str:
    """Write the first few of a list and how many more there are: ``3, 7, 9 and 4 more``."""
    head = ", ".join(str(value) for value in values[:shown])
    return head if len(values) <= shown else f"{head} and {len(values) - shown:,} more"


def count_of(number: int, one: str, many: str | None = None) -> str:
    """Write a count with its noun: ``1 row``, ``12,000 rows``."""
    return f"{number:,} {one if number == 1 else (many or one + 's')}"
