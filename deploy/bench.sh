#!/bin/sh
# The measurements of tests/bench, as ratios within one run: pages to a floor page, rules to the same sums in a bare loop.
set -u
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd) || exit 1
. "$root/deploy/prepare.sh"
cd "$root" || exit 1
make_venv requirements-test.lock 900
"$venv/bin/python" -m tests.bench.pages "$@" || exit 1
exec "$venv/bin/python" -m tests.bench.rules
