#!/bin/sh
# Installs Debian's chromium and Firefox for the browser tests, where that needs nobody's password.
# Without a browser its tests are skipped and say so. With the chromium that has no windows, where there
# is one, those of pages are done sooner.
set -eu

get() {
    package=$1
    chosen=$2
    without=${3:-tests in $package will be skipped}
    [ -z "$chosen" ] || return 0
    if command -v "$package" >/dev/null 2>&1 || ! command -v apt-get >/dev/null 2>&1; then
        return 0
    fi
    if [ "$(id -u)" -ne 0 ]; then
        echo "$without: install it (sudo apt-get install $package)" >&2
        return 0
    fi
    apt-get install -y -qq --no-install-recommends "$package" >/dev/null 2>&1 ||
        { apt-get update -qq && apt-get install -y -qq --no-install-recommends "$package"; } >/dev/null 2>&1 ||
        echo "$without: it couldn't be installed" >&2
}

export DEBIAN_FRONTEND=noninteractive
get chromium "${HANDSLIDE_CHROMIUM:-}"
if apt-cache show chromium-headless-shell >/dev/null 2>&1; then
    get chromium-headless-shell "${HANDSLIDE_CHROMIUM:-}" "tests of pages take longer"
fi
get firefox-esr "${HANDSLIDE_FIREFOX:-}"
