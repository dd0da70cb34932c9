"""A shipped template, filled with data and set by typst: where sheets end, and the PDF."""

from __future__ import annotations

import json
from importlib import resources
from typing import Any, Final

from dialtrue.domain.errors import PaperExtraMissing

PAPER_NAMES: Final = {"letter": "us-letter", "a4": "a4"}
"""Papers by our names and by those of the typesetter."""


class Template:
    """One shipped template, set with the fonts that the typesetter carries: every machine sets it alike."""

    def __init__(self, name: str) -> None:
        try:
            import typst
        except ImportError as missing:
            raise PaperExtraMissing(package="typst") from missing
        self._typst = typst
        self._source = (resources.files("dialtrue.files.job_sheets") / name).read_bytes()
        self._compiler: Any = None
        self._text = ""
        self._fonts = typst.Fonts(include_system_fonts=False)

    def ends(self, data: dict[str, Any]) -> list[float]:
        """Return how far down each sheet reaches, from the upper margin. [pt]"""
        told: list[float] = json.loads(self._filled(data).query("<end>", field="value"))
        return told

    def pdf(self, data: dict[str, Any]) -> bytes:
        """Return the PDF; quick where ``ends`` was asked of the same data just before."""
        pdf = self._filled(data).compile(input=self._source, format="pdf")
        assert isinstance(pdf, bytes)
        return pdf

    def _filled(self, data: dict[str, Any]) -> Any:
        """Return a compiler for the template and its data; the last one is kept, for it remembers what it has set."""
        text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
        if text != self._text:
            self._compiler = self._typst.Compiler(self._source, font_paths=self._fonts, sys_inputs={"data": text})
            self._text = text
        return self._compiler
