"""Run every check that CI runs, one after another; the tests come last so that their count closes the output."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

BIN = Path(sys.executable).parent
STEPS: tuple[tuple[str, list[str]], ...] = (
    ("layout", [str(BIN / "ruff"), "format", "--check", "."]),
    ("lint", [str(BIN / "ruff"), "check", "."]),
    ("types", [str(BIN / "mypy")]),
    ("layers", [str(BIN / "lint-imports"), "--no-cache"]),
    ("module size", [sys.executable, "tools/check_module_size.py"]),
    ("sources", [sys.executable, "tools/check_sources.py"]),
    ("generated pages", [sys.executable, "tools/generate_reference.py", "--check"]),
    ("wheel in a clean place", [sys.executable, "tools/check_wheel.py"]),
    ("tests", ["make", "--no-print-directory", "test"]),
)


def main() -> int:
    """Run all steps, even after one failed, and return 1 if any did."""
    failed = []
    for name, command in STEPS:
        print(f"== {name}", flush=True)
        begun = time.monotonic()
        code = subprocess.run(command, check=False, env={**os.environ, "MAKEFLAGS": ""}).returncode
        print(f"== {name}: {'ok' if code == 0 else f'FAILED ({code})'}, {time.monotonic() - begun:.0f} s", flush=True)
        if code:
            failed.append(name)
    if failed:
        print(f"Failed: {', '.join(failed)}", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
