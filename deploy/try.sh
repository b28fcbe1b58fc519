#!/bin/sh
# One command from a bare machine to a running site. `sh deploy/try.sh --help` says what it can do.
set -u
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd) || exit 1
. "$root/deploy/prepare.sh"
cd "$root" || exit 1

usage() {
    cat <<'WORDS'
Starts Kitshare on this machine, with invented people, villages and bookings to try it on.

    sh deploy/try.sh [options]

    --port N     listen on port N of 127.0.0.1 (8000 unless told otherwise)
    --fresh      start the data again; what was there is set aside in the data folder, not deleted
    --empty      start without the demonstration: the first page makes your own scheme
    --smoke      set up in a scratch folder, walk once through the main loop, say what was seen, and stop
    --help       show this

KITSHARE_DATA names the data folder (.data unless told otherwise).
It needs Python 3.11 or newer with venv and pip, and the network when it is started for the first time.
WORDS
}

port=8000
fresh=no
empty=no
smoke=no
while [ $# -gt 0 ]; do
    case $1 in
        --port)
            [ $# -ge 2 ] || stop "After --port comes a number, such as 8010."
            port=$2
            shift
            ;;
        --port=*) port=${1#--port=} ;;
        --fresh) fresh=yes ;;
        --empty) empty=yes ;;
        --smoke) smoke=yes ;;
        -h | --help)
            usage
            exit 0
            ;;
        *) stop "There is no option $1: --help shows those there are." ;;
    esac
    shift
done
case $port in
    '' | *[!0-9]* | ??????*) stop "A port is a number from 1 to 65535, and \"$port\" is not." ;;
esac
if [ "$port" -lt 1 ] || [ "$port" -gt 65535 ]; then
    stop "A port is a number from 1 to 65535, and \"$port\" is not."
fi

make_venv requirements.lock 400
py=$venv/bin/python

if [ "$smoke" = yes ]; then
    scratch=$(mktemp -d) || stop "No scratch folder can be made: is the disk full?"
    server=
    # shellcheck disable=SC2329
    clean_up() {
        if [ -n "$server" ]; then
            kill "$server" 2>/dev/null
            wait "$server" 2>/dev/null
        fi
        rm -rf "$scratch"
    }
    trap clean_up EXIT
    trap 'exit 130' INT
    trap 'exit 143' TERM HUP
    unset DATABASE_URL EMAIL_URL REDIS_URL
    KITSHARE_DATA=$scratch
    port=$(free_port)
    KITSHARE_ADDRESS=http://127.0.0.1:$port
else
    KITSHARE_DATA=${KITSHARE_DATA:-$root/.data}
    KITSHARE_ADDRESS=${KITSHARE_ADDRESS:-http://127.0.0.1:$port}
fi
case $KITSHARE_DATA in
    /*) ;;
    *) KITSHARE_DATA=$root/$KITSHARE_DATA ;;
esac
export KITSHARE_DATA KITSHARE_ADDRESS
check_room "$KITSHARE_DATA" 50
log=$KITSHARE_DATA/set-up.log

"$py" -c 'import socket, sys; s = socket.socket(); s.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1); s.bind(("127.0.0.1", int(sys.argv[1])))' "$port" 2>/dev/null ||
    stop "Port $port is in use by another program (or kept for the system): stop that one, or choose another with --port."

if [ "$fresh" = yes ]; then
    [ -z "${DATABASE_URL:-}" ] || stop "--fresh starts the data of a data folder again, and DATABASE_URL names a database elsewhere."
    aside=$KITSHARE_DATA/set-aside-$(date +%Y%m%d-%H%M%S)
    for kept in kitshare.sqlite3 kitshare.sqlite3-wal kitshare.sqlite3-shm kitshare.sqlite3-journal photos; do
        [ -e "$KITSHARE_DATA/$kept" ] || continue
        { mkdir -p "$aside" && mv "$KITSHARE_DATA/$kept" "$aside/"; } || stop "The old data could not be set aside in $aside."
    done
    [ ! -d "$aside" ] || say "The data that was there is now in $aside."
fi

say "Preparing the data in $KITSHARE_DATA ..."
demonstration=--demonstration
[ "$empty" = no ] || demonstration=
# shellcheck disable=SC2086
attempt "$log" "The data could not be prepared" "$py" manage.py set_up $demonstration
schemes=$(printf '%s\n' "$attempted" | tail -n 1)

if [ "$smoke" = yes ]; then
    "$py" manage.py serve --port "$port" >"$scratch/server.log" 2>&1 &
    server=$!
    waited=0
    until "$py" -c 'import socket, sys; socket.create_connection(("127.0.0.1", int(sys.argv[1])), 2)' "$port" 2>/dev/null; do
        waited=$((waited + 1))
        if [ "$waited" -gt 60 ] || ! kill -0 "$server" 2>/dev/null; then
            cat "$scratch/server.log" >&2
            stop "The server did not start."
        fi
        sleep 1
    done
    if "$py" manage.py walk --address "$KITSHARE_ADDRESS"; then
        say "The walk went through."
        exit 0
    fi
    say "The walk did not go through. The server said:" >&2
    cat "$scratch/server.log" >&2
    exit 1
fi

say ""
say "Open $KITSHARE_ADDRESS"
if [ "$schemes" = invented ]; then
    cat <<'WORDS'
Everything in it is invented. Sign in as (the password of each is linnow-apples):
    perpetua@example.org   coordinator: runs the calendar, the villages and the post
    sunniva@example.org    borrower of Sorrelhythe: asks, fetches, brings back
    teodor@example.org     maintenance volunteer: mends, tests, releases
WORDS
elif [ "$schemes" = none ]; then
    say "There is no scheme yet: the first page makes one."
fi
if [ "$empty" = yes ] && [ "$schemes" != none ]; then
    say "There is data already, and --empty left it alone: add --fresh to start again."
fi
say ""
exec "$py" manage.py serve --port "$port"
