"""Put a survey right: every doubt about the sites sheet, with a repair to accept or a question to ask."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from dialtrue.domain.errors import AnswerMissing, UnknownDecision
from dialtrue.domain.survey.flag import GRADES, RULES, SurveyCounts, SurveyFlag
from dialtrue.domain.survey.repair_line import RepairLine, under
from dialtrue.domain.survey.settings import SurveySettings
from dialtrue.engine.survey.dials import dial_flags
from dialtrue.engine.survey.listed import listed_flags
from dialtrue.engine.survey.places import place_flags
from dialtrue.engine.survey.roles import role_flags
from dialtrue.engine.survey.serials import serial_flags
from dialtrue.engine.survey.sheet import Sheet
from dialtrue.engine.survey.units import step_flags, unit_flags
from dialtrue.engine.survey.use import use_flags
from dialtrue.files.decisions import Decisions
from dialtrue.files.repairs_file import REPAIRS_FILE, merged, read_lines
from dialtrue.files.survey_settings import survey_settings
from dialtrue.files.survey_sheet import SurveyFiles, open_survey
from dialtrue.services.survey_cells import cell_flags, file_flags
from dialtrue.services.survey_lines import flags_of
from dialtrue.services.survey_rows import billed_use, columns_of, listed_of, seen_lengths

Progress = Callable[[str, int, int], None]
_STEP = "Surveying"


@dataclass(frozen=True, slots=True)
class SurveyAnswer:
    """A survey as judged.

    Attributes
    ----------
    file : str
        The sites file.
    counts : SurveyCounts
        The figures that stand first.
    flags : tuple of SurveyFlag
        Blocks first, then questions, then proposals.
    lines : tuple of RepairLine
        What ``repairs.csv`` is to hold: decided lines as they stand, then the open ones.
    sites : pa.Table
        The sites as every other command sees them now: contract columns, accepted repairs made, rows that cannot be
        used left out; ``_row`` is the line in the file.
    repaired, refused : int
        Accepted repairs that were made; open doubts that a person refused.
    said : tuple of str
        What else is to be said.
    """

    file: str
    counts: SurveyCounts
    flags: tuple[SurveyFlag, ...]
    lines: tuple[RepairLine, ...]
    sites: pa.Table
    repaired: int
    refused: int
    said: tuple[str, ...]

    def by_row(self) -> dict[int, tuple[SurveyFlag, ...]]:
        """Return the flags of each flagged line of the file, ``_row`` of ``sites``. Never raises."""
        found: dict[int, list[SurveyFlag]] = {}
        for flag in self.flags:
            for row in flag.rows:
                found.setdefault(row, []).append(flag)
        return {row: tuple(flags) for row, flags in found.items()}

    def doubts(self, table: pa.Table) -> list[tuple[str, npt.NDArray[np.int64], str]]:
        """Return each flag's rule, its rows' places in a sites table with ``_row``, and what to ask. Never raises.

        Flags about the file as a whole, or about meters that no row has, are left out.
        """
        place = {line: at for at, line in enumerate(table["_row"].to_pylist())}
        found = (([place[row] for row in flag.rows if row in place], flag) for flag in self.flags)
        return [(flag.rule, np.array(rows, np.int64), f"{flag.says} {flag.ask}") for rows, flag in found if rows]

    def blocked(self) -> frozenset[int]:
        """Return the lines of the file that are not to be used until somebody has answered. Never raises."""
        return frozenset(row for flag in self.flags if flag.grade == "block" for row in flag.rows)


def survey_folder(
    folder: Path,
    *,
    at: dt.datetime,
    known: Path | None = None,
    accept: Sequence[str] = (),
    refuse: Sequence[str] = (),
    by: str = "",
    progress: Progress | None = None,
) -> SurveyAnswer:
    """Survey the sites table of a programme folder.

    Parameters
    ----------
    folder : Path
        Holds ``sites``, and perhaps ``use_history``, ``fittings``, ``dial_reads``, ``repairs.csv``, ``programme.toml``.
    at : datetime
        The time of the run, aware; stands beside decisions made now.
    known : Path, optional
        A list of meters to hold the survey against; else ``use_history`` is that list.
    accept, refuse : sequence of str
        Keys, or leading parts of keys, decided now, besides what ``repairs.csv`` says.
    by : str
        Who decides.
    progress : callable, optional
        Told what is being done, how much of it is done, and of how much.

    Returns
    -------
    SurveyAnswer
        Nothing is written; ``lines`` is what the caller may write as ``repairs.csv``.

    Raises
    ------
    UnknownDecision
        A word names nothing that is offered.
    AnswerMissing
        An open question was accepted by its own key.
    DialtrueError
        A file cannot be used; see ``errors/input_files.py`` and ``errors/survey.py``.
    """
    tell = progress or _silent
    tell(_STEP, 0, 3)
    settings = survey_settings(folder)
    path = folder / REPAIRS_FILE
    standing, said = read_lines(path) if path.exists() or path.is_symlink() else ([], [])
    decisions = Decisions.of(standing, said)
    # A sheet whose needed columns are named otherwise cannot be read before those names are settled.
    headers = ["header" if word == "all" else word for word in accept if word == "all" or under(word, "header")]
    files = open_survey(folder, at=at, known=known, decisions=decisions, accept=headers)
    if accept or refuse:
        offered = [
            *_headers(files),
            *(line for flag in _judged(files, columns_of(files.sheet), settings)[0] for line in flag.lines),
        ]
        standing = _decided(offered, standing, accept, refuse, by=by, at=at)
        decisions = Decisions.of(standing, said)
        files = open_survey(folder, at=at, known=known, decisions=decisions)
    tell(_STEP, 1, 3)
    sheet = columns_of(files.sheet)
    flags, words, refused = _judged(files, sheet, settings)
    lines = merged([line for flag in flags for line in flag.lines], standing)
    made = len(files.log.accepted)
    tell(_STEP, 3, 3)
    return SurveyAnswer(
        files.sheet.file,
        _counts(files, sheet, flags),
        flags,
        tuple(lines),
        files.sites,
        made,
        refused,
        (*words, *files.log.notes),
    )


def _silent(what: str, done: int, total: int) -> None:
    """Tell nobody."""


def _headers(files: SurveyFiles) -> list[RepairLine]:
    """Return the header repairs that were taken, as lines: without them the sheet cannot be read at all."""
    return [
        RepairLine(
            repair.key, repair.file, repair.row, column=repair.column, was=repair.original, becomes=repair.proposed,
            rule=repair.kind, why=repair.why,
        )
        for repair in files.log.accepted
        if repair.kind == "header"
    ]  # fmt: skip


def _decided(
    offered: Sequence[RepairLine],
    standing: Sequence[RepairLine],
    accept: Sequence[str],
    refuse: Sequence[str],
    *,
    by: str,
    at: dt.datetime,
) -> list[RepairLine]:
    """Return the standing lines and those decided now, with who and when."""
    now = at.astimezone(dt.UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    open_lines = {line.key: line for line in merged(offered, standing) if not line.decision}
    fresh: dict[str, RepairLine] = {}
    for words, decision in ((accept, "accept"), (refuse, "refuse")):
        for word in words:
            named = [line for line in open_lines.values() if under(line.key, word)]
            if decision == "accept":
                if len(named) == 1 and named[0].key == word and not named[0].becomes:
                    raise AnswerMissing(key=word)
                named = [line for line in named if line.becomes and not _either(line, word)]
            if not named and not any(under(line.key, word) and line.decision == decision for line in standing):
                keys = [line.key for line in open_lines.values()]
                near = ", ".join(keys[:6]) + (" …" if len(keys) > 6 else "") or "nothing is open"
                raise UnknownDecision(key=word, offered=near)
            for line in named:
                fresh[line.key] = replace(line, decision=decision, by=by, at=now)
    return [*(line for line in standing if line.key not in fresh), *fresh.values()]


def _either(line: RepairLine, word: str) -> bool:
    """Tell whether a line is one of two answers, which only its own key may accept."""
    return line.rule == "dates" and line.key != word and line.decision == "" and line.ask.endswith("two keys.")


def _judged(
    files: SurveyFiles, sheet: Sheet, settings: SurveySettings
) -> tuple[tuple[SurveyFlag, ...], list[str], int]:
    """Run every check; return the flags in the order of telling, what else is said, and how many lines were refused."""
    listed = listed_of(files)
    found, state = serial_flags(sheet, listed, settings)
    against, said = listed_flags(sheet, listed, state)
    use, unit = billed_use(files, state.meant, sheet.role)
    units = unit_flags(sheet, settings)
    of_unit = {row for item in units if item.rule in ("unit_odd", "unit_mixed") for row in item.rows}
    dials = dial_flags(sheet, settings, seen_lengths(files), units_in_doubt=of_unit)
    in_doubt = {row for item in (*units, *dials) for row in item.rows}
    raised = [
        *found,
        *against,
        *role_flags(sheet, state.blocked),
        *units,
        *use_flags(sheet, settings, use, unit),
        *dials,
        *step_flags(sheet, settings, in_doubt=in_doubt),
        *place_flags(sheet, settings, _places(files)),
        *cell_flags(files.sheet),
        *file_flags(files),
    ]
    flags, refused = flags_of(raised, sheet, files)
    order = {rule: place for place, rule in enumerate(RULES)}
    flags.sort(key=lambda flag: (GRADES.index(flag.grade), order[flag.rule], flag.rows[:1], flag.key))
    return tuple(flags), said, refused


def _places(files: SurveyFiles) -> list[str]:
    """Return each row's coordinates as written."""
    both = zip(files.sheet.text("latitude"), files.sheet.text("longitude"), strict=True)
    return [f"{latitude or ''}, {longitude or ''}" for latitude, longitude in both]


def _counts(files: SurveyFiles, columns: Sheet, flags: Iterable[SurveyFlag]) -> SurveyCounts:
    """Count rows by class; the two registers of a compound meter count as one row."""
    sheet = files.sheet
    flagged: set[int] = set()
    blocked: set[int] = set()
    number = 0
    for flag in flags:
        number += 1
        flagged.update(flag.rows)
        if flag.grade == "block":
            blocked.update(flag.rows)
    meters: dict[object, list[int]] = {}
    for row, line in enumerate(sheet.lines):
        role = columns.role[row]
        pair = role in ("high", "low") and columns.serial[row] is not None
        meters.setdefault((columns.site[row], columns.serial[row]) if pair else line, []).append(line)
    for problem in sheet.misshapen:
        meters.setdefault(problem.row, []).append(problem.row)
    bad = sum(any(line in flagged for line in lines) for lines in meters.values())
    shut = sum(any(line in blocked for line in lines) for lines in meters.values())
    return SurveyCounts(len(meters) - bad, bad, shut, number, len(sheet.lines) + len(sheet.misshapen))
