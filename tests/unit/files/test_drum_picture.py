"""The lined-up picture as SVG."""

from __future__ import annotations

import re
from xml.etree import ElementTree

from dialtrue.domain.dial import Dial
from dialtrue.domain.index import Index
from dialtrue.domain.lined_up import LinedUp, line_up
from dialtrue.files.drum_picture import drum_svg

SVG = "{http://www.w3.org/2000/svg}"
FACE = Dial.of(moving_digits=6, fixed_zeros=1, unit="gal")


def slipped() -> LinedUp:
    return line_up(FACE, "0421370", Index.of(digits=8, unit="gal"), 42_137)


def drawn(picture: LinedUp, title: str = "Meter 7") -> ElementTree.Element:
    return ElementTree.fromstring(drum_svg(picture, title=title))


def classes(root: ElementTree.Element) -> list[str]:
    return [element.get("class", "") for element in root.iter()]


def test_it_is_well_formed_and_says_what_it_shows() -> None:
    root = drawn(slipped(), title='<script>"&')
    assert root.findtext(f"{SVG}title") == '<script>"&'
    assert root.findtext(f"{SVG}desc") == slipped().sentence
    assert "<script>" not in drum_svg(slipped(), title="<script>")


def test_each_drum_stands_once_and_joins_stand_where_digits_agree() -> None:
    found = classes(drawn(slipped()))
    assert sum(name.startswith("digit") for name in found) == 7 + 8
    assert found.count("join") == sum(agrees is True for agrees in slipped().agree) == 1
    assert found.count("drum painted") == 1


def test_digits_that_part_have_another_shape_and_weight_not_only_colour() -> None:
    root = drawn(slipped())
    assert classes(root).count("digit parts") == classes(root).count("apart") == 10
    style = root.findtext(f"{SVG}style") or ""
    assert re.search(r"\.parts \{[^}]*font-weight: 800", style)
    assert re.search(r"\.apart \{[^}]*stroke-width: 3", style)


def test_level_registers_show_nothing_apart() -> None:
    picture = line_up(Dial.of(moving_digits=4, unit="gal"), "1000", Index.of(digits=4, unit="gal"), 999)
    assert "apart" not in classes(drawn(picture))


def test_the_picture_needs_no_network_and_has_both_papers() -> None:
    text = drum_svg(slipped(), title="x").replace("http://www.w3.org/2000/svg", "")
    assert "http" not in text
    assert "url(" not in text
    assert "#fbfaf7" in text
    assert "prefers-color-scheme: dark" in text


def test_every_mark_lies_inside_the_picture() -> None:
    picture = line_up(FACE, "0421370", Index.of(digits=6, unit="ft3"), 56_328)
    root = drawn(picture)
    _, _, width, height = (float(part) for part in (root.get("viewBox") or "").split())
    for element in root.iter():
        for name, most in (("x", width), ("y", height), ("x2", width), ("y2", height), ("cx", width)):
            if element.get(name):
                assert 0 <= float(element.get(name) or 0) <= most
