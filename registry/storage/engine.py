"""Opening a registry: SQLite in one file, with real transactions and full sync.

SQLite settings after the SQLAlchemy documentation of its pysqlite dialect ("Serializable isolation
/ Savepoints / Transactional DDL"): the driver's own BEGIN is switched off and ours is sent.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import NullPool

from registry.errors import (
    NotARegistry,
    RegistryDamaged,
    RegistryFromNewerProgram,
    RegistryLocked,
    RegistryMissing,
    RegistryNeedsMigrate,
    RegistryReadOnly,
    RegistryUnsupported,
    StorageFull,
)
from registry.storage.revision import HEAD, KNOWN

LOCK_WAIT_MS = 5000
"""How long a writer waits for another before it says so."""

MAGIC = b"SQLite format 3\x00"
WRITING = "writing"
"""The execution option under which a transaction takes the write lock at once."""

DOOR = "recorder_door"
"""The key in a connection's info that is true while rows may be written."""


@dataclass(frozen=True, slots=True)
class Opened:
    """An opened registry: where it is and whether it can be written."""

    path: Path
    engine: Engine
    writable: bool
    immutable: bool


def make_engine(path: Path, *, mode: str = "rw", immutable: bool = False) -> Engine:
    """An engine on the SQLite file at `path`; `mode` is SQLite's own: ro, rw or rwc."""
    query = f"mode={mode}" + ("&immutable=1" if immutable else "")
    location = f"{path.absolute().as_uri()}?{query}"

    def connect() -> sqlite3.Connection:
        return sqlite3.connect(
            location, uri=True, isolation_level=None, timeout=LOCK_WAIT_MS / 1000
        )

    engine = create_engine("sqlite://", creator=connect, poolclass=NullPool)

    @event.listens_for(engine, "connect")
    def settings(connection: Any, record: Any) -> None:
        cursor = connection.cursor()
        if mode != "ro":
            cursor.execute("PRAGMA journal_mode = WAL")
        cursor.execute("PRAGMA foreign_keys = ON")
        cursor.execute("PRAGMA synchronous = FULL")
        cursor.close()

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        writing = connection.get_execution_options().get(WRITING)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")

    @event.listens_for(engine, "before_cursor_execute")
    def guard(connection: Connection, cursor: Any, statement: str, *rest: Any) -> None:
        verb = statement.lstrip()[:7].upper()
        if verb.startswith(("INSERT", "UPDATE", "DELETE", "REPLACE")) and not (
            connection.info.get(DOOR)
        ):
            raise RuntimeError(f"a write past the recorder: {statement[:60]}")

    return engine


def open_registry(path: Path) -> Opened:
    """Open the registry at `path` after checking that it is one that this program can read.

    Raises:
        RegistryMissing: there is nothing at `path`.
        NotARegistry: there is something else.
        RegistryFromNewerProgram, RegistryNeedsMigrate: its tables are of another revision.
        RegistryUnsupported: `path` is a URL of a kind of database that is not served.
    """
    if "://" in str(path) or ":/" in str(path):
        raise RegistryUnsupported(str(path))
    if not path.exists():
        raise RegistryMissing(path)
    _check_magic(path)
    writable = _writable(path)
    immutable = not writable and not Path(f"{path}-wal").exists()
    engine = make_engine(path, mode="rw" if writable else "ro", immutable=immutable)
    revision = _revision(engine, path)
    if revision != HEAD:
        engine.dispose()
        if revision in KNOWN:
            raise RegistryNeedsMigrate(path, revision, HEAD)
        raise RegistryFromNewerProgram(path, revision, HEAD)
    return Opened(path, engine, writable, immutable)


def _check_magic(path: Path) -> None:
    if path.is_dir():
        raise NotARegistry(path)
    try:
        with path.open("rb") as file:
            start = file.read(len(MAGIC))
    except OSError as error:
        raise NotARegistry(path) from error
    if start != MAGIC:
        raise NotARegistry(path)


def _writable(path: Path) -> bool:
    # SQLite writes beside the file as well (the -wal file), so the folder counts too.
    return os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)


def _revision(engine: Engine, path: Path) -> str:
    with translated(path), engine.connect() as connection:
        tables = connection.exec_driver_sql(
            "SELECT count(*) FROM sqlite_master WHERE name IN ('alembic_version', 'chain_head')"
        ).scalar_one()
        if tables != 2:
            raise NotARegistry(path)
        return str(connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar())


@contextmanager
def translated(path: Path) -> Iterator[None]:
    """Turn what SQLite says of a file it cannot use into an error of ours."""
    try:
        yield
    except (DBAPIError, sqlite3.Error) as error:
        said = str(error).lower()
        if "is locked" in said or "is busy" in said:
            raise RegistryLocked(path) from error
        if "readonly" in said or "read-only" in said:
            raise RegistryReadOnly(path) from error
        if "disk is full" in said or "disk i/o error" in said:
            raise StorageFull(path) from error
        if "malformed" in said or "not a database" in said:
            raise RegistryDamaged(path, said.split("\n")[0]) from error
        raise
