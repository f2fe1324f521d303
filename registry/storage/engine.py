"""Opening a registry: SQLite in one file, with real transactions and full sync; or PostgreSQL.

What concerns the other engine alone is in `registry.storage.postgres`, loaded when it is needed.

SQLite settings after the SQLAlchemy documentation of its pysqlite dialect ("Serializable isolation
/ Savepoints / Transactional DDL"): the driver's own BEGIN is switched off and ours is sent.
"""

from __future__ import annotations

import os
import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, Table, create_engine, event
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session
from sqlalchemy.pool import NullPool

from registry.errors import (
    FileUnreadable,
    NotARegistry,
    RegistryDamaged,
    RegistryError,
    RegistryFromNewerProgram,
    RegistryLocked,
    RegistryMissing,
    RegistryNeedsMigrate,
    RegistryReadOnly,
    RegistryUnsupported,
    StorageFull,
)
from registry.location import Location, Server
from registry.storage.chain import canonical
from registry.storage.revision import HEAD, KNOWN

LOCK_WAIT_MS = 5000
"""How long a writer waits for another before it says so."""

MAGIC = b"SQLite format 3\x00"
"""How such a file begins (SQLite, Database File Format, section 1.3.1)."""

WRITING = "writing"
"""The execution option under which a transaction takes the write lock at once."""

DOOR = "recorder_door"
"""The key in a connection's info that is true while rows may be written."""

_URL = re.compile(r"[a-z][a-z0-9+.]+:/", re.IGNORECASE)

_WRITES = re.compile(
    r"""
    \s*(--[^\n]*\n\s*|/\*.*?\*/\s*)*           # comments may come first
    ( (INSERT|UPDATE|DELETE|REPLACE|CREATE|DROP|ALTER)\b
    | WITH\b.*\b(INSERT\s+INTO|REPLACE\s+INTO|DELETE\s+FROM|UPDATE\s+\S+\s+SET)\b )
    """,
    re.IGNORECASE | re.DOTALL | re.VERBOSE,
)


@dataclass(frozen=True, slots=True)
class Opened:
    """An opened registry: where it is, the revision of its tables, whether it can be written.

    `immutable` says that it is read without looking out for writers, since SQLite could not make
    its side files beside it.
    """

    path: Location
    engine: Engine
    revision: str
    writable: bool
    immutable: bool


def make_engine(path: Location, *, mode: str = "rw", immutable: bool = False) -> Engine:
    """An engine on the registry at `path`.

    Args:
        path: a file, or a server.
        mode: of a file, as SQLite has them: ro, rw or rwc.
        immutable: read a file without looking out for writers.

    Raises:
        RegistryUnsupported, ServerSupportMissing: the server cannot be used from here.
    """
    if isinstance(path, Server):
        from registry.storage import postgres

        engine = postgres.make_engine(path, WRITING)
        event.listen(engine, "before_cursor_execute", _guard)
        return engine
    query = f"mode={mode}" + ("&immutable=1" if immutable else "")
    location = f"{path.absolute().as_uri()}?{query}"

    def connect() -> sqlite3.Connection:
        return sqlite3.connect(
            location, uri=True, isolation_level=None, timeout=LOCK_WAIT_MS / 1000
        )

    # The chain and the tables hold the same text for a JSON value, so that they can be compared.
    engine = create_engine(
        "sqlite://", creator=connect, poolclass=NullPool, json_serializer=canonical
    )
    event.listen(engine, "connect", _settings if mode == "ro" else _settings_of_a_writer)
    event.listen(engine, "begin", _begin)
    event.listen(engine, "before_cursor_execute", _guard)
    return engine


def _settings(connection: Any, record: Any) -> None:
    connection.execute("PRAGMA foreign_keys = ON")


def _settings_of_a_writer(connection: Any, record: Any) -> None:
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    _settings(connection, record)


def _begin(connection: Connection) -> None:
    if connection.get_execution_options().get(WRITING):
        connection.exec_driver_sql("BEGIN IMMEDIATE")
        # The unit of work orders rows by relationships, of which there are none; so a row may come
        # a moment before its parent. SQLite looks at the commit, and forgets the setting then.
        connection.exec_driver_sql("PRAGMA defer_foreign_keys = ON")
    else:
        connection.exec_driver_sql("BEGIN")


def _guard(connection: Connection, cursor: Any, statement: str, *rest: Any) -> None:
    """Refuse a write that the chain would not hold: a slip in this program, not an attack."""
    if not connection.info.get(DOOR) and _writes(statement):
        raise RuntimeError(f"a write past the recorder: {statement[:60]}")


@lru_cache(maxsize=1024)
def _writes(statement: str) -> bool:
    """Whether a statement changes rows or tables; most are put again and again."""
    return _WRITES.match(statement) is not None


@contextmanager
def door(connection: Connection) -> Iterator[Connection]:
    """Let rows be written over `connection`, for the recorder and for migrations."""
    before = connection.info.get(DOOR, False)
    connection.info[DOOR] = True
    try:
        yield connection
    finally:
        connection.info[DOOR] = before


def keys_given(connection: Connection, table: Table) -> None:
    """Have the database count on from keys that rows of `table` were given by us; SQLite does."""
    if connection.dialect.name == "postgresql":
        from registry.storage import postgres

        for column in table.primary_key:
            if column is table.autoincrement_column:
                postgres.advance(connection, table.name, column.name)


def stands(path: Location) -> bool:
    """Whether anything stands where a registry is to be made.

    Raises:
        RegistryMissing, ServerSilent: there is no such database, or the server does not answer.
    """
    if not isinstance(path, Server):
        return path.exists()
    from registry.storage import postgres

    with translated(path), make_engine(path).connect() as connection:
        return postgres.has_tables(connection)


def open_registry(path: Location, *, any_revision: bool = False) -> Opened:
    """Open the registry at `path` after checking that it is one that this program can read.

    Args:
        path: the file, or the server.
        any_revision: open one of an older revision as well, to copy or migrate it.

    Raises:
        RegistryMissing: there is nothing at `path`.
        NotARegistry: there is something else.
        RegistryFromNewerProgram: its tables are of a revision that this program does not know.
        RegistryNeedsMigrate: its tables are of an older revision.
        RegistryUnsupported: `path` is a URL of a kind of database that is not served.
        ServerSilent: the server does not answer.
    """
    found = _on_a_server(path) if isinstance(path, Server) else _in_a_file(path)
    revision = found.revision
    if revision not in KNOWN:
        raise RegistryFromNewerProgram(path, revision, HEAD)
    if revision != HEAD and not any_revision:
        raise RegistryNeedsMigrate(path, revision, HEAD)
    return found


def _in_a_file(path: Path) -> Opened:
    if _URL.match(str(path)):
        raise RegistryUnsupported(str(path))
    _check_magic(path)
    writable = _writable(path)
    immutable = not writable and not Path(f"{path}-wal").exists()
    engine = make_engine(path, mode="rw" if writable else "ro", immutable=immutable)
    return Opened(path, engine, _revision(engine, path), writable, immutable)


def _on_a_server(server: Server) -> Opened:
    from registry.storage import postgres

    engine = make_engine(server)
    with translated(server):
        revision, writable = postgres.look(engine)
    if revision is None:
        raise RegistryMissing(server)
    return Opened(server, engine, revision, writable, immutable=False)


def _check_magic(path: Path) -> None:
    try:
        with path.open("rb") as file:
            start = file.read(len(MAGIC))
    except (FileNotFoundError, NotADirectoryError) as error:
        raise RegistryMissing(path) from error
    except IsADirectoryError as error:
        raise NotARegistry(path) from error
    except OSError as error:
        raise FileUnreadable(path, error.strerror or str(error)) from error
    if start != MAGIC:
        raise NotARegistry(path)


def _writable(path: Path) -> bool:
    # SQLite writes beside the file as well (the -wal file), so the folder counts too.
    return os.access(path, os.W_OK) and os.access(path.absolute().parent, os.W_OK)


def _revision(engine: Engine, path: Path) -> str:
    with translated(path), engine.connect() as connection:
        tables = connection.exec_driver_sql(
            "SELECT count(*) FROM sqlite_master WHERE name IN ('alembic_version', 'chain_head')"
        ).scalar_one()
        if tables != 2:
            raise NotARegistry(path)
        found = (
            connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalars().all()
        )
    if len(found) != 1:
        raise RegistryDamaged(path, f"it names {len(found)} revisions of its tables, and not one")
    return str(found[0])


@contextmanager
def translated(path: Location) -> Iterator[None]:
    """Turn what the engine says of a registry that it cannot use into an error of ours."""
    try:
        yield
    except RegistryError:
        raise
    except Exception as error:
        found = _meaning(path, error)
        if found is None:
            raise
        raise found from error


def _meaning(path: Location, error: Exception) -> Exception | None:
    if isinstance(path, Server):
        from registry.storage import postgres

        return postgres.problem(path, error)
    cause = error.orig if isinstance(error, DBAPIError) else error
    return _problem(path, cause) if isinstance(cause, sqlite3.Error) else None


def _taken_off(said: str) -> bool:
    """SQLite misses a table or column that a registry has: it was dropped behind our back."""
    what, _, name = said.rpartition(": ")
    if what not in ("no such table", "no such column"):
        return False
    from registry.storage.models import Registry

    bare = name.rpartition(".")[2]
    return any(
        bare == table.name or bare in table.columns for table in Registry.metadata.sorted_tables
    )


def _problem(path: Path, error: BaseException | None) -> Exception | None:
    # The primary result code is the low byte (SQLite, Result and Error Codes, "Primary Result
    # Codes versus Extended Result Codes").
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    match code:
        case sqlite3.SQLITE_BUSY | sqlite3.SQLITE_LOCKED:
            return RegistryLocked(path)
        case sqlite3.SQLITE_READONLY:
            return RegistryReadOnly(path)
        case sqlite3.SQLITE_FULL | sqlite3.SQLITE_IOERR:
            return StorageFull(path)
        case sqlite3.SQLITE_CORRUPT | sqlite3.SQLITE_NOTADB:
            return RegistryDamaged(path, str(error))
        case sqlite3.SQLITE_CANTOPEN:
            return RegistryMissing(path)
        case sqlite3.SQLITE_ERROR if _taken_off(str(error)) or "fts5" in str(error):
            return RegistryDamaged(path, str(error))
        case 0 if "UTF-8" in str(error):  # the driver's own, of a text that is none
            return RegistryDamaged(path, str(error))
        case _:
            return None


@contextmanager
def reading(bind: Engine | Connection, path: Location) -> Iterator[Session]:
    """A session for answers: one consistent view, nothing written."""
    with (
        translated(path),
        Session(bind, autoflush=False, join_transaction_mode="create_savepoint") as session,
    ):
        yield session
