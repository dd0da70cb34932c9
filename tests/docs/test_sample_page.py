"""The page on samples: its pictures are fresh, and show what the page tells."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import pytest

from tools import make_sample_pictures

PAGE = Path(__file__).parents[2] / "docs" / "explanation" / "what-a-sample-proves.md"


@pytest.mark.parametrize("name", make_sample_pictures.PICTURES)
def test_each_picture_is_fresh_and_shown(name: str) -> None:
    standing = (make_sample_pictures.FOLDER / name).read_text(encoding="utf-8")
    assert standing == make_sample_pictures.PICTURES[name](), "run `make docs`"
    ElementTree.fromstring(standing.partition("\n")[2])
    assert f"](pictures/{name})" in PAGE.read_text(encoding="utf-8")


@pytest.mark.parametrize(("name", "said"), [("sample-plan.svg", "4 %: 0.39"), ("sample-crews.svg", "C: 9 in 60")])
def test_the_picture_shows_what_the_page_tells(name: str, said: str) -> None:
    assert said in make_sample_pictures.PICTURES[name]()
