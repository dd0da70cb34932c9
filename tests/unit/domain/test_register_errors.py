"""Each error of the registers says which thing, what is wrong, what next, and a code."""

from __future__ import annotations

import inspect

import pytest

from dialtrue.domain.errors import DialtrueError, register

KINDS = [
    kind
    for _, kind in inspect.getmembers(register, inspect.isclass)
    if issubclass(kind, DialtrueError) and kind is not DialtrueError
]


@pytest.mark.parametrize("kind", KINDS)
def test_an_error_renders_from_its_own_example(kind: type[DialtrueError]) -> None:
    text = kind(**kind.example).rendered()
    assert "{" not in text
    assert text.endswith(f"[{kind.code}]")
    assert kind.remedy
    assert kind.__doc__


def test_codes_are_used_once() -> None:
    assert len({kind.code for kind in KINDS}) == len(KINDS) >= 8
