"""Findings and crossings read back from the files that ``dialtrue watch`` wrote, bad rows said."""

from __future__ import annotations

import datetime as dt
import difflib
import json
import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import pyarrow as pa

from dialtrue.domain.contracts import CROSSINGS, FINDINGS, Table
from dialtrue.domain.errors import FileUnreadable
from dialtrue.domain.faults import FAULTS
from dialtrue.domain.finding import Crossing, Evidence, Figure, Finding
from dialtrue.domain.words import counted
from dialtrue.files.limits import MAX_PROBLEMS_A_FILE
from dialtrue.files.normalise import normalise
from dialtrue.files.problems import ProblemLog, RowProblem
from dialtrue.files.programme import read_raw

Row = Mapping[str, Any]

_WRITTEN: Final = replace(
    FINDINGS,
    columns=tuple(
        replace(each, required=False) if each.name == "endpoint_serial" else each for each in FINDINGS.columns
    ),
)
"""The findings as a watch writes them: a register that nothing is fitted to has no endpoint."""
_TEXTS: Final = ("meter_serial", "endpoint_serial", "runner_up", "next_check", "remedy", "verdict")
_SPAN: Final = ("volume_error_low_l", "volume_error_high_l")
_TAKE_OUT: Final = "Take the row from the file as dialtrue watch wrote it."


def read_table(path: Path, table: Table, *, zone: str, at: dt.datetime) -> tuple[pa.Table, ProblemLog]:
    """Read one table of the contract from a file of any name.

    Parameters
    ----------
    path : Path
        Ends in .csv, .csv.gz or .parquet.
    table : Table
        The contract.
    zone : str
        IANA zone of times without an offset.
    at : datetime
        The time of the run, aware.

    Returns
    -------
    tuple of Table and ProblemLog
        Good rows in the contract's form, with ``_row`` (the line in the file); bad rows, offered repairs and notes.

    Raises
    ------
    FileUnreadable
        There is no such file.
    DialtrueError
        The file cannot be used; see ``errors/input_files.py``, exit codes 10 to 19.

    Source
    ------
    Definitions of the file contract.
    """
    if not path.is_file():
        raise FileUnreadable(file=str(path), reason="it is a folder" if path.is_dir() else "there is no such file")
    log = ProblemLog()
    return normalise(read_raw(path, table), table, log, zone=zone, at=at), log


def read_findings(path: Path, *, zone: str, at: dt.datetime) -> tuple[tuple[Finding, ...], list[str]]:
    """Read findings back, as ``dialtrue watch --out`` wrote them.

    Parameters
    ----------
    path : Path
        Ends in .csv, .csv.gz or .parquet.
    zone : str
        IANA zone of times without an offset.
    at : datetime
        The time of the run, aware.

    Returns
    -------
    tuple of tuple of Finding and list of str
        The findings in the order of the file, and what is to be said: rows left out, with row, value and remedy; notes.
        A port that stands twice keeps its first row.

    Raises
    ------
    FileUnreadable
        There is no such file.
    DialtrueError
        The file cannot be used; see ``errors/input_files.py``, exit codes 10 to 19.

    Source
    ------
    Definitions of the file contract.
    """
    table, log = read_table(path, _WRITTEN, zone=zone, at=at)
    found: dict[tuple[str, str, int, str], Finding] = {}
    for row in table.to_pylist():
        problem = _fault_of(row, path.name)
        if problem is None:
            finding = _finding(row)
            role = finding.register_role
            key = (finding.meter_serial, finding.endpoint_serial, finding.port, role)
            if key not in found:
                found[key] = finding
                continue
            problem = RowProblem(
                path.name, row["_row"], "endpoint_serial", finding.endpoint_serial, "one row a port",
                "Keep one of the rows; the first was taken.", "PORT-TWICE",
            )  # fmt: skip
        log.bad(problem)
    return tuple(found.values()), told(log)


def read_crossings(path: Path, *, zone: str, at: dt.datetime) -> tuple[tuple[Crossing, ...], list[str]]:
    """Read crossings back, as ``dialtrue watch --crossings`` wrote them; parameters as in ``read_findings``.

    Returns
    -------
    tuple of tuple of Crossing and list of str
        The members in the order of the file, and what is to be said. A ring with a bad row, with one member only, or
        whose recorded and true endpoints are not the same set, is left out whole: half an exchange moves water from
        nowhere.

    Raises
    ------
    FileUnreadable
        There is no such file.
    DialtrueError
        The file cannot be used; see ``errors/input_files.py``, exit codes 10 to 19.

    Source
    ------
    Definitions of the file contract.
    """
    table, log = read_table(path, CROSSINGS, zone=zone, at=at)
    rings: dict[int, list[Crossing]] = {}
    broken: set[int] = set()
    for row in table.to_pylist():
        rings.setdefault(row["ring"], []).append(
            Crossing(
                row["ring"], row["meter_serial"], row["endpoint_serial"], row["true_endpoint_serial"],
                row["true_port"] or 1, row["kind"] or "", row["probability"],
            )
        )  # fmt: skip
        problem = _share_fault(row, "probability", path.name)
        if problem is not None:
            log.bad(problem)
            broken.add(row["ring"])
    said = told(log)
    for ring, members in rings.items():
        recorded = sorted(each.endpoint_serial for each in members)
        if ring in broken or len(members) < 2 or recorded != sorted(each.true_endpoint_serial for each in members):
            broken.add(ring)
            said.append(
                f"{path.name}: ring {ring} ({counted(len(members), 'row')}) is not whole: every endpoint of a ring is "
                "recorded once and counts once. The ring is left out."
            )
    return tuple(each for ring, members in rings.items() if ring not in broken for each in members), said


def told(log: ProblemLog) -> list[str]:
    """Put into sentences what a log holds: rows left out, the first in full, then notes. Never raises."""
    said = [problem.says() for problem in sorted(log.problems, key=lambda each: (each.file, each.row))]
    for file, count in log.counts.items():
        if count > MAX_PROBLEMS_A_FILE:
            said.append(f"{file}: {counted(count, 'bad row')} left out in all.")
    said += [
        f"{each.file}, row {each.row}, {each.column} {each.original!r} looks like {each.proposed!r}, for {each.why}; "
        "it stands as written."
        for each in log.repairs
    ]
    return said + log.notes


def _fault_of(row: Row, file: str) -> RowProblem | None:
    """Return what is wrong with a row whose cells are each in their form."""
    if not row["meter_serial"] and not row["endpoint_serial"]:
        return _problem(row, "endpoint_serial", file, "a meter or an endpoint", "BLANK-CELL")
    for column in ("probability", "runner_up_probability"):
        problem = _share_fault(row, column, file)
        if problem is not None:
            return problem
    for column in ("fault", "runner_up"):
        code = row[column]
        if code not in FAULTS:
            near = ", ".join(difflib.get_close_matches(code, FAULTS, n=3, cutoff=0.5) or FAULTS[:3])
            return _problem(row, column, file, f"a fault code such as {near}", "UNKNOWN-FAULT-CODE")
    low, high = (row[name] for name in _SPAN)
    if low is not None and high is not None and low > high:
        return _problem(row, _SPAN[0], file, "the lower end below the upper one", "ENDS-EXCHANGED")
    if row["since_low"] is not None and row["since_high"] is not None and row["since_low"] > row["since_high"]:
        return _problem(row, "since_low", file, "the earliest before the latest", "ENDS-EXCHANGED")
    if _evidence(row["evidence"]) is None:
        return _problem(row, "evidence", file, "a list of rule, says, figures, weight", "BAD-EVIDENCE")
    return None


def _share_fault(row: Row, column: str, file: str) -> RowProblem | None:
    if 0.0 <= row[column] <= 1.0:
        return None
    return _problem(row, column, file, "a probability from 0 to 1", "NOT-A-PROBABILITY")


def _problem(row: Row, column: str, file: str, expected: str, code: str) -> RowProblem:
    return RowProblem(file, row["_row"], column, str(row[column])[:60], expected, _TAKE_OUT, code)


def _finding(row: Row) -> Finding:
    """Make the finding of a row that has been looked over."""
    plain = {column.name: row[column.name] for column in FINDINGS.columns}
    plain.update({name: row[name] or "" for name in _TEXTS})
    return Finding(
        **{
            **plain,
            "register_role": row["register_role"] or "single",
            "evidence": _evidence(row["evidence"]) or (),
            "priority": row["priority"] or 0.0,
        }
    )


def _evidence(text: str | None) -> tuple[Evidence, ...] | None:
    """Return the reasons of a cell, None where it is not a list of them."""
    if not text:
        return ()
    try:
        items = json.loads(text)
        return tuple(_reason(item) for item in items) if isinstance(items, list) else None
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None


def _reason(item: Mapping[str, Any]) -> Evidence:
    figures: dict[str, Figure] = dict(item.get("figures") or {})
    weight = item.get("weight")
    return Evidence(str(item["rule"]), str(item["says"]), figures, math.nan if weight is None else float(weight))
