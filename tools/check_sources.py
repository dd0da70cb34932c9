"""Fail where a source key is cited that ``docs/reference/sources.md`` does not hold.

Read are the Source headings of docstrings in ``src`` (keys in double backticks), and the file names and ``source``
fields of the published cases.
"""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

SOURCES = Path("docs/reference/sources.md")
CASES = Path("tests/published/cases")
KEY = re.compile(r"``([A-Z][A-Z0-9]*(?:-[A-Z0-9]+)+)``")
HEADING = re.compile(r"^Source\n-+\n(.*?)(?=^\w[^\n]*\n-{3,}\n|\Z)", re.MULTILINE | re.DOTALL)


def known_keys(text: str) -> set[str]:
    """Return the keys in the first column of the table of sources."""
    return {row.split("|")[1].strip().strip("`") for row in text.splitlines() if row.startswith("|")} - {"key", "---"}


def cited_in_code(path: Path) -> Iterator[tuple[str, int, str]]:
    """Yield file, line and key for each key under a Source heading, or in a docstring of a constant or module."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and "``" in node.value:
            text = "\n".join(line.strip() for line in node.value.splitlines())
            headed = "\n".join(match.group(1) for match in HEADING.finditer(text))
            single = "\n".join(part for part in text.split("\n\n") if "Source" in part)
            for key in KEY.findall(f"{headed}\n{single}"):
                yield str(path), node.lineno, key


def cited_in_cases() -> Iterator[tuple[str, int, str]]:
    """Yield file, line and key for each published case."""
    for path in sorted(CASES.rglob("*.toml")) if CASES.is_dir() else ():
        content = tomllib.loads(path.read_text(encoding="utf-8"))
        keys = [content["source"]] if isinstance(content.get("source"), str) else []
        keys += [case["source"] for case in content.get("case", []) if isinstance(case.get("source"), str)]
        for key in keys or [path.stem]:
            yield str(path), 1, key


def main() -> int:
    """Print each citation of an unknown key; return 1 if there is one."""
    known = known_keys(SOURCES.read_text(encoding="utf-8"))
    cited = [row for path in sorted(Path("src").rglob("*.py")) for row in cited_in_code(path)]
    wrong = sorted({row for row in (*cited, *cited_in_cases()) if row[2] not in known})
    for path, line, key in wrong:
        print(f"{path}:{line}: the source {key} is not in {SOURCES}; add it there with what it is and how sure it is")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
