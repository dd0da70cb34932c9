"""What the paper template is filled with: sheets as plain data, codes and drawings each once."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import asdict, is_dataclass
from functools import lru_cache
from typing import Any, Final

from dialtrue.domain.cautions import Caution
from dialtrue.domain.job_sheet.sheet import SECTIONS, Check, JobSheet, RegisterPart
from dialtrue.files.job_sheets.codes import CodePicture, bar_code, qr_code
from dialtrue.files.job_sheets.start_picture import boxes_svg, start_svg

SHORT_SERIAL: Final = 12
WIRING_MM: Final = 170.0
BAR_ALONE_MM: Final = 84.0
BAR_BESIDE_MM: Final = 84.0
SITE_CODE_MM: Final = (24.0, 17.0)
"""Room for the site's code on a page with one register and on one with two. [mm]"""
_VIEW_BOX: Final = re.compile(r'viewBox="0 0 ([0-9.]+) ([0-9.]+)"')
_FONTS: Final = re.compile(r'font-family="[^"]*sans-serif"')
_OUR_FONTS: Final = 'font-family="Libertinus Serif"'
"""Drawings name the fonts of a page; on paper there are only those that typst carries."""
LONGEST_WORD: Final = 24
"""A longer word may be broken anywhere, or it would run out of its column. [characters]"""
_LONG_WORD: Final = re.compile(rf"\S{{{LONGEST_WORD + 1},}}")
_BREAK: Final = "\N{ZERO WIDTH SPACE}"


class SheetData:
    """The template's data: each code and each drawing once, sheets pointing to them by place."""

    def __init__(self) -> None:
        self.drawings: dict[str, int] = {}
        self.sizes: list[tuple[float, float]] = []
        self.codes: list[dict[str, Any]] = []

    def filled(self, sheets: Sequence[JobSheet]) -> dict[str, Any]:
        """Return everything that the template takes."""
        rows = [self._sheet(sheet) for sheet in sheets]
        drawings = [
            {"svg": _FONTS.sub(_OUR_FONTS, svg, count=1), "width_mm": width, "height_mm": height}
            for svg, (width, height) in zip(self.drawings, self.sizes, strict=True)
        ]
        return {"sections": list(SECTIONS), "sheets": rows, "codes": self.codes, "drawings": drawings}

    def _drawing(self, svg: str, width_mm: float) -> int:
        """Keep a drawing once; its height follows from its view box."""
        if svg not in self.drawings:
            box = _VIEW_BOX.search(svg)
            across, down = (float(box[1]), float(box[2])) if box else (1.0, 1.0)
            self.drawings[svg] = len(self.drawings)
            self.sizes.append((width_mm, width_mm * down / across))
        return self.drawings[svg]

    def _code(self, picture: CodePicture) -> int:
        self.codes.append(asdict(picture))
        return len(self.codes) - 1

    def _boxes(self, positions: int, painted: int) -> int | None:
        """Keep a row of boxes to write in."""
        return self._drawing(boxes_svg(positions, painted), float(positions)) if positions else None

    def _sheet(self, sheet: JobSheet) -> dict[str, Any]:
        row = _fields(sheet, but=("registers", "wiring"))
        row["registers"] = [self._register(part) for part in sheet.registers]
        row["wiring"] = [
            {
                "title": item.title,
                "description": item.description,
                "note": item.note,
                "drawing_index": self._drawing(item.drawing, WIRING_MM) if item.drawing else None,
            }
            for item in sheet.wiring
        ]
        row["site_code_index"] = self._code(qr_code(sheet.site_code, most_mm=SITE_CODE_MM[len(sheet.registers) > 1]))
        room = BAR_ALONE_MM if len(sheet.registers) == 1 else BAR_BESIDE_MM
        drawn = {serial: self._code(bar_code(serial, most_mm=room)) for serial in sheet.serial_codes}
        row["serial_code_index"] = list(drawn.values())
        return row

    def _register(self, part: RegisterPart) -> dict[str, Any]:
        row = _fields(part, but=("start",))
        row["start"] = None
        row["short"] = part.tag or part.meter_serial[:SHORT_SERIAL]
        row["dial_boxes"] = self._boxes(part.dial_positions, part.painted)
        row["index_boxes"] = self._boxes(part.index_digits, 0)
        if part.start is not None:
            svg, width_mm = start_svg(part.start)
            row["start_index"] = self._drawing(svg, width_mm)
            row["start"] = {"rule": _plain(part.start.rule), "example": _plain(part.start.example)}
        return row


def _plain(value: Any) -> Any:
    """Return data of the domain as the template takes it; words too long for any column may break anywhere."""
    if isinstance(value, str):
        return _LONG_WORD.sub(lambda word: _BREAK.join(word[0]), value) if len(value) > LONGEST_WORD else value
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, Caution | Check):
        return _shared(value)
    if is_dataclass(value):
        return _fields(value)
    return value


def _fields(value: Any, *, but: tuple[str, ...] = ()) -> dict[str, Any]:
    """Return the fields of a dataclass with slots, those in ``but`` left out."""
    return {name: _plain(getattr(value, name)) for name in type(value).__slots__ if name not in but}


@lru_cache(maxsize=512)
def _shared(value: Caution | Check) -> dict[str, Any]:
    """Return what stands on many sheets, made once."""
    return _fields(value)
