#!/bin/sh
# The measurements of tests/bench: pages as ratios to a floor page, with their query counts.
set -u
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd) || exit 1
. "$root/deploy/prepare.sh"
cd "$root" || exit 1
make_venv requirements-test.lock 900
exec "$venv/bin/python" -m pytest tests/bench -s "$@"
