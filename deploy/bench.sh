#!/bin/sh
# The measurements of tests/bench, as ratios within one run: pages to a floor page, rules to the same sums in a bare loop,
# queries over a long book to the same over a short one; and the rush at a season's opening, to the bare view.
set -u
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd) || exit 1
. "$root/deploy/prepare.sh"
cd "$root" || exit 1
make_venv requirements-test.lock 900
"$venv/bin/python" -m tests.bench.pages "$@" || exit 1
"$venv/bin/python" -m tests.bench.rules || exit 1

if [ -z "${DATABASE_URL:-}" ]; then
    scratch=$(mktemp -d) || stop "No scratch folder can be made: is the disk full?"
    chmod 755 "$scratch"
    postgres_stop=
    # shellcheck disable=SC2329
    clean_up() {
        [ -z "$postgres_stop" ] || eval "$postgres_stop" >/dev/null 2>&1
        rm -rf "$scratch"
    }
    trap clean_up EXIT
    trap 'exit 130' INT
    trap 'exit 143' TERM HUP
    if start_postgresql; then
        DATABASE_URL=$postgres_address
        export DATABASE_URL
    fi
fi
"$venv/bin/python" -m tests.bench.days || exit 1
"$venv/bin/python" -m tests.bench.rush
