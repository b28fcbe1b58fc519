# Read by the other scripts of this folder, after they set `root`. Plain POSIX sh.
# It finds a Python, makes .venv, and turns what can go wrong into one sentence.

venv=${root:?}/.venv
attempted=

say() { printf '%s\n' "$*"; }

stop() {
    printf '%s\n' "$*" >&2
    exit 1
}

# find_python: sets $python to the first Python that is new enough.
find_python() {
    python=
    old=
    for candidate in ${KITSHARE_PYTHON:-python3 python3.13 python3.12 python3.11}; do
        command -v "$candidate" >/dev/null 2>&1 || continue
        if "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            python=$candidate
            return
        fi
        old=$("$candidate" -c 'import sys; print("%d.%d" % sys.version_info[:2])' 2>/dev/null)
    done
    if [ -n "$old" ]; then
        stop "Python 3.11 or newer is needed, and this machine has $old: install a newer one, or name it in KITSHARE_PYTHON."
    fi
    stop "Python 3.11 or newer is needed, and no python3 was found: install python3 with venv and pip."
}

# check_room FOLDER MEGABYTES: that the folder can be written, and has room.
check_room() {
    if ! { mkdir -p "$1" && : >"$1/.can-write" && rm -f "$1/.can-write"; } 2>/dev/null; then
        stop "The folder $1 cannot be written: free some room, give yourself the right to write, or choose another."
    fi
    free=$(df -Pk "$1" 2>/dev/null | awk 'NR == 2 {print int($4 / 1024)}')
    if [ -n "$free" ] && [ "$free" -lt "$2" ]; then
        stop "Only $free MB are free in $1, and about $2 MB are needed: free some room, then start again."
    fi
}

# make_venv LOCK: .venv with what a lock file names. A stamp of the file's sum makes the second time quick.
make_venv() {
    lock=$root/deploy/$1
    stamp=$venv/stamp-$1
    sum=$(cksum <"$lock")
    if [ -x "$venv/bin/python" ] && [ "$(cat "$stamp" 2>/dev/null)" = "$sum" ] \
        && "$venv/bin/python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
        return
    fi
    find_python
    "$python" -c 'import venv' 2>/dev/null || stop "This Python has no venv module: install it (on Debian: apt install python3-venv)."
    "$python" -c 'import ensurepip' 2>/dev/null || stop "This Python cannot put pip into a virtual environment: install python3-venv (on Debian: apt install python3-venv)."
    check_room "$venv" "$2"
    if ! "$venv/bin/python" -m pip --version >/dev/null 2>&1; then
        say "Making a virtual environment in .venv ..."
        attempt "$venv.log" "The virtual environment could not be made" "$python" -m venv --clear "$venv"
        "$venv/bin/python" -m pip --version >/dev/null 2>&1 || stop "The virtual environment has no pip: install pip for this Python (on Debian: apt install python3-pip python3-venv)."
    fi
    # Compiled all at once, packages of tests of which half are never imported take half a minute; a server wants them ready.
    compile=--compile
    [ "$1" = requirements.lock ] || compile=--no-compile
    # The lock names everything: asked to work out dependencies as well, pip takes a newer release for an extra, and refuses it.
    say "Installing the packages that deploy/$1 names (the first time takes a minute or two) ..."
    attempt "$venv.log" "The packages could not be installed" \
        "$venv/bin/python" -m pip install --quiet --no-input --disable-pip-version-check --retries 2 --no-deps "$compile" --require-hashes -r "$lock"
    printf '%s\n' "$sum" >"$stamp" || stop "The folder .venv cannot be written: free some room, then start again."
}

# attempt LOG SENTENCE COMMAND...: run quietly, and keep in $attempted what it said; where it fails, say why in one sentence.
attempt() {
    log=$1
    sentence=$2
    shift 2
    if ! (: >"$log") 2>/dev/null; then
        stop "$sentence: $log cannot be written. Free some room, or give yourself the right to write there."
    fi
    if "$@" >"$log" 2>&1; then
        # shellcheck disable=SC2034
        attempted=$(cat "$log")
        rm -f "$log"
        return
    fi
    if grep -Eqi 'no space left|disk is full|disk quota|\[Errno (28|122)\]' "$log"; then
        stop "$sentence: the disk is full. Free some room, then start again."
    fi
    if grep -Eqi 'read-only file system|permission denied|readonly database|unable to open database' "$log"; then
        stop "$sentence: a folder cannot be written. Give yourself the right to write there, then start again."
    fi
    if grep -Eqi 'failed to establish|name resolution|connection (refused|broken|reset|to .* timed out)|network is unreachable|ConnectTimeout|ReadTimeout|no matching distribution|ProxyError' "$log"; then
        stop "$sentence: the package index cannot be reached. Check the network (the full story is in $log), then start again."
    fi
    stop "$sentence: $(grep -v '^ *$' "$log" | tail -n 1) (the full story is in $log)"
}

# free_port: a port on which nobody listens now.
free_port() {
    "$venv/bin/python" -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])'
}

# find_program NAME...: sets $found to the first program that exists, also where Debian keeps PostgreSQL's.
find_program() {
    found=
    for name in "$@"; do
        for place in "$(command -v "$name" 2>/dev/null)" /usr/lib/postgresql/*/bin/"$name" /usr/sbin/"$name"; do
            if [ -x "$place" ]; then
                found=$place
                return 0
            fi
        done
    done
    return 1
}

# start_postgresql: a cluster of its own in $scratch on a free port; whatever PostgreSQL runs on this machine is left alone.
# Sets $postgres_address, and $postgres_stop to the command that stops it.
start_postgresql() {
    find_program initdb || return 1
    bin=$(dirname "$found")
    as=
    if [ "$(id -u)" = 0 ]; then
        mkdir "${scratch:?}/postgresql"
        chown postgres "$scratch/postgresql" 2>/dev/null || return 1
        as="setpriv --reuid=postgres --regid=postgres --clear-groups"
    fi
    port=$(free_port)
    # shellcheck disable=SC2086
    $as "$bin/initdb" -D "$scratch/postgresql/data" -U kitshare -A trust -E UTF8 >"$scratch/initdb.log" 2>&1 || return 1
    # shellcheck disable=SC2086
    $as "$bin/pg_ctl" -D "$scratch/postgresql/data" -w -l "$scratch/postgresql/log" \
        -o "-p $port -c listen_addresses=127.0.0.1 -c unix_socket_directories='' -c fsync=off -c synchronous_commit=off -c full_page_writes=off -c jit=off -c max_connections=200" start >/dev/null || return 1
    # shellcheck disable=SC2034
    postgres_stop="$as '$bin/pg_ctl' -D '$scratch/postgresql/data' -m immediate stop"
    # shellcheck disable=SC2034
    postgres_address=postgres://kitshare@127.0.0.1:$port/postgres
}
