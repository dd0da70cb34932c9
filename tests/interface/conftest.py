"""Stand-ins for the services, so that the shape of the command line is tested without a fleet."""

from __future__ import annotations

import sys
from collections.abc import Callable
from types import ModuleType, SimpleNamespace

import pytest

from dialtrue.domain.watch_result import WatchResult
from tests.support.watch_results import watch_result


@pytest.fixture
def watched(monkeypatch: pytest.MonkeyPatch) -> Callable[..., SimpleNamespace]:
    """Return a setter: the next watch gives this result, or raises this exception; the call's arguments are kept."""

    def set_result(result: WatchResult | BaseException | None = None) -> SimpleNamespace:
        seen = SimpleNamespace(arguments=None, options=None)

        def watch_folder(folder: object, **options: object) -> WatchResult:
            seen.arguments, seen.options = (folder,), options
            if isinstance(result, BaseException):
                raise result
            return result if result is not None else watch_result()

        module = ModuleType("dialtrue.services.watch")
        module.watch_folder = watch_folder  # type: ignore[attr-defined]
        monkeypatch.setitem(sys.modules, "dialtrue.services.watch", module)
        return seen

    return set_result
