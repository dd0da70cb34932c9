"""Which files of a folder are which tables."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path
from typing import Final

from dialtrue.domain.contracts import TABLES_IN, Table
from dialtrue.domain.errors.input_files import (
    FileTooLarge,
    FileUnreadable,
    FolderIsAFile,
    FolderMissing,
    NoTables,
    TableIsAFolder,
    TwoFilesForOneTable,
)
from dialtrue.files.limits import MAX_READS_FILES

SUFFIXES: Final = (".csv", ".csv.gz", ".parquet")


def locate(folder: Path) -> dict[str, list[Path]]:
    """Find the tables of a programme folder.

    Parameters
    ----------
    folder : Path
        The programme folder.

    Returns
    -------
    dict
        Table name to its files: one, or for reads any number, in the order of their names.

    Raises
    ------
    FolderMissing, FolderIsAFile, NoTables, TwoFilesForOneTable, TableIsAFolder, FileUnreadable
    """
    entries = _entries(folder)
    found: dict[str, list[Path]] = {}
    for table in TABLES_IN:
        suffixes = (*SUFFIXES, ".xlsx") if table.xlsx else SUFFIXES
        names = {table.name + suffix for suffix in suffixes}
        if table.name == "reads":
            names.add("reads")
        files = [entry for entry in entries if entry.name.lower() in names]
        if len(files) > 1:
            raise _too_many(table, files)
        if files:
            found[table.name] = (
                _reads_files(files[0]) if files[0].name.lower() == "reads" else [_plain(files[0], table)]
            )
    if not found:
        seen = ", ".join(entry.name for entry in entries[:8]) + (" …" if len(entries) > 8 else "")
        raise NoTables(
            folder=str(folder), seen=f" (it holds: {seen})" if seen else " (it is empty)",
            expected=", ".join(table.name for table in TABLES_IN),
        )  # fmt: skip
    return found


def _entries(folder: Path) -> list[Path]:
    try:
        if not folder.exists() and not folder.is_symlink():
            raise FolderMissing(folder=str(folder))
        if not folder.is_dir():
            if folder.is_symlink():
                raise FileUnreadable(file=str(folder), reason="the link leads nowhere, or round in a circle")
            raise FolderIsAFile(folder=str(folder))
        return sorted(folder.iterdir(), key=lambda entry: entry.name)
    except (OSError, RuntimeError, ValueError) as error:
        raise FileUnreadable(file=str(folder), reason=_reason(error)) from error


def _plain(path: Path, table: Table) -> Path:
    """Return the path if it is a file that can be read."""
    try:
        if path.is_dir():
            raise TableIsAFolder(file=path.name, table=table.name)
        if not path.is_file():
            linked = path.is_symlink()
            reason = "the link leads nowhere, or round in a circle" if linked else "it is no plain file"
            raise FileUnreadable(file=path.name, reason=reason)
        if not os.access(path, os.R_OK):
            raise FileUnreadable(file=path.name, reason="permission denied")
    except (OSError, RuntimeError) as error:
        raise FileUnreadable(file=path.name, reason=_reason(error)) from error
    return path


def _reads_files(folder: Path) -> list[Path]:
    """Return the files of reads/, the folders inside it too; a circle of links is walked once."""
    if not folder.is_dir():
        linked = folder.is_symlink()
        raise FileUnreadable(
            file="reads",
            reason="the link leads nowhere, or round in a circle" if linked
            else "it has no ending; name it reads.csv, reads.csv.gz or reads.parquet",
        )  # fmt: skip
    files: list[Path] = []
    walked: set[str] = set()
    waiting = [folder]
    while waiting:
        here = waiting.pop()
        real = os.path.realpath(here)
        if real in walked:
            continue
        walked.add(real)
        for entry in _entries(here):
            if entry.name.startswith((".", "_")):
                continue
            if entry.is_dir():
                waiting.append(entry)
            elif entry.name.lower().endswith(SUFFIXES):
                files.append(_plain_read(entry))
            if len(files) > MAX_READS_FILES or len(walked) + len(waiting) > MAX_READS_FILES:
                raise FileTooLarge(file="reads", limit=f"{MAX_READS_FILES:,} files")
    return sorted(files)


def _plain_read(path: Path) -> Path:
    return _plain(path, next(table for table in TABLES_IN if table.name == "reads"))


def _too_many(table: Table, files: Iterable[Path]) -> TwoFilesForOneTable:
    """Name the files, and which to keep: the one written last."""
    by_age = sorted(files, key=lambda file: (file.lstat().st_mtime, file.name), reverse=True)
    return TwoFilesForOneTable(
        table=table.name, files=", ".join(sorted(file.name for file in by_age)), keep=by_age[0].name,
        others=", ".join(file.name for file in by_age[1:]),
    )  # fmt: skip


def _reason(error: BaseException) -> str:
    return (getattr(error, "strerror", None) or str(error) or type(error).__name__).lower()
