"""Every error says which thing, what is wrong, what to do next, and which code."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re

import pytest

from dialtrue.domain import errors

for _module in pkgutil.iter_modules(errors.__path__):
    importlib.import_module(f"{errors.__name__}.{_module.name}")

KINDS = [kind for kind in errors.catalogue() if kind.__module__.startswith("dialtrue.")]
DECADES = {2, *range(10, 80)}


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.code)
def test_error_is_whole(kind: type[errors.DialtrueError]) -> None:
    built = kind(**kind.example)
    said = built.rendered()
    assert not re.search(r"\{[^}]*\}|%[sd]", said.replace("{}", "")), said
    assert said.endswith(f"[{kind.code}]")
    assert kind.message.strip()
    assert kind.remedy.strip().endswith((".", "?", "}"))
    assert re.fullmatch(r"[A-Z][A-Z0-9]*(-[A-Z0-9]+)*", kind.code)
    assert kind.exit_code in DECADES
    assert (inspect.getdoc(kind) or "") not in ("", inspect.getdoc(errors.DialtrueError))
    assert kind.__module__.startswith("dialtrue.domain.errors.")


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.code)
def test_error_neither_shouts_nor_shrugs(kind: type[errors.DialtrueError]) -> None:
    said = kind(**kind.example).rendered().lower()
    assert not re.search(r"\binvalid value\b|\bsorry\b|\boops\b|\bplease\b|!", said)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.code)
def test_json_form_has_the_stable_shape(kind: type[errors.DialtrueError]) -> None:
    document = kind(**kind.example).as_dict()
    assert list(document) == ["code", "message", "remedy", "facts", "status"]
    assert all(isinstance(value, str) for value in document["facts"].values())


def test_codes_and_class_names_are_unique() -> None:
    assert len({kind.code for kind in KINDS}) == len(KINDS)
    assert len({kind.__name__ for kind in KINDS}) == len(KINDS)


def test_every_error_is_exported() -> None:
    missing = [kind.__name__ for kind in KINDS if kind.__name__ not in errors.__all__]
    assert missing == []
