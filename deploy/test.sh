#!/bin/sh
# Every check of the project, cheapest first. With arguments: only pytest, with these.
# With CI=true it installs the engines and the browser it lacks, and skips no test; coverage, which doubles the time of the
# tests on SQLite and fails no run, is then taken only if KITSHARE_COVERAGE=yes.
set -u
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd) || exit 1
. "$root/deploy/prepare.sh"
cd "$root" || exit 1

ci=no
coverage=yes
[ "${CI:-}" = true ] && ci=yes && coverage=${KITSHARE_COVERAGE:-no}

install_what_is_missing() {
    missing=
    python3 -c 'import venv, ensurepip' 2>/dev/null || missing="$missing python3 python3-venv"
    find_program initdb || missing="$missing postgresql"
    find_program redis-server || missing="$missing redis-server"
    find_program chromium chromium-browser google-chrome || missing="$missing chromium"
    find_program node || missing="$missing nodejs"
    find_program npm || missing="$missing npm"
    python3 -c 'import ctypes.util, sys; sys.exit(not ctypes.util.find_library("ical"))' || missing="$missing libical3"
    [ -n "$missing" ] || return 0
    command -v apt-get >/dev/null 2>&1 || stop "These are missing, and there is no apt-get to install them with:$missing"
    sudo=
    if [ "$(id -u)" != 0 ]; then
        sudo=sudo
        command -v sudo >/dev/null 2>&1 || stop "These are missing, and only root may install them:$missing"
    fi
    say "Installing$missing ..."
    # shellcheck disable=SC2086
    if ! $sudo apt-get update -qq >/dev/null ||
        ! $sudo env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing >/dev/null </dev/null; then
        stop "apt-get could not install$missing."
    fi
}

[ "$ci" = yes ] && install_what_is_missing
# What each process compiled anew would be a second of every test that starts one.
unset PYTHONDONTWRITEBYTECODE 2>/dev/null
make_venv requirements-test.lock 900
PATH=$venv/bin:$PATH
export PATH
unset EMAIL_URL KITSHARE_ADDRESS KITSHARE_HOSTS KITSHARE_DEBUG 2>/dev/null

if [ $# -gt 0 ]; then
    exec python -m pytest "$@"
fi

scratch=$(mktemp -d) || stop "No scratch folder can be made: is the disk full?"
# PostgreSQL will not run as root: its own user must get through to the folder.
chmod 755 "$scratch"
postgres_stop=
redis=
# shellcheck disable=SC2329
clean_up() {
    [ -z "$postgres_stop" ] || eval "$postgres_stop" >/dev/null 2>&1
    if [ -n "$redis" ]; then
        kill "$redis" 2>/dev/null
        wait "$redis" 2>/dev/null
    fi
    rm -rf "$scratch"
}
trap clean_up EXIT
trap 'exit 130' INT
trap 'exit 143' TERM HUP

export KITSHARE_DATA="$scratch/data"
mkdir -p "$KITSHARE_DATA"
export COVERAGE_FILE="$scratch/coverage"
unset DATABASE_URL REDIS_URL 2>/dev/null
began=$(date +%s)
not_run=

# check WORDS COMMAND...: run one check; the first that fails ends the run.
check() {
    words=$1
    shift
    say "== $words ($(($(date +%s) - began)) s)"
    "$@" || stop "Failed: $words"
}

deployment_check() {
    env KITSHARE_ADDRESS=https://kit.example.org KITSHARE_HOSTS=kit.example.org \
        KITSHARE_SECRET_KEY="$(python -c 'import secrets; print(secrets.token_urlsafe(60))')" \
        python manage.py check --deploy --database default --fail-level WARNING
}

start_redis() {
    find_program redis-server || return 1
    port=$(free_port)
    "$found" --port "$port" --bind 127.0.0.1 --save '' --appendonly no --dir "$scratch" >"$scratch/redis.log" 2>&1 &
    redis=$!
    redis_address=redis://127.0.0.1:$port/0
}

check "ruff format" ruff format --check --quiet
check "ruff" ruff check --quiet
check "templates" djlint templates --lint --quiet
check "imports point down" lint-imports
check "types" mypy kitshare
check "deployment" deployment_check
check "migrations" python manage.py makemigrations --check
counted=
[ "$coverage" = no ] || counted="--cov --cov-report="
# shellcheck disable=SC2086
check "tests on SQLite" env KITSHARE_PAGES_ONCE="$ci" python -m pytest -q -n 2 --dist worksteal $counted \
    -m "not browser and not needs_postgresql and not needs_redis"

if start_postgresql && start_redis; then
    check "tests on PostgreSQL with Redis" env DATABASE_URL="$postgres_address" REDIS_URL="$redis_address" \
        KITSHARE_PAGES_ONCE="$ci" \
        python -m pytest -q -n 2 --dist worksteal -m "not browser"
elif [ "$ci" = yes ]; then
    cat "$scratch/initdb.log" "$scratch/postgresql/log" 2>/dev/null >&2
    stop "Failed: PostgreSQL or Redis could not be started."
else
    not_run="$not_run
  - the tests on PostgreSQL with Redis: the programs initdb and redis-server were not found, or did not start"
fi

if find_program chromium chromium-browser google-chrome; then
    check "browser" env KITSHARE_CHROMIUM="$found" python -m pytest -q -n 2 --dist worksteal -m browser
elif [ "$ci" = yes ]; then
    stop "Failed: no Chromium was found for the browser tests."
else
    not_run="$not_run
  - the browser tests: no Chromium was found"
fi

if [ "$coverage" != no ]; then
    say "== coverage, with branches"
    python -m coverage report --skip-covered --skip-empty | tail -n 40
fi

if [ -n "$not_run" ]; then
    say ""
    say "All that was run is well. Not run on this machine:$not_run"
else
    say "All is well ($(($(date +%s) - began)) s)."
fi
