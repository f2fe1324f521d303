#!/bin/sh
# Runs a command beside a PostgreSQL server of its own, which its databases are made on and which
# goes with it: on a socket in a temporary folder, open to nobody else, kept in no file that lasts.
#   sh tests/with_server.sh COMMAND ...      the command finds its URL in ORTET_TEST_SERVER
#   sh tests/with_server.sh --durable COMMAND ...   the same, on the disk and synced, to be measured
#   sh tests/with_server.sh --found          exit code 0 if PostgreSQL's programs are installed
set -eu

bin=
for folder in /usr/lib/postgresql/*/bin /usr/local/pgsql/bin /opt/homebrew/bin; do
    [ -x "$folder/initdb" ] && bin=$folder
done
if [ -z "$bin" ] && command -v initdb >/dev/null 2>&1; then
    bin=$(dirname "$(command -v initdb)")
fi
if [ "${1:-}" = --found ]; then
    [ -n "$bin" ]
    exit
fi
[ -n "$bin" ] || { echo "PostgreSQL's initdb was not found." >&2; exit 2; }

# In memory where there is such a folder: a database is made for nearly every test. What is lost
# with the machine need not reach its disk.
settings="-c fsync=off -c synchronous_commit=off -c full_page_writes=off"
if [ "${1:-}" = --durable ]; then
    shift
    settings=
    home=$(mktemp -d)
elif [ -z "${TMPDIR:-}" ] && [ -d /dev/shm ] && [ -w /dev/shm ]; then
    home=$(mktemp -d -p /dev/shm)
else
    home=$(mktemp -d)
fi
as_owner() { # the server will not run as root
    if [ "$(id -u)" = 0 ]; then
        (cd "$home" && runuser -u postgres -- "$@")
    else
        "$@"
    fi
}
stop() {
    as_owner "$bin/pg_ctl" -D "$home/data" -m immediate stop >/dev/null 2>&1 || true
    rm -rf "$home"
}
trap stop EXIT
trap 'exit 130' INT TERM
if [ "$(id -u)" = 0 ]; then chown postgres "$home"; fi

as_owner "$bin/initdb" -D "$home/data" -A trust -U ortet --locale=C --encoding=UTF8 >"$home/log"
as_owner "$bin/pg_ctl" -D "$home/data" -l "$home/server.log" -w start >/dev/null -o "\
    -k $home -c listen_addresses='' -c max_connections=200 $settings"

ORTET_TEST_SERVER="postgresql://ortet@/postgres?host=$home" "$@"
