#!/bin/sh
# Installs Debian's chromium and Firefox for the browser tests, where that needs nobody's password.
# Without a browser its tests are skipped and say so.
set -eu

get() {
    package=$1
    chosen=$2
    [ -z "$chosen" ] || return 0
    if command -v "$package" >/dev/null 2>&1 || ! command -v apt-get >/dev/null 2>&1; then
        return 0
    fi
    if [ "$(id -u)" -ne 0 ]; then
        echo "tests in $package will be skipped: install it (sudo apt-get install $package)" >&2
        return 0
    fi
    apt-get install -y -qq --no-install-recommends "$package" >/dev/null 2>&1 ||
        { apt-get update -qq && apt-get install -y -qq --no-install-recommends "$package"; } >/dev/null 2>&1 ||
        echo "tests in $package will be skipped: it couldn't be installed" >&2
}

export DEBIAN_FRONTEND=noninteractive
get chromium "${HANDSLIDE_CHROMIUM:-}"
get firefox-esr "${HANDSLIDE_FIREFOX:-}"
