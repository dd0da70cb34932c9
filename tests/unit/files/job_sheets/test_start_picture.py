"""The start picture: well-formed, safe, and as said by its data."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from dialtrue.domain.dial import Dial
from dialtrue.domain.index import Index
from dialtrue.domain.job_sheet.start_boxes import start_boxes
from dialtrue.files.job_sheets.start_picture import MM_PER_COLUMN, boxes_svg, start_svg

SVG = "{http://www.w3.org/2000/svg}"


def test_every_position_has_a_box_and_every_printed_zero_its_digit() -> None:
    boxes = start_boxes(Dial.of(moving_digits=6, fixed_zeros=1, unit="gal"), Index.of(digits=8, unit="gal"))
    svg, width_mm = start_svg(boxes)
    root = ET.fromstring(svg)
    assert len(root.findall(f"{SVG}rect")) == 7 + 8
    large = [text.text for text in root.findall(f"{SVG}text") if text.get("font-size") == "22"]
    assert large == ["0", "0", "0"]  # the painted zero, the zero in front, the painted zero keyed
    assert width_mm > 8 * MM_PER_COLUMN


def test_digits_that_stay_out_are_crossed_and_the_others_led_down() -> None:
    boxes = start_boxes(
        Dial.of(moving_digits=6, fixed_zeros=2, unit="gal"), Index.of(digits=6, unit="gal", resolution=100)
    )
    svg, _ = start_svg(boxes)
    assert svg.count("l10 10m0 -10l-10 10") == 2
    assert svg.count('z"/>') == 6


def test_the_picture_takes_the_ink_of_its_page_and_says_itself() -> None:
    boxes = start_boxes(Dial.of(moving_digits=4, unit="m3"), Index.of(digits=8, unit="gal"))
    svg, _ = start_svg(boxes)
    root = ET.fromstring(svg)
    assert root.get("fill") == "currentColor"
    assert root.get("role") == "img"
    assert boxes.rule in (root.get("aria-label") or "")


def test_a_row_of_boxes_prints_its_painted_zeros() -> None:
    root = ET.fromstring(boxes_svg(7, 1))
    assert [text.text for text in root.iter(f"{SVG}text")] == ["0"]
