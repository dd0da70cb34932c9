"""The tables ``[paper]`` and ``[labels]`` of ``programme.toml``."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Final

from dialtrue.domain.errors import BadPaperSetting, UnknownPaperSetting
from dialtrue.domain.job_sheet.label import SHIPPED_GRIDS, LabelGrid
from dialtrue.domain.job_sheet.settings import PAPERS, PaperSettings
from dialtrue.files.settings import programme_tables

_FILE: Final = "programme.toml"
_COUNTS: Final = ("columns", "rows")
_LENGTHS: Final = ("width_mm", "height_mm", "left_mm", "top_mm", "step_x_mm", "step_y_mm")
_MOST_LABELS: Final = 60
_MOST_MM: Final = 300.0


def paper_settings(folder: Path) -> PaperSettings:
    """Return what a programme says of its paper and labels; defaults where it is silent.

    Parameters
    ----------
    folder : Path
        The programme folder; a sites table alone has no settings.

    Returns
    -------
    PaperSettings

    Raises
    ------
    UnknownPaperSetting, BadPaperSetting
        A name that means nothing, or a value that is not in its form.
    LabelGridUnfit
        Labels that overlap or do not lie on their paper.
    BadProgrammeFile, FileUnreadable
        The file cannot be used at all.

    Source
    ------
    ``docs/how-to/print-job-sheets.md``.
    """
    tables = programme_tables(folder) if folder.is_dir() else {}
    paper = _known(tables.get("paper", {}), "paper", ("size", "show_account"))
    size = _one_of(paper.get("size", ""), "paper.size", PAPERS) if "size" in paper else ""
    show = paper.get("show_account", False)
    if not isinstance(show, bool):
        raise BadPaperSetting(file=_FILE, key="paper.show_account", value=repr(show)[:60], expected="true or false")
    grid = _grid(tables["labels"]) if "labels" in tables else None
    return PaperSettings(paper=size, show_account=show, label_grid=grid)


def _grid(table: Any) -> LabelGrid:
    """Return the grid: what the table says, and the shipped grid of its paper where it is silent."""
    told = _known(table, "labels", ("size", *_COUNTS, *_LENGTHS))
    base = SHIPPED_GRIDS[_one_of(told.get("size", "letter"), "labels.size", tuple(SHIPPED_GRIDS))]
    counts = {name: _whole(told[name], f"labels.{name}") if name in told else getattr(base, name) for name in _COUNTS}
    lengths = {
        name: _length(told[name], f"labels.{name}") if name in told else getattr(base, name) for name in _LENGTHS
    }
    for step, size in (("step_x_mm", "width_mm"), ("step_y_mm", "height_mm")):
        if size in told and step not in told:
            lengths[step] = lengths[size]
    return LabelGrid(paper=base.paper, **counts, **lengths)


def _known(table: Any, key: str, names: Iterable[str]) -> Mapping[str, Any]:
    """Return a table whose names are all known."""
    if not isinstance(table, dict):
        raise BadPaperSetting(file=_FILE, key=key, value=repr(table)[:60], expected=f"it as a table, [{key}]")
    allowed = tuple(names)
    for name in table:
        if name not in allowed:
            near = difflib.get_close_matches(name, allowed, n=3, cutoff=0.5) or allowed[:4]
            raise UnknownPaperSetting(
                file=_FILE, key=f"{key}.{name[:60]}", nearest=", ".join(f"{key}.{word}" for word in near)
            )
    return table


def _one_of(value: Any, key: str, words: tuple[str, ...]) -> str:
    """Return one of some words."""
    if value not in words:
        expected = "one of " + ", ".join(repr(word) for word in words)
        raise BadPaperSetting(file=_FILE, key=key, value=repr(value)[:60], expected=expected)
    return str(value)


def _whole(value: Any, key: str) -> int:
    """Return a count of labels."""
    if not isinstance(value, int) or isinstance(value, bool) or not 1 <= value <= _MOST_LABELS:
        raise BadPaperSetting(
            file=_FILE, key=key, value=repr(value)[:60], expected=f"a whole number from 1 to {_MOST_LABELS}"
        )
    return value


def _length(value: Any, key: str) -> float:
    """Return a length on paper. [mm]"""
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not number or not math.isfinite(value) or not 0 <= value <= _MOST_MM:
        raise BadPaperSetting(
            file=_FILE, key=key, value=repr(value)[:60], expected=f"millimetres from 0 to {_MOST_MM:g}, without quotes"
        )
    return float(value)
