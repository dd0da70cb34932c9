#!/usr/bin/env bash
# Make the virtual environment and install the project with its development tools. Uses uv where it is there.
set -euo pipefail
python="${PYTHON:-python3}"
venv="${VENV:-.venv}"

say() { printf '%s\n' "$*" >&2; }

if ! command -v "$python" >/dev/null; then
    say "python3 was not found. Install Python 3.11 or newer, or name one: make PYTHON=/path/to/python3 test"
    exit 1
fi
if ! "$python" -c 'import sys; sys.exit(not (3, 11) <= sys.version_info[:2] < (3, 14))'; then
    say "$("$python" --version) is not supported: dialtrue needs Python 3.11, 3.12 or 3.13."
    say "Name another one: make PYTHON=/path/to/python3.12 test"
    exit 1
fi
if command -v uv >/dev/null; then
    [ -x "$venv/bin/python" ] || uv venv --quiet --python "$python" "$venv"
    say "Installing with uv ..."
    VIRTUAL_ENV="$PWD/$venv" uv pip install --quiet --editable '.[charts,paper,routes,dev]'
else
    if [ ! -x "$venv/bin/python" ] || ! "$venv/bin/python" -m pip --version >/dev/null 2>&1; then
        if ! "$python" -m venv "$venv" >/dev/null 2>&1; then
            rm -rf "$venv"
            version="$("$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])')"
            say "This Python cannot make a virtual environment. On Debian and Ubuntu install the package that does:"
            say "    apt-get install python${version}-venv      (or python3-venv)"
            say "then run make again."
            exit 1
        fi
    fi
    say "Installing with pip, about a minute ..."
    "$venv/bin/python" -m pip install --quiet --disable-pip-version-check --editable '.[charts,paper,routes,dev]'
fi
