"""From doubts to flags: keys that stay when rows move, lines of ``repairs.csv``, and what was refused left out."""

from __future__ import annotations

import zlib
from collections import Counter
from collections.abc import Sequence

from dialtrue.domain.survey.flag import SurveyFlag
from dialtrue.domain.survey.repair_line import BLANK, RepairLine
from dialtrue.engine.survey.sheet import Raised, Sheet
from dialtrue.files.decisions import Decisions
from dialtrue.files.survey_sheet import SurveyFiles

_LONGEST = 600
"""Longest sentence of a flag. [characters] Our assumption: more is a cell that holds a page."""


def _short(subject: str) -> str:
    """Return a subject that a key can carry: a long one is cut, with a sum that keeps two of them apart."""
    return subject if len(subject) <= 120 else f"{subject[:100]}~{zlib.crc32(subject.encode()):08x}"


def labels(sheet: Sheet) -> list[str]:
    """Name each row by its site, its register where there are two, its serial where a site has several meters.

    Never raises. A row without a site is named by its line, since it has nothing else.
    """
    names = [
        f"{site}" + (f"/{role}" if role != "single" else "") if site else f"row {line}"
        for site, role, line in zip(sheet.site, sheet.role, sheet.lines, strict=True)
    ]
    count = Counter(names)
    return [f"{name}/{serial}" if count[name] > 1 else name for name, serial in zip(names, sheet.serial, strict=True)]


def flags_of(raised: Sequence[Raised], sheet: Sheet, files: SurveyFiles) -> tuple[list[SurveyFlag], int]:
    """Turn doubts into flags.

    Parameters
    ----------
    raised : sequence of Raised
        What the checks found.
    sheet : Sheet
        The sites in columns.
    files : SurveyFiles
        The texts as written, and the decisions.

    Returns
    -------
    tuple
        The flags that are open, and how many lines were refused. Never raises.
    """
    names = labels(sheet)
    decisions = files.log.decisions
    flags: list[SurveyFlag] = []
    refused = 0
    # One line a cell: a second doubt about the same cell is told, and its own key is decided on its own.
    for item in raised:
        key = f"{item.rule}:sites" + (f":{_short(item.subject)}" if item.subject else "")
        lines = _lines(item, key, names, sheet, files)
        left = [line for line in lines if not _settled(line, decisions)]
        refused += len(lines) - len(left)
        if lines and not left:
            continue
        rows = item.rows
        if item.each and len(left) < len(lines):
            open_keys = {line.key for line in left}
            rows = [row for row, line in zip(item.rows, lines, strict=True) if line.key in open_keys]
        own = lines[0].key if item.each and not item.subject and len(lines) == 1 else key
        says = item.says if len(item.says) <= _LONGEST else item.says[: _LONGEST - 1] + "…"
        flags.append(
            SurveyFlag(
                own, item.rule, item.grade, tuple(sheet.lines[row] for row in rows),
                tuple(dict.fromkeys(str(sheet.site[row] or "") for row in rows)), says, item.ask, tuple(left),
                item.about,
            ))  # fmt: skip
    return [*flags, *_misshapen(files), *_elsewhere(files)], refused


def _settled(line: RepairLine, decisions: Decisions) -> bool:
    """Tell whether a person said that the cell stands as it is; another text than they saw is asked about again."""
    decided = decisions.of_key(line.key)
    if decided is None or not decided.refused:
        return False
    return decided.key != line.key or not decided.was or decided.was.strip() == line.was.strip()


def _lines(item: Raised, key: str, names: Sequence[str], sheet: Sheet, files: SurveyFiles) -> list[RepairLine]:
    """Return the line of each cell, or the one line for all cells of the column that read the same."""
    file = files.sheet.file
    if item.choices:
        return [
            RepairLine(
                f"{item.rule}:sites:{subject}", file, sheet.lines[item.rows[0]], column=item.column, was=item.was,
                becomes=becomes, rule=item.rule, why=item.says, ask=item.ask,
            )
            for subject, becomes in item.choices
        ]  # fmt: skip
    if not item.each or not item.rows or not item.column:
        first = item.rows[0] if item.rows else None
        line = 0 if first is None else sheet.lines[first]
        becomes = item.becomes[0] if item.becomes else ""
        return [
            RepairLine(
                key, file, line, column=item.column, was=item.was, becomes=becomes, rule=item.rule, why=item.says,
                ask=item.ask,
            )
        ]  # fmt: skip
    columns = item.column.split(", ")
    made = []
    twins = Counter(names[row] for row in item.rows)
    for place, row in enumerate(item.rows):
        if twins[names[row]] > 1:
            # Rows that nothing tells apart cannot be changed one by one; the doubt can only be refused.
            ask = f"{item.ask} Put it right in the sheet: nothing else tells these rows apart."
            made.append(
                RepairLine(f"{key}:{names[row]}", file, sheet.lines[row], rule=item.rule, why=item.says, ask=ask)
            )
            continue
        parts = [(files.sheet.raw.get(name) or [None] * sheet.rows)[row] or "" for name in columns]
        was = ", ".join(part.strip() for part in parts) if any(part.strip() for part in parts) else BLANK
        made.append(
            RepairLine(
                f"{key}:{names[row]}", file, sheet.lines[row], str(sheet.site[row] or ""), str(sheet.serial[row] or ""),
                sheet.role[row], item.column, was, item.becomes[place] if item.becomes else "", item.rule, item.says,
                item.ask,
            ))  # fmt: skip
    return made


def _misshapen(files: SurveyFiles) -> list[SurveyFlag]:
    """Raise rows that could not be split into cells."""
    return [
        SurveyFlag(
            f"row_shape:sites:row {problem.row}", "row_shape", "block", (problem.row,), (),
            f"Row {problem.row} has {problem.value[:60]}; {problem.expected} are expected.", problem.remedy,
        )
        for problem in files.sheet.misshapen
    ]  # fmt: skip


def _elsewhere(files: SurveyFiles) -> list[SurveyFlag]:
    """Raise the repairs that other tables of the folder offer, and headers of the sheet that were not taken."""
    flags = []
    for repair in files.log.repairs:
        if repair.file == files.sheet.file and repair.kind != "header":
            continue
        says = f"{repair.file}: {repair.original} may be meant for {repair.proposed}: {repair.why}."
        line = RepairLine(
            repair.key, repair.file, repair.row, column=repair.column, was=repair.original, becomes=repair.proposed,
            rule=repair.kind, why=repair.why,
        )  # fmt: skip
        flags.append(SurveyFlag(repair.key, repair.kind, "propose", (), (), says, "Nothing to photograph.", (line,)))
    return flags
