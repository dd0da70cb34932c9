"""A programme folder opened: tables in the contract's form, the reads, and all that is to be said about them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import pyarrow as pa

from dialtrue.domain.contracts import TABLE, TABLES_IN, Table
from dialtrue.domain.errors.input_files import UnknownRepair
from dialtrue.domain.watch_settings import WatchSettings
from dialtrue.files.as_of import known_at
from dialtrue.files.csv_in import RawTable, read_csv
from dialtrue.files.locate import locate
from dialtrue.files.normalise import normalise
from dialtrue.files.parquet_in import read_parquet
from dialtrue.files.problems import Missing, ProblemLog, Repair, RowProblem
from dialtrue.files.reads import ReadsSource
from dialtrue.files.repairs_file import read_decisions
from dialtrue.files.serials import KnownSerials, offer_serial_repairs
from dialtrue.files.settings import programme_zone, watch_settings

__all__ = ["Missing", "Programme", "Repair", "RowProblem", "open_programme"]

KINDS: Final = frozenset({"all", "zeros", "swap", "dates", "header", "numbers", "spaces", "spelling"})
"""The kinds of repair that may be accepted as a whole."""


@dataclass(slots=True)
class Programme:
    """A programme folder as opened.

    ``tables`` holds the normalised tables that are there, by name (not reads); ``reads`` the source of reads or None.
    Repairs that the reads bring are added to ``repairs`` and ``accepted`` while the batches are taken.
    """

    folder: str
    timezone: str
    tables: dict[str, pa.Table]
    reads: ReadsSource | None
    problems: list[RowProblem]
    problem_counts: dict[str, int]
    repairs: list[Repair]
    accepted: list[Repair]
    missing: list[Missing]
    notes: list[str]
    watch: WatchSettings = field(default_factory=WatchSettings)
    decided_reads: tuple[str, ...] = ()
    """Keys that ``repairs.csv`` accepts and that bear on the reads: they decide what a read means."""


def open_programme(
    folder: Path,
    *,
    at: dt.datetime,
    strict: bool = False,
    accept: Sequence[str] = (),
    as_of: dt.datetime | None = None,
) -> Programme:
    """Open a programme folder: read every table that is there, say what is missing, set bad rows aside.

    Parameters
    ----------
    folder : Path
        Holds the contract tables under their base names, and ``programme.toml``.
    at : datetime
        The time of the run, aware; stamps far after it are refused.
    strict : bool
        Refuse all if any row is bad.
    accept : sequence of str
        Repairs to make: keys, leading parts of keys (``zeros:fittings``), kinds (``zeros``), or ``all``; besides those
        that ``repairs.csv`` in the folder accepts, each while its text still stands.
    as_of : datetime, optional
        Give only what was known at that moment, aware; see ``files.as_of.known_at``.

    Returns
    -------
    Programme
        Good rows only. The reads are not yet taken: pull ``programme.reads.batches()``.

    Raises
    ------
    RowsRefused
        ``strict`` and a row is bad; every bad row is listed (the first 50 of each file in full).
    UnknownRepair
        A key was accepted that nothing offers.
    DialtrueError
        The folder or a file cannot be used; see ``errors/input_files.py``, exit codes 10 to 19.
    """
    found = locate(folder)
    zone, word = programme_zone(folder)
    watch = watch_settings(folder)
    log = ProblemLog(accept=tuple(accept), decisions=read_decisions(folder))
    tables: dict[str, pa.Table] = {}
    files: dict[str, str] = {}
    for table in TABLES_IN:
        if table.name in found and table.name != "reads":
            path = found[table.name][0]
            files[table.name] = path.name
            tables[table.name] = normalise(read_raw(path, table), table, log, zone=zone, at=at)
            if as_of is not None:
                tables[table.name] = known_at(tables[table.name], table, as_of, zone=zone)
    offer_serial_repairs(tables, files, log)
    log.say_decisions(tuple(tables))
    reads = None
    if "reads" in found:
        known = tables["fittings"]["endpoint_serial"].to_pylist() if "fittings" in tables else ()
        reads = ReadsSource(
            found["reads"],
            folder=folder,
            zone=zone,
            at=at,
            strict=strict,
            log=log,
            known=KnownSerials.of(known),
            until=as_of,
        )
    if word is not None and log.naive_seen:
        log.notes.insert(0, word)
    if strict:
        log.refuse()
    check_accepted(log)
    missing = [Missing(table.name, table.without_it) for table in TABLES_IN if not (table.later or table.name in found)]
    return Programme(
        str(folder), zone, tables, reads, log.problems, log.counts, log.repairs, log.accepted, missing, log.notes,
        watch, log.decisions.of_reads(),
    )  # fmt: skip


def read_raw(path: Path, table: Table) -> RawTable:
    """Read one table as written, by the ending of its name; raises what the reader of that ending raises."""
    known = tuple(column.name for column in TABLE[table.name].columns)
    name = path.name.lower()
    if name.endswith(".parquet"):
        return read_parquet(path, path.name, known)
    if name.endswith(".xlsx"):
        # Imported here: only some programmes have a workbook.
        from dialtrue.files.xlsx_in import read_xlsx

        return read_xlsx(path, path.name, known)
    return read_csv(path, path.name, known)


def check_accepted(log: ProblemLog) -> None:
    """Raise ``UnknownRepair`` for a key that offers nothing; keys of reads are known only when the reads are taken."""
    for word in log.accept:
        if word in KINDS or word.split(":")[1:2] == ["reads"]:
            continue
        if not any(repair.key == word or repair.key.startswith(word + ":") for repair in log.accepted):
            offered = ", ".join(dict.fromkeys(repair.key for repair in log.repairs[:8]))
            raise UnknownRepair(accept=word, offered=offered or "none (nothing needs repair)")
