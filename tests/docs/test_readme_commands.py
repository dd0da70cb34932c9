"""The front page names every command."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import typer

from dialtrue.interfaces.cli import app

ROOT = Path(__file__).resolve().parents[2]
GROUP: Any = typer.main.get_command(app)


def test_readme_table_holds_each_command_once() -> None:
    rows = re.findall(r"^\| `dialtrue (\w+)` \|", (ROOT / "README.md").read_text(encoding="utf-8"), re.MULTILINE)
    assert sorted(rows) == sorted(GROUP.commands)
