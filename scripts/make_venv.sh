#!/bin/sh
# Makes a virtual environment with this machine's Python, from 3.11 on: make_venv.sh FOLDER [FIRST],
# with the one called FIRST, if there is one.
set -eu
venv=$1
python=""
for name in ${2:-} python3 python3.14 python3.13 python3.12 python3.11; do
    if command -v "$name" >/dev/null 2>&1 &&
        "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
        python=$name
        break
    fi
done
if [ -z "$python" ]; then
    echo "handslide needs Python 3.11 or newer (Debian: apt install python3-venv; macOS: python.org or brew install python)." >&2
    exit 1
fi
if "$python" -m venv "$venv" >/dev/null 2>&1; then exit 0; fi
rm -rf "$venv"
# Debian keeps venv in a package of its own.
if command -v apt-get >/dev/null 2>&1 && [ "$(id -u)" = 0 ]; then
    apt-get update -qq && apt-get install -y -qq python3-venv >/dev/null
    "$python" -m venv "$venv"
else
    echo "This Python can't make virtual environments: run 'sudo apt install python3-venv', then again." >&2
    exit 1
fi
