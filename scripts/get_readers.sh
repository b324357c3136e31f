#!/bin/sh
# Installs the readers of other people that `make roundtrip` tries our marked scores with: two npm
# packages at exact versions, and Debian's lilypond where that needs nobody's password. What can't be
# had is said in a line, and its tests are skipped. webmscore is under the GPL: it runs as a process of
# its own, in this test only, and nothing of it is shipped.
set -eu
cd tests/roundtrip
if ! command -v node >/dev/null 2>&1 || ! command -v npm >/dev/null 2>&1; then
    echo "two readers will be skipped: install Node.js with npm" >&2
elif [ ! node_modules/.package-lock.json -nt package-lock.json ]; then
    npm ci --ignore-scripts --no-audit --no-fund --loglevel=error >/dev/null &&
        touch node_modules/.package-lock.json ||
        echo "two readers will be skipped: npm couldn't install them" >&2
fi
if command -v lilypond >/dev/null 2>&1; then
    exit 0
fi
if ! command -v apt-get >/dev/null 2>&1 || [ "$(id -u)" -ne 0 ]; then
    echo "LilyPond will be skipped: install it (sudo apt-get install lilypond)" >&2
    exit 0
fi
export DEBIAN_FRONTEND=noninteractive
apt-get install -y -qq --no-install-recommends lilypond >/dev/null 2>&1 ||
    { apt-get update -qq && apt-get install -y -qq --no-install-recommends lilypond; } >/dev/null 2>&1 ||
    echo "LilyPond will be skipped: it couldn't be installed" >&2
