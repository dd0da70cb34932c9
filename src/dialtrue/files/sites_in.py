"""The sites table alone, from a file or from a programme folder."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pyarrow as pa

from dialtrue.domain.contracts import SITES
from dialtrue.domain.errors.input_files import FileUnreadable
from dialtrue.files.locate import locate
from dialtrue.files.normalise import normalise
from dialtrue.files.problems import ProblemLog
from dialtrue.files.programme import read_raw
from dialtrue.files.repairs_file import read_decisions


def read_sites(path: Path, *, at: dt.datetime, strict: bool = False) -> tuple[pa.Table, ProblemLog]:
    """Read the sites table.

    Parameters
    ----------
    path : Path
        A file in any form of the contract, or a programme folder that holds ``sites`` (and perhaps ``repairs.csv``).
    at : datetime
        The time of the run, aware.
    strict : bool
        Refuse all if any row is bad.

    Returns
    -------
    tuple of Table and ProblemLog
        Good rows in the contract's form; bad rows, offered repairs and notes.

    Raises
    ------
    FileUnreadable
        There is no such file, or the folder holds no sites.
    DialtrueError
        The file cannot be used; see ``errors/input_files.py``, exit codes 10 to 19.
    """
    file = path
    if path.is_dir():
        found = locate(path)
        if "sites" not in found:
            raise FileUnreadable(file=str(path), reason="the folder holds no sites table")
        file = found["sites"][0]
    log = ProblemLog(decisions=read_decisions(path)) if path.is_dir() else ProblemLog()
    table = normalise(read_raw(file, SITES), SITES, log, zone="UTC", at=at)
    log.say_decisions(("sites",))
    if strict:
        log.refuse()
    return table, log
