"""Build the wheel, install it where no development package is, and ask it for help."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import venv
from pathlib import Path


def _run(*command: str) -> None:
    """Run quietly; what the program said is shown only if it failed."""
    done = subprocess.run(command, check=False, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    if done.returncode:
        print(done.stdout)
        raise SystemExit(f"{' '.join(command[:4])} ... ended with {done.returncode}")


def main() -> int:
    """Return 0 if the wheel installs alone and its command answers."""
    with tempfile.TemporaryDirectory(prefix="dialtrue-wheel-") as scratch:
        wheels, place = Path(scratch, "wheels"), Path(scratch, "venv")
        uv = shutil.which("uv")
        if uv:
            _run(uv, "build", "--quiet", "--wheel", "--out-dir", str(wheels), ".")
            _run(uv, "venv", "--quiet", "--python", sys.executable, str(place))
            wheel = next(wheels.glob("*.whl"))
            _run(uv, "pip", "install", "--quiet", "--python", str(place / "bin" / "python"), str(wheel))
        else:
            pip = ("-m", "pip", "--disable-pip-version-check")
            _run(sys.executable, *pip, "wheel", "--quiet", "--no-deps", "--wheel-dir", str(wheels), ".")
            venv.create(place, with_pip=True)
            wheel = next(wheels.glob("*.whl"))
            _run(str(place / "bin" / "python"), *pip, "install", "--quiet", str(wheel))
        command = str(place / "bin" / "dialtrue")
        told = subprocess.run([command, "--help"], check=True, capture_output=True, text=True, cwd=scratch).stdout
        if "watch" not in told:
            print(f"the installed command's help does not name `watch`:\n{told}")
            return 1
        small = [command, "demo", "--registers", "40", "--days", "21", "--out", str(Path(scratch, "town")), "--no-open"]
        done = subprocess.run(small, check=False, capture_output=True, text=True, cwd=scratch)
        if done.returncode != 0:
            print(f"a small demo from the installed wheel ended with {done.returncode}:\n{done.stderr}")
            return 1
        print(f"{wheel.name}: installed alone, answers, runs a small demo")
    return 0


if __name__ == "__main__":
    sys.exit(main())
