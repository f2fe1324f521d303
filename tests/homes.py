"""Where a test's registries stand: in files, or on the server that ORTET_TEST_SERVER names.

The server is one for tests: every registry gets a database of its own, copied from another with
PostgreSQL's templates and dropped after the test.
"""

from __future__ import annotations

import atexit
import hashlib
import os
import re
import shutil
import sqlite3
from contextlib import closing
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import make_url

from registry.location import Location, Server
from registry.storage.files import SIDE_FILES
from registry.storage.postgres import in_its_words

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


def copied(source: Location, target: Location) -> Location:
    """A copy of a registry that nobody has open, as another, which makes room for it."""
    if isinstance(source, Path):
        assert isinstance(target, Path)
        shutil.copy(source, target)
        for side in SIDE_FILES:
            Path(f"{target}{side}").unlink(missing_ok=True)
        return target
    server = called(target) if isinstance(target, Path) else target
    assert isinstance(server, Server)
    if server.name in _made:
        gone(server.name)
    _admin().execute(f"CREATE DATABASE {server.name} TEMPLATE {source.name} STRATEGY FILE_COPY")
    _made.append(server.name)
    return server


Statement = str | tuple[str, tuple[Any, ...]]
"""What SQLite reads, alone or with the values of its question marks."""


def edit(location: Location, *statements: Statement) -> None:
    """Change a registry behind the program's back, as its owner can; its keys are not looked at."""
    given = [(each, ()) if isinstance(each, str) else each for each in statements]
    if isinstance(location, Path):
        with closing(sqlite3.connect(location)) as connection, connection:
            for statement, values in given:
                connection.execute(statement, values)
        return
    import psycopg

    with psycopg.connect(location.url) as server:
        server.execute("SET session_replication_role = replica")  # its keys are triggers
        for statement, values in given:
            words = re.sub(r"\bx'([0-9a-f]*)'", r"decode('\1', 'hex')", in_its_words(statement))
            server.execute(words.replace("?", "%s").encode(), values or None)


def gone(name: str) -> None:
    """Drop a test's database, whoever still has it open."""
    _admin().execute(f"DROP DATABASE {name} WITH (FORCE)")
    _made.remove(name)


def dropped(location: Location) -> None:
    """Drop the database of a registry, if it has one, before its test is through."""
    if isinstance(location, Server):
        gone(location.name)


def made() -> tuple[str, ...]:
    """The databases that stand."""
    return tuple(_made)
