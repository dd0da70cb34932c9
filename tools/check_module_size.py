"""Fail where a module has grown past the size that one person can hold in mind."""

from __future__ import annotations

import sys
from pathlib import Path

MOST_LINES = 500
FOLDERS = ("src", "tests", "tools", "benchmarks")


def main() -> int:
    """Print each module that is too long; return 1 if there is one."""
    long = [
        (path, lines)
        for folder in FOLDERS
        for path in sorted(Path(folder).rglob("*.py"))
        if (lines := path.read_text(encoding="utf-8").count("\n")) > MOST_LINES
    ]
    for path, lines in long:
        print(f"{path}: {lines} lines, the most is {MOST_LINES}; split it by a concept of the trade")
    return 1 if long else 0


if __name__ == "__main__":
    sys.exit(main())
