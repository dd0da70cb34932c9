"""The page on lost pulses: its examples run, its pictures are fresh, its figures are those of the code."""

from __future__ import annotations

import doctest
from pathlib import Path
from xml.etree import ElementTree

import pytest

from tools import make_fit_pictures

PAGE = Path(__file__).parents[2] / "docs" / "explanation" / "why-a-pulse-is-lost.md"


def test_the_examples_run() -> None:
    failed, tried = doctest.testfile(str(PAGE), module_relative=False, encoding="utf-8")
    assert tried > 10
    assert failed == 0


@pytest.mark.parametrize("name", make_fit_pictures.PICTURES)
def test_each_picture_is_fresh_and_shown(name: str) -> None:
    standing = (make_fit_pictures.FOLDER / name).read_text(encoding="utf-8")
    assert standing == make_fit_pictures.PICTURES[name](), "run `make docs`"
    ElementTree.fromstring(standing.partition("\n")[2])
    assert f"](pictures/{name})" in PAGE.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("bounce.svg", "1 ms filter: counts 3 pulses. 25 ms filter: counts 1 pulse<"),
        ("filter.svg", "25 ms filter: counts 3 pulses. 100 ms filter: counts 0 pulses"),
        ("damp.svg", "wires swapped: 0.6 V, reads closed for ever"),
        ("sampling.svg", "closed 30 ms: 4 pulses, counts 2. closed 50 ms: 4 pulses, counts 4"),
    ],
)
def test_the_page_tells_what_the_picture_shows(name: str, said: str) -> None:
    assert said in make_fit_pictures.PICTURES[name]()
