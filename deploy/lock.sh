#!/bin/sh
# Makes the lock files again from pyproject.toml: versions and hashes for Python 3.11 and newer, and no address of an
# index, so that pip takes each file from wherever this machine is set up to look, and refuses any other.
set -u
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd) || exit 1
. "$root/deploy/prepare.sh"
cd "$root" || exit 1
find_python
tool=$(mktemp -d) || stop "No scratch folder can be made: is the disk full?"
trap 'rm -rf "$tool"' EXIT
attempt "$tool/log" "A virtual environment could not be made" "$python" -m venv "$tool/venv"
attempt "$tool/log" "The tool that resolves versions could not be installed" "$tool/venv/bin/python" -m pip install --quiet uv

# lock FILE WORDS...: keeps the versions that still fit; `sh deploy/lock.sh --upgrade` takes the newest.
lock() {
    file=$1
    shift
    attempt "$tool/log" "deploy/$file could not be made" "$tool/venv/bin/uv" pip compile --quiet --universal \
        --python-version 3.11 --generate-hashes --no-header --no-annotate --no-emit-index-url --no-emit-find-links \
        --output-file "deploy/$file" "$@" pyproject.toml
    {
        say "# Made from pyproject.toml by deploy/lock.sh. Hashes, and no addresses."
        grep -v '^#' "deploy/$file"
    } >"$tool/made" && cat "$tool/made" >"deploy/$file"
}

lock requirements.lock "$@"
lock requirements-test.lock --extra test "$@"
