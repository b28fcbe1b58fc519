#!/bin/sh
# Mutation testing of kitshare/rules: each rule is changed in small ways, and the tests of the rules must notice.
#     sh deploy/mutate.sh [MODULE...]     such as: sh deploy/mutate.sh yields heat
# Takes minutes for a module and hours for all, so it is no part of the checks. It works in a scratch folder, and says at
# the end which changes no test noticed; tests/rules/SURVIVORS.md has those that are known, and why they may stay.
set -u
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd) || exit 1
. "$root/deploy/prepare.sh"
cd "$root" || exit 1
make_venv requirements-test.lock 900
scratch=$(mktemp -d) || stop "No scratch folder can be made: is the disk full?"
trap 'rm -rf "$scratch"' EXIT
trap 'exit 130' INT
trap 'exit 143' TERM HUP
attempt "$scratch/log" "A virtual environment could not be made" "$venv/bin/python" -m venv "$scratch/venv"
# The packages of the tests as they stand; the mutator beside them, in no lock, since neither site nor checks run by it.
where='import sysconfig; print(sysconfig.get_path("purelib"))'
"$venv/bin/python" -c "$where" >"$("$scratch/venv/bin/python" -c "$where")/tests.pth" || exit 1
wanted=$("$venv/bin/python" -c 'import tomllib; print(*tomllib.load(open("pyproject.toml", "rb"))["project"]["optional-dependencies"]["mutation"])') || exit 1
# shellcheck disable=SC2086
attempt "$scratch/log" "The mutator could not be installed" "$scratch/venv/bin/python" -m pip install --quiet $wanted
mkdir "$scratch/tree" && tar -cf - kitshare templates tests manage.py pyproject.toml | tar -xf - -C "$scratch/tree" || exit 1
cd "$scratch/tree" || exit 1
KITSHARE_DATA=$scratch
export KITSHARE_DATA
count=$#
while [ "$count" -gt 0 ]; do
    set -- "$@" "kitshare.rules.$1.*"
    shift
    count=$((count - 1))
done
nice -n 10 "$scratch/venv/bin/mutmut" run "$@" || stop "The mutants could not be run."
say ""
say "Noticed by no test:"
survivors=$("$scratch/venv/bin/mutmut" results | sed -n 's/^ *\([^:]*\): survived$/\1/p')
for survivor in $survivors; do
    say "$survivor"
    "$scratch/venv/bin/mutmut" show "$survivor" 2>/dev/null | grep '^[-+][^-+]'
done
[ -n "$survivors" ] || say "none"
