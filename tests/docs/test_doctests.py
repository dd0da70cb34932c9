"""Each example in a docstring of the domain is run."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import dialtrue.domain

MODULES = sorted(info.name for info in pkgutil.walk_packages(dialtrue.domain.__path__, "dialtrue.domain."))


@pytest.mark.parametrize("name", MODULES)
def test_examples_give_what_they_show(name: str) -> None:
    outcome = doctest.testmod(importlib.import_module(name))
    assert outcome.failed == 0


def test_the_domain_has_examples() -> None:
    assert sum(doctest.testmod(importlib.import_module(name)).attempted for name in MODULES) >= 10
