"""Header rows against the contract: names that differ by a capital or a hyphen are offered, missing ones refused."""

from __future__ import annotations

import difflib

import pyarrow as pa

from dialtrue.domain.contracts import Table
from dialtrue.domain.errors.input_files import ColumnMissing
from dialtrue.files.csv_in import RawTable
from dialtrue.files.problems import ProblemLog, Repair


def folded_header(name: str) -> str:
    """Return a header cell without capitals, with spaces, hyphens and points as underscores. Never raises."""
    return "_".join(name.casefold().replace("-", " ").replace("_", " ").replace(".", " ").split())


def renamed_header(names: list[str], table: Table, file: str, log: ProblemLog, *, row: int = 1) -> dict[str, str]:
    """Offer contract names for headers that differ only by capitals, spaces or hyphens.

    Returns
    -------
    dict
        Name in the file to the contract's name, for the renamings that were accepted.

    Raises
    ------
    ColumnMissing
        A column that every row needs is there under no accepted name.
    """
    present = set(names)
    renamed: dict[str, str] = {}
    offered: dict[str, str] = {}
    for column in table.columns:
        if column.name in present:
            continue
        alike = [name for name in names if folded_header(name) == column.name and table.column(name) is None]
        if len(alike) != 1:
            continue
        key = f"header:{table.name}:{column.name}"
        why = "the header differs only by capitals, spaces or hyphens"
        if log.offer(Repair(key, "header", file, row, column.name, alike[0], column.name, why)):
            renamed[alike[0]] = column.name
        else:
            offered[column.name] = f"{alike[0]!r} looks like it: accept {key}"
    have = present | set(renamed.values())
    missing = [column.name for column in table.columns if column.required and column.name not in have]
    if missing:
        hints = [offered[name] if name in offered else _near(name, names, table) for name in missing]
        hint = "; ".join(dict.fromkeys(hint for hint in hints if hint))
        found = ", ".join(name[:40] for name in names[:12]) + (" …" if len(names) > 12 else "")
        raise ColumnMissing(file=file, columns=", ".join(missing), hint=f" ({hint})" if hint else "", found=found)
    return renamed


def _near(name: str, names: list[str], table: Table) -> str:
    others = [other[:60] for other in names[:200] if table.column(other) is None]
    near = difflib.get_close_matches(name, others, n=1, cutoff=0.6)
    return f"{near[0]!r} may be meant for {name}: rename it" if near else ""


def settle_header(raw: RawTable, table: Table, log: ProblemLog) -> dict[str, pa.Array]:
    """Return the columns under the contract's names; raises ``ColumnMissing`` as ``renamed_header`` does."""
    renamed = renamed_header(list(raw.columns), table, raw.file, log)
    raw.number_cells = {renamed.get(name, name): rows for name, rows in raw.number_cells.items()}
    return {renamed.get(name, name): column for name, column in raw.columns.items()}
