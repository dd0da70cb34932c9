"""Formulas of a workbook whose value was never worked out: a reader of values takes such a cell for a blank one."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path, PurePosixPath
from typing import Final

_SHEET: Final = re.compile(rb"<(?:\w+:)?sheet\s[^>]*?\br:id=\"([^\"]+)\"")
_CELL: Final = re.compile(
    rb"<c\s[^>]*?\br=\"([A-Z]{1,3}[0-9]{1,7})\"[^>]*>\s*"
    rb"<f(?:\s[^>]*)?(?:/>|>[^<]*</f>)\s*(?:<v\s*/>|<v>\s*</v>)?\s*</c>"
)


def unvalued_formulas(path: Path) -> list[str]:
    """Return the places of the first sheet's formulas that hold no value, such as ``Q3``.

    Parameters
    ----------
    path : Path
        A workbook that could be read.

    Returns
    -------
    list of str
        In the order of the sheet; empty too where the workbook is laid out in a way that is not known here.

    Raises
    ------
    Never raises for a workbook that could be read.

    Source
    ------
    ECMA-376, part 1, 18.3.1.4 and 18.3.1.40: ``c`` holds ``f`` and, if it was worked out, ``v``.
    """
    with zipfile.ZipFile(path) as book:
        names = set(book.namelist())
        if not {"xl/workbook.xml", "xl/_rels/workbook.xml.rels"} <= names:
            return []
        first = _SHEET.search(book.read("xl/workbook.xml"))
        if first is None:
            return []
        target = _target(book.read("xl/_rels/workbook.xml.rels"), first[1])
        name = str(PurePosixPath(target.lstrip("/"))) if target.startswith("/") else f"xl/{target}"
        if name not in names:
            return []
        text = book.read(name)
    if b"<f>" not in text and b"<f " not in text and b"<f/>" not in text:
        return []
    return [place.decode() for place in _CELL.findall(text)]


def _target(relations: bytes, key: bytes) -> str:
    """Return the part that a relation names, blank if there is none."""
    for relation in re.findall(rb"<(?:\w+:)?Relationship\s[^>]*>", relations):
        told = re.search(rb"\bId=\"([^\"]*)\"", relation)
        target = re.search(rb"\bTarget=\"([^\"]*)\"", relation)
        if told and target and told[1] == key:
            return target[1].decode("utf-8", "replace")
    return ""
