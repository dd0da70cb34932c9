"""The page on wiring drawings: its pictures are fresh and show what the page tells."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.wiring_reader import read_drawing
from tools import make_wiring_pictures

PAGE = Path(__file__).parents[2] / "docs" / "how-to" / "read-a-wiring-drawing.md"


@pytest.mark.parametrize("name", make_wiring_pictures.PICTURES)
def test_each_picture_is_fresh_and_shown(name: str) -> None:
    standing = (make_wiring_pictures.FOLDER / name).read_text(encoding="utf-8")
    assert standing == make_wiring_pictures.page(name), "run `make docs`"
    assert f"](pictures/{name})" in PAGE.read_text(encoding="utf-8")


def test_the_pictures_show_what_the_page_tells() -> None:
    single, compound = (read_drawing(draw()) for draw in make_wiring_pictures.PICTURES.values())
    assert [run.loop for run in single.runs] == ["wired"]
    words = " ".join(said for said, _ in single.texts)
    assert "Polarity matters" in words
    assert "by test" in words
    assert "usually red" in words
    assert [(run.role, run.loop) for run in compound.runs] == [("high", "bridged"), ("low", "bridged")]
