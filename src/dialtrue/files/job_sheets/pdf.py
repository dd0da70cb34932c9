"""Job sheets as PDF: the shipped template, filled with data, set by typst with its own fonts."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from dialtrue.domain.job_sheet.sheet import JobSheet
from dialtrue.files.job_sheets.setting import PAPER_NAMES, Template
from dialtrue.files.job_sheets.sheet_data import SheetData

SCALES: Final = (1.12, 1.06, 1.0, 0.95, 0.9, 0.85, 0.8, 0.75)
"""Sizes of letters that a page may have, largest first; 1 is 9.6 pt. Our assumption: 7.2 pt can still be read."""
_HEIGHT_PT: Final = {"letter": 263.4 / 25.4 * 72, "a4": 281.0 / 25.4 * 72}
"""Height between the margins of the template. [pt]"""
_WIDTH_MM: Final = {"letter": 195.9, "a4": 190.0}
"""Width between them. [mm]"""
LEAST_SHRINK: Final = 0.8
"""How much smaller a page may be drawn whose words the smallest letters do not hold. Our assumption: bars of 0.25 mm a
module are still read at 0.2 mm, letters of 7.2 pt at 5.8 pt."""
_SPARE: Final = 0.995
_ROUNDING_PT: Final = 0.5
MOST_IN_A_VOLUME: Final = 500
"""Sheets in one PDF. Our assumption: a ream of paper, and about a gigabyte of the typesetter's memory."""
_MOST_ROUNDS: Final = len(SCALES)

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class SetSheets:
    """A PDF; sites whose words do not go on one page at all; characters without a glyph; sites drawn smaller."""

    pdf: bytes
    too_long: tuple[str, ...]
    not_shown: str = ""
    shrunk: tuple[str, ...] = ()


def sheets_pdf(
    sheets: Sequence[JobSheet], *, paper: str = "letter", title: str = "Job sheets", progress: Progress | None = None
) -> SetSheets:
    """Set job sheets as one PDF, a page each.

    Parameters
    ----------
    sheets : sequence of JobSheet
        One or more.
    paper : str
        ``letter`` or ``a4``.
    title : str
        The document's title.
    progress : callable, optional
        Is told ``(what, done, total)``.

    Returns
    -------
    SetSheets
        The bytes are the same for the same sheets: no date, no random name. Tagged, with title and language; drawings
        and codes carry their text. Each page has the largest letters with which it holds everything.

    Raises
    ------
    ExtraMissing
        typst or segno is not installed.

    Source
    ------
    Our own look. No text of a file is read as markup: texts arrive as data.
    """

    def tell(what: str, done: int) -> None:
        if progress is not None:
            progress(what, done, len(sheets))

    tell("Drawing codes", 0)
    data = {
        **SheetData().filled(sheets),
        "title": title,
        "paper": PAPER_NAMES[paper],
        "probe": False,
        "width_mm": _WIDTH_MM[paper],
    }
    tell("Drawing codes", len(sheets))
    template = Template("sheet.typ")
    height = _HEIGHT_PT[paper] + _ROUNDING_PT
    tell("Setting pages", 0)
    for row in data["sheets"]:
        row["shrink"] = 1
    _fit_kinds(data, template, height)
    rows = data["sheets"]
    for _ in range(_MOST_ROUNDS):
        ends = template.ends(data)
        over = [row for row, end in zip(rows, ends, strict=True) if end > height]
        smaller = [row for row in over if row["scale"] > SCALES[-1]]
        for row in smaller:
            row["scale"] = SCALES[SCALES.index(row["scale"]) + 1]
        if not smaller:
            break
    too_long, shrunk = _shrink(rows, ends, height)
    pdf, not_shown = template.pdf(data)
    tell("Setting pages", len(sheets))
    return SetSheets(pdf, too_long, not_shown, shrunk)


def _shrink(rows: Sequence[dict[str, Any]], ends: Sequence[float], height: float) -> tuple[tuple[str, ...], ...]:
    """Have pages drawn smaller that end below their foot; return the sites that still do, then those that do not."""
    too_long: dict[str, None] = {}
    shrunk: dict[str, None] = {}
    for row, end in zip(rows, ends, strict=True):
        if end > height:
            fits = height / end * _SPARE
            row["shrink"] = max(LEAST_SHRINK, fits)
            (shrunk if fits >= LEAST_SHRINK else too_long)[row["site"]] = None
    return tuple(too_long), tuple(shrunk)


def sheets_volumes(
    sheets: Sequence[JobSheet],
    *,
    paper: str = "letter",
    title: str = "Job sheets",
    most: int = MOST_IN_A_VOLUME,
    progress: Progress | None = None,
) -> Iterator[SetSheets]:
    """Set job sheets as as many PDFs as a printer and the memory want, each volume as ``sheets_pdf`` would.

    Parameters
    ----------
    sheets, paper, title, progress
        As for ``sheets_pdf``.
    most : int
        Sheets in a volume. [1 or more]

    Returns
    -------
    iterator of SetSheets
        In order. More than one volume is set in processes of their own, two at a time, for a typesetter keeps all that
        it has set; the caller's module must be importable there.

    Raises
    ------
    ExtraMissing
        typst or segno is not installed.
    """
    if len(sheets) <= most:
        yield sheets_pdf(sheets, paper=paper, title=title, progress=progress)
        return
    # Imported here: one volume needs no processes.
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    count = math.ceil(len(sheets) / most)
    size = math.ceil(len(sheets) / count)
    parts = [sheets[start : start + size] for start in range(0, len(sheets), size)]
    done = 0
    with ProcessPoolExecutor(2, multiprocessing.get_context("spawn"), max_tasks_per_child=1) as pool:
        waiting = [
            pool.submit(sheets_pdf, part, paper=paper, title=f"{title}, volume {nth} of {len(parts)}")
            for nth, part in enumerate(parts, start=1)
        ]
        for part, volume in zip(parts, waiting, strict=True):
            yield volume.result()
            done += len(part)
            if progress is not None:
                progress("Setting pages", done, len(sheets))


def _fit_kinds(data: dict[str, Any], template: Template, height: float) -> None:
    """Give every sheet the size of letters that fits the fullest sheet of its kind, found by halving."""
    kinds: dict[tuple[Any, ...], list[dict[str, Any]]] = {}
    for row in data["sheets"]:
        kinds.setdefault(_kind(row), []).append(row)
    fullest = [max(rows, key=_words) for rows in kinds.values()]
    least, most = [0] * len(fullest), [len(SCALES) - 1] * len(fullest)  # places in SCALES, the first that may fit
    while any(low < high for low, high in zip(least, most, strict=True)):
        for row, low, high in zip(fullest, least, most, strict=True):
            row["scale"] = SCALES[(low + high) // 2]
        ends = template.ends({**data, "sheets": fullest, "probe": True})
        for place, end in enumerate(ends):
            middle = (least[place] + most[place]) // 2
            if end <= height:
                most[place] = middle
            else:
                least[place] = min(middle + 1, len(SCALES) - 1)
    for rows, place in zip(kinds.values(), most, strict=True):
        for row in rows:
            row["scale"] = SCALES[place]


def _kind(row: dict[str, Any]) -> tuple[Any, ...]:
    """Return what sheets have in common that take about the same room."""
    return (
        row["status"],
        len(row["registers"]),
        len(row["cautions"]),
        len(row["parts"]),
        len(row["questions"]),
        tuple(item["drawing_index"] for item in row["wiring"]),
        _words(row) // 200,
    )


def _words(row: dict[str, Any]) -> int:
    """Return how many characters a sheet prints, about."""
    return len(json.dumps([row[name] for name in ("where", "stop", "together", "questions", "parts", "tamper")])) + sum(
        len(json.dumps([part["facts"], part["keyed"], part["proof"], part["start"]])) for part in row["registers"]
    )
