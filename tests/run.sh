#!/bin/sh
# Everything that must hold before a change lands: style, types, contracts, tests.
# Makes its own virtual environment in .dev/, so it needs Python 3.11 or newer and nothing else.
set -eu
cd "$(dirname "$0")/.."

python=${PYTHON:-python3}
"$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' || {
    echo "Python 3.11 or newer is needed; name it with PYTHON=/path/to/python3.12" >&2
    exit 2
}

venv=.dev/venv
if [ ! -x "$venv/bin/python" ]; then
    "$python" -m venv "$venv"
fi
"$venv/bin/python" -m pip install --quiet --disable-pip-version-check \
    --constraint tests/constraints.txt --editable '.[dev,photos,signing]'

echo "== style"
"$venv/bin/ruff" check .
"$venv/bin/ruff" format --check .
"$venv/bin/bandit" -q -c pyproject.toml -r registry migrations
echo "== types"
"$venv/bin/mypy"
echo "== contracts between the rooms"
"$venv/bin/lint-imports"
echo "== tests: registries in files (SQLite)"
"$venv/bin/python" -m pytest -q -n auto "$@"
if sh tests/with_server.sh --found; then
    echo "== tests: registries on a server (PostgreSQL)"
    # What does not touch a registry was run above.
    sh tests/with_server.sh "$venv/bin/python" -m pytest -q -n auto \
        tests/storage tests/services tests/cli tests/field_cases tests/demo tests/faults "$@"
else
    echo "== PostgreSQL is not installed: registries on a server were NOT tried." >&2
fi
