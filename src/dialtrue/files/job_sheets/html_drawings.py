"""Wiring drawings of a page: each held once, shown wherever it is needed."""

from __future__ import annotations

import re
from typing import Final

from dialtrue.domain.job_sheet.sheet import WiringPart
from dialtrue.files.report.markup import safe

_WHOLE: Final = re.compile(r"<svg\b([^>]*)>(.*)</svg>\s*", re.DOTALL)
_NAMED: Final = re.compile(r"<(title|desc)>.*?</\1>", re.DOTALL)
_KEPT: Final = re.compile(r'\b(viewBox|font-family|fill)="([^"]*)"')


class Drawings:
    """Keeps the drawings of a page: the same wiring stands on hundreds of sheets."""

    def __init__(self) -> None:
        self._places: dict[str, int] = {}
        self._symbols: list[str] = []

    def shown(self, item: WiringPart) -> str:
        """Return an ``<svg>`` that shows a drawing under its title; what is no whole ``<svg>`` is shown as it is."""
        whole = _WHOLE.fullmatch(item.drawing)
        kept = dict(_KEPT.findall(whole[1])) if whole else {}
        if whole is None or "viewBox" not in kept:
            return item.drawing
        if item.drawing not in self._places:
            self._places[item.drawing] = len(self._symbols)
            marks = "".join(f' {name}="{value}"' for name, value in kept.items())
            self._symbols.append(f'<symbol id="w{len(self._symbols)}"{marks}>{_NAMED.sub("", whole[2])}</symbol>')
        box = kept["viewBox"]
        width, height = box.split()[2:4]
        return (
            f'<svg role="img" aria-label="{safe(item.title)}" viewBox="{box}" width="{width}mm" height="{height}mm">'
            f'<use href="#w{self._places[item.drawing]}"/></svg>'
        )

    def held(self) -> str:
        """Return the drawings themselves, out of sight, to stand once on the page."""
        if not self._symbols:
            return ""
        return f'<svg class="held" aria-hidden="true" width="0" height="0">{"".join(self._symbols)}</svg>'
