"""The routes table read back, where a programme has one."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pyarrow as pa

from dialtrue.domain.contracts import ROUTES
from dialtrue.files.locate import SUFFIXES
from dialtrue.files.normalise import normalise
from dialtrue.files.problems import ProblemLog
from dialtrue.files.programme import read_raw


def read_routes(
    path: Path, *, at: dt.datetime, zone: str, strict: bool = False
) -> tuple[pa.Table | None, tuple[str, ...]]:
    """Read a routes table.

    Parameters
    ----------
    path : Path
        The table, or a folder that may hold ``routes`` in one of the contract's forms.
    at : datetime
        The time of the run, aware.
    zone : str
        Zone of times without an offset.
    strict : bool
        Refuse the table if any row is bad.

    Returns
    -------
    tuple of Table or None, and tuple of str
        None where the folder holds none; good rows in the contract's form otherwise, and what is to be said.

    Raises
    ------
    RowsRefused
        ``strict`` and a row is bad.
    DialtrueError
        The file cannot be used; see ``errors/input_files.py``.
    """
    file = path
    if path.is_dir():
        found = [path / f"{ROUTES.name}{suffix}" for suffix in SUFFIXES if (path / f"{ROUTES.name}{suffix}").is_file()]
        if not found:
            return None, ()
        file = found[0]
    log = ProblemLog()
    table = normalise(read_raw(file, ROUTES), ROUTES, log, zone=zone, at=at)
    if strict:
        log.refuse()
    return table, tuple([problem.says() for problem in log.problems] + log.notes)
