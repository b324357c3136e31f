#!/bin/sh
# Installs Debian's chromium for the browser tests, where that needs nobody's password. Without a
# browser these tests are skipped and say so.
set -eu
[ -z "${HANDSLIDE_CHROMIUM:-}" ] || exit 0
if command -v chromium >/dev/null 2>&1 || ! command -v apt-get >/dev/null 2>&1; then
    exit 0
fi
if [ "$(id -u)" -ne 0 ]; then
    echo "browser tests will be skipped: install chromium (sudo apt-get install chromium)" >&2
    exit 0
fi
export DEBIAN_FRONTEND=noninteractive
apt-get install -y -qq --no-install-recommends chromium >/dev/null 2>&1 ||
    { apt-get update -qq && apt-get install -y -qq --no-install-recommends chromium; } >/dev/null 2>&1 ||
    echo "browser tests will be skipped: chromium couldn't be installed" >&2
