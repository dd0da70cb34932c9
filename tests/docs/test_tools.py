"""The checks can fail: each is shown something wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from tools import check_module_size, check_sources

ROOT = Path(__file__).resolve().parents[2]
MODULE = '''"""A module."""

LIMIT = 3
"""Source: ``KNOWN-KEY``."""


def f() -> None:
    """Do it.

    Source
    ------
    ``LOST-KEY`` table 3; see ``OTHER_NAME``.

    Examples
    --------
    ``NOT-CITED``
    """
'''


def test_source_keys_under_a_source_heading_are_found(tmp_path: Path) -> None:
    path = tmp_path / "module.py"
    path.write_text(MODULE, encoding="utf-8")
    assert {key for _, _, key in check_sources.cited_in_code(path)} == {"KNOWN-KEY", "LOST-KEY"}


def test_known_keys_come_from_the_table() -> None:
    keys = check_sources.known_keys((ROOT / "docs/reference/sources.md").read_text(encoding="utf-8"))
    assert "NIST-SP-811" in keys
    assert "key" not in keys


def test_a_module_past_the_limit_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "src").mkdir()
    (tmp_path / "src" / "fits.py").write_text("\n" * check_module_size.MOST_LINES, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert check_module_size.main() == 0
    (tmp_path / "src" / "long.py").write_text("\n" * (check_module_size.MOST_LINES + 1), encoding="utf-8")
    assert check_module_size.main() == 1
    assert "long.py" in capsys.readouterr().out
