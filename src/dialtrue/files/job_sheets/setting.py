"""A shipped template, filled with data and set by typst: where sheets end, and the PDF."""

from __future__ import annotations

import json
import re
from importlib import resources
from typing import Any, Final

from dialtrue.domain.errors import ExtraMissing

NO_GLYPH: Final = "\N{WHITE SQUARE}"
"""What stands in print for a character that the typefaces lack."""
_NOT_SHOWN: Final = re.compile(r'the text `"(.+?)"` could not be displayed', re.DOTALL)
_SPELT: Final = re.compile(r"\\u\{([0-9a-f]+)\}")
_MOST_ROUNDS: Final = 4
PAPER_NAMES: Final = {"letter": "us-letter", "a4": "a4"}
"""Papers by our names and by those of the typesetter."""


class Template:
    """One shipped template, set with the fonts that the typesetter carries: every machine sets it alike."""

    def __init__(self, name: str) -> None:
        try:
            import typst
        except ImportError as missing:
            raise ExtraMissing(what="A printed page", package="typst", extra="paper") from missing
        self._typst = typst
        self._source = (resources.files("dialtrue.files.job_sheets") / name).read_bytes()
        self._compiler: Any = None
        self._text = ""
        self._fonts = typst.Fonts(include_system_fonts=False)

    def ends(self, data: dict[str, Any]) -> list[float]:
        """Return how far down each sheet reaches, from the upper margin. [pt]"""
        told: list[float] = json.loads(self._filled(data).query("<end>", field="value"))
        return told

    def pdf(self, data: dict[str, Any]) -> tuple[bytes, str]:
        """Return the PDF, and the characters that the typefaces lack; quick where ``ends`` was just asked of this data.

        It is tagged for PDF/UA-1. A character without a glyph is printed as ``NO_GLYPH``, for the standard forbids
        what nobody can read.
        """
        missing: dict[str, None] = {}
        for _ in range(_MOST_ROUNDS):
            compiler = self._filled(data)
            try:
                pdf = compiler.compile(input=self._source, format="pdf", pdf_standards=["ua-1"])
            except self._typst.TypstError as refused:
                lacking = _lacking(refused.diagnostic)
                if not lacking:
                    break  # the standard forbids something else: better a page without its seal than none
                missing.update(dict.fromkeys(lacking))
                data = _without(data, str.maketrans(dict.fromkeys(lacking, NO_GLYPH)))
                continue
            assert isinstance(pdf, bytes)
            return pdf, "".join(missing)
        pdf = self._filled(data).compile(input=self._source, format="pdf")
        assert isinstance(pdf, bytes)
        return pdf, "".join(missing)

    def _filled(self, data: dict[str, Any]) -> Any:
        """Return a compiler for the template and its data; the last one is kept, for it remembers what it has set."""
        text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
        if text != self._text:
            self._compiler = self._typst.Compiler(self._source, font_paths=self._fonts, sys_inputs={"data": text})
            self._text = text
        return self._compiler


def _lacking(told: str) -> list[str]:
    """Return the characters without a glyph that the typesetter complains of, in its own spelling or as they are."""
    texts = [_SPELT.sub(lambda code: chr(int(code[1], 16)), text) for text in _NOT_SHOWN.findall(told)]
    return [mark for text in texts for mark in text if mark > "~"]


def _without(value: Any, table: dict[int, str]) -> Any:
    """Return data with characters replaced in every text that is printed; drawings and codes are left alone."""
    if isinstance(value, str):
        return value.translate(table)
    if isinstance(value, list):
        return [_without(item, table) for item in value]
    if isinstance(value, dict):
        return {name: item if name in ("svg", "alt") else _without(item, table) for name, item in value.items()}
    return value
