"""What people decided about repairs, as ``repairs.csv`` holds it, and its replay on a table as written."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import pyarrow as pa

from dialtrue.domain.survey.repair_line import BLANK, RepairLine, under
from dialtrue.domain.watch_result import Repair
from dialtrue.files.cells import as_text

WHOLE_COLUMN: Final = frozenset({"dates", "spaces", "numbers"})
"""Rules that speak of a whole column: ``was`` is the first cell seen, and another may come first tomorrow."""

_OFFERED: Final = frozenset({"dates", "spaces", "spelling", "numbers", "header"})
"""Rules that the reading of a table offers by itself each time; they are decided by key, not replayed cell by cell."""


@dataclass(slots=True)
class Decisions:
    """The decided lines, by key and by leading part of a key; ``met`` gathers the keys that found their text."""

    lines: tuple[RepairLine, ...] = ()
    said: list[str] = field(default_factory=list)
    met: set[str] = field(default_factory=set)
    changed: set[str] = field(default_factory=set)
    _by_key: dict[str, RepairLine] = field(default_factory=dict)

    @classmethod
    def of(cls, lines: Iterable[RepairLine], said: Iterable[str] = ()) -> Decisions:
        """Gather lines; two that decide one key differently decide nothing, and that is said. Never raises."""
        every = tuple(lines)
        made = cls(every, list(said))
        torn: set[str] = set()
        for line in every:
            if not line.decision:
                continue
            before = made._by_key.get(line.key)
            if before is not None and (before.decision, before.becomes) != (line.decision, line.becomes):
                torn.add(line.key)
            made._by_key[line.key] = line
        for key in sorted(torn):
            del made._by_key[key]
            made.said.append(f"repairs.csv decides {key} in two ways: neither is taken. Keep one of the lines.")
        return made

    def of_key(self, key: str) -> RepairLine | None:
        """Return the line that decides a key: its own, else that of the longest leading part. Never raises."""
        if not self._by_key:
            return None
        word = key
        while word:
            line = self._by_key.get(word)
            if line is not None:
                return line
            word = word.rpartition(":")[0]
        return None

    def accepts(self, key: str) -> bool:
        """Tell whether a key is accepted. Never raises."""
        line = self.of_key(key)
        return line is not None and line.accepted

    def refuses(self, key: str) -> bool:
        """Tell whether a key is refused. Never raises."""
        line = self.of_key(key)
        return line is not None and line.refused

    def names(self, key: str) -> bool:
        """Tell whether a line of its own accepts exactly this key. Never raises."""
        line = self._by_key.get(key)
        return line is not None and line.accepted

    def still_meant(self, repair: Repair) -> bool:
        """Tell whether the line that decides a repair spoke of the text that stands there now. Never raises."""
        line = self.of_key(repair.key)
        if line is None or line.key != repair.key or not line.was or repair.kind in WHOLE_COLUMN:
            return True
        if line.was == repair.original:
            return True
        self.changed.add(line.key)
        return False

    def decided(self, table: str) -> list[RepairLine]:
        """Return the accepted lines of a table that are replayed cell by cell. Never raises."""
        return [
            line
            for line in self._by_key.values()
            if line.accepted and line.table == table != "reads" and line.rule not in _OFFERED and line.column
        ]

    def of_reads(self) -> tuple[str, ...]:
        """Return the accepted keys that bear on the reads, in order. Never raises."""
        return tuple(sorted(key for key, line in self._by_key.items() if line.accepted and line.table in ("reads", "")))

    def unmet(self, tables: Iterable[str]) -> list[RepairLine]:
        """Return accepted lines of these tables that found nothing, keys that name a group left out. Never raises."""
        there = set(tables)
        return [
            line
            for line in self._by_key.values()
            if line.accepted and line.table in there and line.column and line.key not in self.met
        ]


@dataclass(frozen=True, slots=True)
class Replayed:
    """What a replay gave: the columns, the rows of each changed column, and the repairs as made."""

    columns: dict[str, pa.Array]
    rows: dict[str, list[int]]
    made: list[Repair]


def replay(
    decisions: Decisions, table: str, file: str, columns: dict[str, pa.Array], lines: np.ndarray
) -> Replayed | None:
    """Make the accepted repairs of a table, each only where the text is still what it was.

    Parameters
    ----------
    decisions : Decisions
        What was decided; ``met`` and ``said`` are added to.
    table, file : str
        The table, and what its file is called.
    columns : dict
        Columns as written, under the contract's names.
    lines : ndarray
        Line of each row in the file.

    Returns
    -------
    Replayed or None
        None where there is nothing to replay. Every line is held against the table as written, not as other lines
        left it, so their order does not matter. Never raises.
    """
    wanted = decisions.decided(table)
    if not wanted:
        return None
    texts: dict[str, list[str | None]] = {}

    def text(name: str) -> list[str | None]:
        if name not in texts:
            if name in columns:
                written = as_text(columns[name]).to_pylist()
                texts[name] = [None if cell is None else cell.strip() for cell in written]
            else:
                texts[name] = [None] * len(lines)
        return texts[name]

    pools = _Pools(wanted, text)
    fresh: dict[tuple[str, int], str | None] = {}
    rows: dict[str, list[int]] = {}
    made: list[Repair] = []
    for line in sorted(wanted, key=lambda line: line.key):
        names = line.column.split(", ")
        if not line.becomes:
            decisions.said.append(f"repairs.csv accepts {line.key} but gives no answer: fill in the cell becomes.")
            decisions.met.add(line.key)
            continue
        if any(name not in columns for name in names):
            continue
        found = _rows_meant(line, names, text, pools.of(line, names))
        parts = [BLANK] * len(names) if line.becomes == BLANK else _parts(line.becomes, names)
        values = [None if part == BLANK else part for part in parts]
        if not found or len(values) != len(names):
            continue
        if any(
            fresh.get((name, row), value) != value for row in found for name, value in zip(names, values, strict=True)
        ):
            decisions.said.append(f"repairs.csv: {line.key} would change a cell that another line changes: not made.")
            decisions.met.add(line.key)
            continue
        decisions.met.add(line.key)
        for row in found:
            for name, value in zip(names, values, strict=True):
                fresh[name, row] = value
                rows.setdefault(name, []).append(row)
        why = (line.why or line.rule) + (
            f" (accepted by {line.by}" + (f", {line.at})" if line.at else ")") if line.by else ""
        )
        made.append(
            Repair(line.key, line.rule, file, int(lines[found[0]]), line.column, line.was, line.becomes, why, True)
        )
    out = dict(columns)
    for name, places in rows.items():
        cells = as_text(columns[name]).to_pylist()
        for row in places:
            cells[row] = fresh[name, row]
        out[name] = pa.array(cells, pa.string())
    return Replayed(out, rows, made)


class _Pools:
    """The rows that a line may mean: those of its site, or those whose first named cell reads what it spoke of."""

    def __init__(self, wanted: Sequence[RepairLine], text: Callable[[str], list[str | None]]) -> None:
        self._text = text
        self._sites = {line.site for line in wanted if line.site}
        self._cells: dict[str, set[str]] = {}
        for line in wanted:
            if not line.site:
                names = line.column.split(", ")
                self._cells.setdefault(names[0], set()).add(_first(line, names))
        self._rows: dict[str, dict[str, list[int]]] = {}

    def of(self, line: RepairLine, names: Sequence[str]) -> Sequence[int]:
        """Return the rows to look at, in the order of the file."""
        column = "site" if line.site else names[0]
        place = f"site of {column}" if line.site else column
        if place not in self._rows:
            sought = self._sites if line.site else self._cells[column]
            rows: dict[str, list[int]] = {}
            for row, cell in enumerate(self._text(column)):
                if (cell or "") in sought:
                    rows.setdefault(cell or "", []).append(row)
            self._rows[place] = rows
        return self._rows[place].get(line.site or _first(line, names), [])


def _first(line: RepairLine, names: Sequence[str]) -> str:
    """Return what the first cell read."""
    return "" if line.was == BLANK else _parts(line.was, names)[0].strip()


def _parts(text: str, names: Sequence[str]) -> list[str]:
    """Return the text of each column: a joined one is taken apart."""
    return text.split(", ") if len(names) > 1 else [text]


def _rows_meant(
    line: RepairLine, names: Sequence[str], text: Callable[[str], list[str | None]], pool: Sequence[int]
) -> list[int]:  # fmt: skip
    """Return the rows whose cells still read as they did when the line was written."""
    was = [""] * len(names) if line.was == BLANK else _parts(line.was, names)
    if len(was) != len(names):
        return []
    found = [
        row
        for row in pool
        if all((text(name)[row] or "") == part.strip() for name, part in zip(names, was, strict=True))
    ]
    if not line.site or not found:
        return found
    role = line.register_role or "single"
    same = (
        [row for row in found if (text("register_role")[row] or "single") == role]
        if "register_role" not in names
        else found
    )
    narrowed = [row for row in same if (text("meter_serial")[row] or "") == line.meter_serial]
    return narrowed or same


def decided_by_word(
    lines: Iterable[RepairLine], words: Iterable[str], decision: str, *, by: str, at: str
) -> list[RepairLine]:
    """Return lines with a decision written on those that a word names. Never raises."""
    chosen = tuple(words)
    return [
        replace(line, decision=decision, by=by, at=at) if any(under(line.key, word) for word in chosen) else line
        for line in lines
    ]
