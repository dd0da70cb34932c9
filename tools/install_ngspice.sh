#!/usr/bin/env bash
# Some tests compare the fit check with a circuit simulator. Install it where we may; else those tests are skipped.
set -uo pipefail
command -v ngspice >/dev/null && exit 0
if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
    echo "Installing ngspice for the circuit tests ..." >&2
    export DEBIAN_FRONTEND=noninteractive
    (apt-get update -qq && apt-get install -y -qq --no-install-recommends ngspice) >/dev/null 2>&1
fi
if ! command -v ngspice >/dev/null; then
    if [ "${CI:-}" = true ]; then
        echo "ngspice is missing and could not be installed: CI does not skip the circuit tests." >&2
        exit 1
    fi
    echo "ngspice is not installed: the circuit tests will be skipped (Debian and Ubuntu: apt-get install ngspice)." >&2
fi
