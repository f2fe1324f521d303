"""Where a test's registries stand: in files, or on the server that ORTET_TEST_SERVER names.

The server is one for tests: every registry gets a database of its own, copied from another with
PostgreSQL's templates and dropped after the test.
"""

from __future__ import annotations

import atexit
import hashlib
import os
import shutil
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import make_url

from registry.location import Location, Server

SERVER = os.environ.get("ORTET_TEST_SERVER")
"""The URL of a database on the server, from which others may be made; None is files."""

in_a_file = pytest.mark.skipif(SERVER is not None, reason="about a registry in a file")
on_a_server = pytest.mark.skipif(SERVER is None, reason="about a registry on a server")

_made: list[str] = []


@cache
def _admin() -> Any:
    import psycopg

    assert SERVER is not None
    connection = psycopg.connect(SERVER, autocommit=True)
    atexit.register(connection.close)
    return connection


def _name(path: Path) -> str:
    return "t" + hashlib.sha256(str(path).encode()).hexdigest()[:20]


def called(path: Path) -> Location:
    """What the registry of a test is called that would be the file `path`."""
    if SERVER is None:
        return path
    url = make_url(SERVER).set(database=_name(path))
    return Server(url.render_as_string(hide_password=False))


def empty(path: Path) -> Location:
    """A place where a registry can be made, and none stands."""
    if SERVER is not None:
        _admin().execute(f"CREATE DATABASE {_name(path)} STRATEGY FILE_COPY")
        _made.append(_name(path))
    return called(path)


def copied(source: Location, path: Path) -> Location:
    """A copy of a registry that nobody has open, as another."""
    if isinstance(source, Path):
        shutil.copy(source, path)
        return path
    name = _name(path)
    if name in _made:
        gone(name)
    _admin().execute(f"CREATE DATABASE {name} TEMPLATE {source.name} STRATEGY FILE_COPY")
    _made.append(name)
    return called(path)


def gone(name: str) -> None:
    """Drop a test's database, whoever still has it open."""
    _admin().execute(f"DROP DATABASE {name} WITH (FORCE)")
    _made.remove(name)


def made() -> tuple[str, ...]:
    """The databases that stand."""
    return tuple(_made)
