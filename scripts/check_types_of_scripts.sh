#!/bin/sh
# Checks the types of the studio's scripts (JSDoc, by TypeScript's checker). Nothing else needs
# Node.js: where it is missing this is left out and says so, but a CI must have it.
set -eu
if ! command -v node >/dev/null 2>&1 || ! command -v npm >/dev/null 2>&1; then
    echo "the types of the scripts were not checked: install Node.js with npm to check them" >&2
    [ -z "${CI:-}" ] || exit 1
    exit 0
fi
if [ ! node_modules/.package-lock.json -nt package-lock.json ]; then
    npm ci --ignore-scripts --no-audit --no-fund --loglevel=error >/dev/null
    touch node_modules/.package-lock.json
fi
exec node node_modules/typescript/bin/tsc --project .
