"""Cells that cannot be used as they are, and what the reading of the file offers by itself, as doubts of the survey."""

from __future__ import annotations

import datetime as dt
import re
from typing import Final

import pyarrow as pa
import pyarrow.compute as pc

from dialtrue.domain.contracts import SITES
from dialtrue.domain.survey.repair_line import BLANK
from dialtrue.engine.survey.sheet import Raised, plural, shown
from dialtrue.engine.survey.units import DOUBTFUL, WORDS
from dialtrue.files.date_order import ORDERS, date_order, read_ordered
from dialtrue.files.headers import folded_header
from dialtrue.files.limits import FUTURE_DAYS
from dialtrue.files.survey_sheet import NUMBERS, BadCells, SurveyFiles, SurveySheet

_WITH_UNIT: Final = re.compile(r"^([0-9]+(?:\.[0-9]+)?)\s*([^0-9.,\s].*)$")
_LETTERS: Final = re.compile(r"[A-Za-z]{2}")
_UNIT_OF: Final = {"pulse_weight": "pulse_unit", "dial_resolution": "dial_unit"}
_ISO_DAY: Final = re.compile(r"^(\d{4})-(\d{2})-(\d{2})([T ].*)?$")
_FEWEST_TURNED: Final = 4
_EPOCH: Final = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


def cell_flags(sheet: SurveySheet) -> list[Raised]:
    """Raise every cell that cannot be used: words in number fields, unknown units and words, blanks that are needed.

    Never raises.
    """
    raised: list[Raised] = []
    for bad in sheet.bad:
        if bad.code == "SPELLING":
            word = bad.remedy
            raised.append(
                Raised(
                    "spelling", f"{bad.column}:{word}", "propose", bad.rows, bad.column,
                    f"{plural(len(bad.rows), 'cell')} of {bad.column} {'reads' if len(bad.rows) == 1 else 'read'} "
                    f"{word!r}; the contract spells it {bad.expected}.", "Nothing to photograph.",
                    [bad.expected] * len(bad.rows), each=False, was=word,
                ))  # fmt: skip
        elif bad.code == "BLANK-CELL":
            raised.append(
                Raised(
                    "bad_cell", f"blank:{bad.column}", "block", bad.rows, bad.column,
                    f"{plural(len(bad.rows), 'row')} {'has' if len(bad.rows) == 1 else 'have'} no {bad.column}; "
                    f"{bad.expected} is needed.", "Find it on site, or in its source.",
                ))  # fmt: skip
        elif bad.code == "NOT-A-CHOICE":
            raised += _words(sheet, bad)
        else:
            raised += _others(sheet, bad)
    return raised


def _words(sheet: SurveySheet, bad: BadCells) -> list[Raised]:
    """Raise words that the contract does not have, each once; a unit that means one thing is proposed."""
    by_word: dict[str, list[int]] = {}
    for row in bad.rows:
        by_word.setdefault((sheet.raw[bad.column][row] or "").strip(), []).append(row)
    needed = bool((column := SITES.column(bad.column)) and column.required)
    raised = []
    for word, rows in by_word.items():
        folded = folded_header(word.replace("³", "3").replace("³", "3"))
        unit = WORDS.get(folded) if "unit" in bad.column else None
        cells = f"{plural(len(rows), 'cell')} of {bad.column} {'reads' if len(rows) == 1 else 'read'} {word!r}"
        if unit is not None:
            raised.append(
                Raised(
                    "unit_word", f"{bad.column}:{word}", "propose", rows, bad.column, f"{cells}; that is {unit}.",
                    "Photograph one dial to be sure.", [unit] * len(rows), each=False, was=word,
                ))  # fmt: skip
            continue
        rule = "unit_word" if "unit" in bad.column else "choice"
        doubt = (
            f": {DOUBTFUL[folded]}" if rule == "unit_word" and folded in DOUBTFUL else f"; {bad.expected} is expected"
        )
        ask = "Ask billing what it means, once for the file." if rule == "unit_word" else "Say which of them is meant."
        grade = "block" if needed else "ask"
        raised.append(
            Raised(rule, f"{bad.column}:{word}", grade, rows, bad.column, f"{cells}{doubt}.", ask, each=False, was=word)  # type: ignore[arg-type]
        )
    return raised


def _others(sheet: SurveySheet, bad: BadCells) -> list[Raised]:
    """Raise the other bad cells of a column: words where a number belongs are kept as a note, never read as one."""
    needed = bool((column := SITES.column(bad.column)) and column.required)
    groups: dict[str, tuple[list[int], list[str]]] = {}
    for row in bad.rows:
        text = (sheet.raw[bad.column][row] or "").strip()
        number = _number_with_unit(sheet, bad.column, row, text)
        wordy = bool(_LETTERS.search(text)) or not any(mark.isdigit() for mark in text)
        is_number = bad.column in NUMBERS or bad.code == "NOT-A-TIME"
        if number:
            kind, proposal = "unit", number
        elif is_number and wordy:
            kind, proposal = "words", "" if needed else BLANK
        else:
            kind, proposal = "other", ""
        rows, becomes = groups.setdefault(kind, ([], []))
        rows.append(row)
        becomes.append(proposal)
    raised = []
    for kind, (rows, becomes) in groups.items():
        examples = shown(dict.fromkeys(repr((sheet.raw[bad.column][row] or "").strip()[:40]) for row in rows), 3)
        head = f"{plural(len(rows), 'cell')} of {bad.column} cannot be used: {examples}"
        proposed = all(becomes)
        rule = "free_text" if kind == "words" else "bad_cell"
        if kind == "unit":
            says, ask = f"{head}: the number stands with the row's own unit.", "Nothing to photograph."
        elif proposed:
            says, ask = f"{head}: words are kept here as a note and never read as a number.", "Ask who wrote it."
        else:
            says, ask = f"{head}; {bad.expected} is expected.", bad.remedy
        raised.append(
            Raised(
                rule, f"{bad.column}:{kind}" if kind != "words" else bad.column,
                "propose" if proposed else "block" if needed else "ask", rows, bad.column, says, ask,
                becomes if proposed else None,
            ))  # fmt: skip
    return raised


def _number_with_unit(sheet: SurveySheet, column: str, row: int, text: str) -> str:
    """Return the number of ``10 gal`` where the row's unit is gal too, else a blank."""
    found = _WITH_UNIT.match(text)
    if found is None or column not in _UNIT_OF:
        return ""
    unit = sheet.text(_UNIT_OF[column])[row]
    folded = folded_header(found[2])
    meant = found[2].strip() if found[2].strip() == unit else WORDS.get(folded, "")
    return found[1] if unit is not None and (meant == unit or folded == folded_header(unit)) else ""


def file_flags(files: SurveyFiles) -> list[Raised]:
    """Raise what is decided for a whole column: dates, white space, numbers in a workbook, headers.

    Never raises.
    """
    sheet, log = files.sheet, files.log
    raised = []
    for name, rows in sheet.number_cells.items():
        key = f"numbers:sites:{name}"
        if not log.takes(key):
            value = (sheet.raw[name][rows[0]] or "").strip()
            raised.append(
                Raised(
                    "numbers", name, "propose", rows, name,
                    f"{plural(len(rows), 'cell')} of {name} {'is a number' if len(rows) == 1 else 'are numbers'} "
                    "in the workbook, not text: leading zeros may be lost.",
                    "Format the column as text at its source; accept if none begins with a zero.",
                    [f'"{value}" as text'] * len(rows), each=False, was=value,
                ))  # fmt: skip
    for name in ("site", "account", "meter_serial"):
        spaced = [
            row for row, cell in enumerate(sheet.raw.get(name, ())) if cell and cell.strip() and cell != cell.strip()
        ]
        if spaced and not log.takes(f"spaces:sites:{name}"):
            cell = sheet.raw[name][spaced[0]] or ""
            raised.append(
                Raised(
                    "spaces", name, "propose", spaced, name,
                    f"{plural(len(spaced), 'cell')} of {name} {'has' if len(spaced) == 1 else 'have'} white space "
                    "around the text.", "Nothing to photograph.", [cell.strip()] * len(spaced), each=False, was=cell,
                ))  # fmt: skip
    return [*raised, *_ahead(files), *_turned(sheet), *_dates(sheet, files)]


def _ahead(files: SurveyFiles) -> list[Raised]:
    """Raise rows that were surveyed after the time of the run: the day and the month exchanged, or the year wrong."""
    if "surveyed_at" not in files.sheet.texts:
        return []
    late = pc.greater(files.sites["surveyed_at"], pa.scalar(files.at + dt.timedelta(days=FUTURE_DAYS)))
    lines = set(files.sites["_row"].filter(pc.fill_null(late, False)).to_pylist())
    rows = [row for row, line in enumerate(files.sheet.lines) if line in lines]
    if not rows:
        return []
    first = files.sheet.texts["surveyed_at"][rows[0]]
    says = f"{plural(len(rows), 'row')} surveyed in the future, such as {first}: day and month exchanged, or the year?"
    return [Raised("dates_ahead", "", "ask", rows, "surveyed_at", says, "Ask the surveyor when it was.")]


def _turned(sheet: SurveySheet) -> list[Raised]:
    """Raise dates that a workbook may have turned: it takes 03/04 for a date, month first, and leaves 17/04 as text.

    Source
    ------
    Our assumption: of ``_FEWEST_TURNED`` true dates all with a day up to 12 beside texts all with the day above it,
    chance would make less than one sheet in forty.
    """
    raised = []
    for name, rows in sheet.slashed.items():
        texts = [(sheet.raw[name][row] or "").strip() for row in rows]
        if date_order(texts) != "day-first" or any(_two_ways(text) for text in texts):
            continue
        dates = {
            row: found for row, text in enumerate(sheet.raw[name]) if text and (found := _ISO_DAY.match(text.strip()))
        }
        if len(dates) < _FEWEST_TURNED or any(int(found[3]) > 12 for found in dates.values()):
            continue
        doubtful = [row for row, found in dates.items() if found[2] != found[3]]
        if doubtful:
            raised.append(
                Raised(
                    "dates_turned", name, "propose", doubtful, name,
                    f"All {len(dates):,} true dates of {name} have a day up to 12 and all {len(texts):,} texts, such "
                    f"as {texts[0]}, one above: a spreadsheet may have read {dates[doubtful[0]][0][:10]} "
                    "with the month first.",
                    "Ask the surveyor for one of these dates.",
                    [f"{dates[row][1]}-{dates[row][3]}-{dates[row][2]}{dates[row][4] or ''}" for row in doubtful],
                ))  # fmt: skip
    return raised


def _dates(sheet: SurveySheet, files: SurveyFiles) -> list[Raised]:
    """Raise dates whose order the file settles (one proposal), or does not (two answers)."""
    cells = [(name, row, (sheet.raw[name][row] or "").strip()) for name, rows in sheet.slashed.items() for row in rows]
    if not cells:
        return []
    order = date_order([text for _, _, text in cells])
    named = next((each for each in ORDERS if files.log.names(f"dates:sites:{each}")), None)
    taken = named or (order if order is not None and files.log.takes(f"dates:sites:{order}") else None)
    if taken is not None:
        left = sorted({row for _, row, text in cells if not _iso(text, taken)})
        says = f"{plural(len(left), 'date')} cannot be read as {ORDERS[taken]}, which was accepted."
        return [Raised("dates", "left", "block", left, cells[0][0], says, "Ask when it was.")] if left else []
    doubtful = [cell for cell in cells if _two_ways(cell[2])]
    name, _, text = (doubtful or cells)[0]
    rows = sorted({row for _, row, _ in doubtful})
    count = f"{plural(len(cells), 'date')} of the sheet {'is' if len(cells) == 1 else 'are'} not ISO 8601"
    if order is not None:
        settling = next((each for _, _, each in cells if not _two_ways(each)), "")
        day = _iso(text, order)
        return [
            Raised(
                "dates", order, "propose", rows, name,
                f"{count}; {settling} can only be {ORDERS[order]}, so {text} is {day}." if rows
                else f"{count}: {ORDERS[order]}, as in {text}, which is {day}.",
                "Ask the surveyor whether the whole file is written so.", [day] * max(len(rows), 1), each=False,
                was=text,
            )
        ]  # fmt: skip
    every = rows or sorted({row for _, row, _ in cells})
    ask = "Ask the surveyor: day first or month first? Accept one of the two keys."
    says = f"{count}, and no date settles whether the day or the month comes first: {text}."
    if len({date_order([each]) for _, _, each in cells} - {None}) > 1:
        says = f"{count}, and they contradict each other: some have the day first, some the month."
    choices = tuple((each, _iso(text, each)) for each in ("day-first", "month-first") if _iso(text, each))
    return [Raised("dates", "", "block", every, name, says, ask, was=text, choices=choices)]


def _two_ways(text: str) -> bool:
    """Tell whether a date can be read with the day first and with the month first."""
    return bool(
        date_order([text]) is None and _iso(text, "day-first") and _iso(text, "day-first") != _iso(text, "month-first")
    )


def _iso(text: str, order: str) -> str:
    """Return a date in an order as ISO 8601, a blank where there is no such day."""
    micros = read_ordered(text, order)
    if micros is None:
        return ""
    moment = _EPOCH + dt.timedelta(microseconds=micros)
    return f"{moment:%Y-%m-%d}" if micros % 86_400_000_000 == 0 else f"{moment:%Y-%m-%d %H:%M}"
