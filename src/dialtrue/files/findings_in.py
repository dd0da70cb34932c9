"""Findings read back: the table that a watch wrote."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pyarrow as pa

from dialtrue.domain.contracts import FINDINGS
from dialtrue.domain.errors.input_files import FileUnreadable
from dialtrue.files.normalise import normalise
from dialtrue.files.problems import ProblemLog
from dialtrue.files.programme import read_raw


def read_findings(path: Path, *, zone: str, at: dt.datetime) -> pa.Table:
    """Read findings that were written before; the good rows, as those of registers without an endpoint name no port.

    Parameters
    ----------
    path : Path
        As ``write_findings`` wrote it.
    zone : str
        Zone of times without an offset.
    at : datetime
        The time of the run, aware.

    Raises
    ------
    DialtrueError
        The file cannot be used; see ``errors/input_files.py``, exit codes 10 to 19.
    """
    if not path.is_file():
        raise FileUnreadable(file=str(path), reason="there is no such file")
    return normalise(read_raw(path, FINDINGS), FINDINGS, ProblemLog(), zone=zone, at=at)
