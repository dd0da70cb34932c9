"""Set-up shared by all tests."""

from __future__ import annotations

from pathlib import Path

ENGINE = Path(__file__).parents[1] / "src" / "dialtrue" / "engine"


def pytest_configure() -> None:
    """Drop compiled loops that are older than the sources.

    numba looks only at the file of the outermost loop: after an edit in a file it calls, an old compilation would run.
    """
    newest = max(path.stat().st_mtime for path in ENGINE.rglob("*.py"))
    for compiled in ENGINE.rglob("*.nb[ic]"):
        try:
            if compiled.stat().st_mtime < newest:
                compiled.unlink()
        except FileNotFoundError:
            continue  # another worker was quicker
