#!/bin/sh
# Write locked/: what constraints.txt pins, and the build backend of pyproject.toml, with the hashes
# of all their files. Neither handslide itself nor any host is in there.
set -eu
cd "$(dirname "$0")/.."
mkdir -p locked
compile() {
    "$1" --quiet --generate-hashes --no-emit-index-url --no-emit-find-links \
        --no-emit-trusted-host --no-header --no-annotate --strip-extras --allow-unsafe \
        --output-file "$2" $3
}
compile "$1" locked/requirements.txt "-c constraints.txt pyproject.toml"
backend=$(sed -n 's/^requires = \["\(.*\)"\]$/\1/p' pyproject.toml)
input=$(mktemp)
trap 'rm -f "$input"' EXIT
echo "$backend" > "$input"
compile "$1" locked/build.txt "$input"
