"""Handover: pass installs and reads on in open forms, those that a bill may rest on; list the rest with reasons."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

import pyarrow as pa

from dialtrue.domain.contracts import FINDINGS
from dialtrue.domain.errors.handover import FindingsOfAnother, NothingToHandOver
from dialtrue.domain.handover.account import HandoverOptions, HandoverResult
from dialtrue.files.findings import findings_table
from dialtrue.files.handover.manifest import digest
from dialtrue.files.handover.whole_folder import check_place, whole_folder
from dialtrue.files.handover_settings import handover_settings
from dialtrue.files.locate import locate
from dialtrue.files.programme import Programme, open_programme
from dialtrue.services.findings_file import read_table
from dialtrue.services.handover_ports import Candidate, candidates, port_key
from dialtrue.services.handover_writing import Writing
from dialtrue.services.watch import judge_folder
from dialtrue.services.watch_findings import compose

Progress = Callable[[str, int, int], None]

_NEEDED: Final = {
    "sites": "dial, unit and account stand there",
    "fittings": "what was keyed stands there",
    "reads": "a billing system bills from reads",
}
_LEAST_KNOWN: Final = 0.5
"""Share of the fitted ports that a findings file must speak of. Our assumption: fewer is another programme's file."""


def hand_over(
    folder: Path,
    out: Path,
    *,
    at: dt.datetime,
    options: HandoverOptions,
    findings: Path | None = None,
    validated: Path | None = None,
    accept: Sequence[str] = (),
    progress: Progress | None = None,
) -> HandoverResult:
    """Write installs and reads of a programme in open forms, with a manifest.

    Parameters
    ----------
    folder : Path
        Programme folder.
    out : Path
        Folder to make; one that an earlier handover made is replaced in one step.
    at : datetime
        The time of the run, aware.
    options : HandoverOptions
        Forms, rules, privacy.
    findings : Path, optional
        Findings of a watch; the watch is run where None.
    validated : Path, optional
        Reads as ``dialtrue validate`` wrote them, estimates and all; the programme's own, unchecked, where None.
    accept : sequence of str
        Repairs to make, as ``open_programme`` takes them.
    progress : callable, optional
        Called as ``progress(what, done, total)``.

    Returns
    -------
    HandoverResult

    Raises
    ------
    NothingToHandOver
        Sites, fittings or reads are missing.
    FindingsOfAnother
        The findings speak of other ports.
    HandoverFolderTaken
        ``out`` holds something that no handover made.
    DialtrueError
        A file cannot be read or written.

    Source
    ------
    See ``domain.handover.rules``; the forms stand in ``files.handover``.
    """
    say = progress or (lambda what, done, total: None)
    check_place(out, programme=folder)
    settings = handover_settings(folder)
    if options.least_probability is not None:
        settings = replace(settings, least_probability=options.least_probability)
    if options.allow_checks:
        settings = replace(settings, allow_checks=True)
    programme, verdicts = _opened(folder, findings, at=at, accept=accept, progress=progress)
    personal = not options.without_accounts
    found = candidates(programme.tables, verdicts, personal=personal, salt=options.salt)
    _check_findings(folder, findings, verdicts, found)
    result = HandoverResult(str(out), ports=len(found), said=list(programme.notes))
    with whole_folder(out) as made:
        judged_by = "a watch in this run" if findings is None else f"{findings.name}, SHA-256 {digest(findings)}"
        writing = Writing(made, programme, found, options, settings, at, result, judged_by, validated)
        writing.spill(say)
        writing.decide()
        writing.write_reads(say)
        writing.write_tables()
        writing.finish()
    return result


def _opened(
    folder: Path, findings: Path | None, *, at: dt.datetime, accept: Sequence[str], progress: Progress | None
) -> tuple[Programme, pa.Table]:
    """Open the programme and its findings, after making sure that there is something to hand over."""
    if findings is not None:
        programme = open_programme(folder, at=at, accept=accept)
        _check_tables(programme)
        # A register without an endpoint is no port: its row is among the bad ones, which are left out.
        return programme, read_table(findings, FINDINGS, zone=programme.timezone, at=at)[0]
    _check_names(folder)
    judged = judge_folder(folder, at=at, accept=accept, progress=progress)
    _check_tables(judged.programme)
    return judged.programme, findings_table(compose(judged, traces=0).findings)


def _check_names(folder: Path) -> None:
    """Refuse before the long work what has no table."""
    found = locate(folder)
    for name, reason in _NEEDED.items():
        if name not in found:
            raise NothingToHandOver(folder=folder, what=name, why=reason)


def _check_tables(programme: Programme) -> None:
    for name, reason in _NEEDED.items():
        held = programme.tables.get(name)
        there = programme.reads is not None if name == "reads" else held is not None and held.num_rows > 0
        if not there:
            raise NothingToHandOver(folder=programme.folder, what=name, why=reason)


def _check_findings(folder: Path, path: Path | None, verdicts: pa.Table, found: Sequence[Candidate]) -> None:
    keys = {port_key(row) for row in verdicts.select(["meter_serial", "endpoint_serial", "port"]).to_pylist()}
    known = sum(port_key(each.row) in keys for each in found)
    if path is not None and known < _LEAST_KNOWN * len(found):
        raise FindingsOfAnother(file=path, known=known, ports=len(found), folder=folder)
