"""The wiring picture through the typesetter: words and colours come out as drawn."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from dialtrue.domain.wiring.circuit import Wiring
from dialtrue.domain.wiring.lay import wiring_of
from dialtrue.files.wiring_picture import wiring_svg
from tests.support.wirings import sheets

typst = pytest.importorskip("typst")
pdfium = pytest.importorskip("pypdfium2")
MM = 72 / 25.4


def typeset(folder: Path, svg: str) -> Any:
    """Return the page of a document that holds the picture alone, at 10 mm from the top left."""
    (folder / "wiring.svg").write_text(svg, encoding="utf-8")
    page = '#set page(paper: "us-letter", margin: 10mm)\n#image("wiring.svg", width: 170mm)\n'
    (folder / "page.typ").write_text(page, encoding="utf-8")
    return pdfium.PdfDocument(typst.compile(str(folder / "page.typ"), ignore_system_fonts=True))


def test_a_typesetter_without_the_system_s_fonts_shows_words_and_colours(tmp_path: Path) -> None:
    by = sheets()
    laid = wiring_of(by.output("open-drain"), by.input("contact-3v-1m"), by.cable("awg22-four"))
    assert isinstance(laid, Wiring)
    document = typeset(tmp_path, wiring_svg(laid))
    assert len(document) == 1
    said = document[0].get_textpage().get_text_range()
    for words in ("pulse +", "pulse −", "loop back", "usually red", "Endpoint, port 1", "tamper loop turns back"):
        assert words in said
    image = document[0].render(scale=4).to_pil().convert("RGB")

    def share(want: tuple[int, int, int]) -> int:
        points = (image.getpixel((x, y)) for x in range(0, image.width, 2) for y in range(0, image.height // 2, 2))
        return sum(sum(abs(a - b) for a, b in zip(got, want, strict=True)) < 24 for got in points)

    assert share((0xC8, 0x20, 0x2C)) > 500  # red
    assert share((0x2B, 0x8A, 0x3E)) > 500  # green
    middle = image.getpixel((int((10 + 62) * MM * 4), int((10 + 18.5 - 0.6) * MM * 4)))
    assert middle[0] > 150 > middle[1]  # the red conductor, beside its dashes, where it leaves the splice
