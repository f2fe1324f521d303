"""A registry carried from a server into a file, and from a file to a server: row by row, the same.

What checks and copies a registry reads a file of SQLite's. A registry on a server is laid into such
a file first, as it stands at one moment; so both engines are checked by the same code, a copy of
either can be read anywhere, and a file can be brought to a server and back.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, NamedTuple

from sqlalchemy import Connection

from registry.errors import RegistryDamaged
from registry.storage import postgres, rebuild, search
from registry.storage.engine import door
from registry.storage.migrate import upgrade
from registry.storage.rebuild import quoted

AT_ONCE = 5000
"""How many rows are on the way at a time."""

_LARGE = {"blob": 4, "chain_part": 200}
"""The same where one row may have megabytes, or a thousand recorded rows."""

_TABLES = "SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name"
_MADE_BY_MIGRATING = "alembic_version"


_WHILE_LAID = (
    "journal_mode = DELETE",
    "synchronous = OFF",  # whoever wants to keep the file has it synced when it is whole
    "foreign_keys = OFF",
    "ignore_check_constraints = ON",  # the check of the file names the rows that break one
)


class _Laid(NamedTuple):
    """A table as it is in the file: its columns in order, and those of its key."""

    name: str
    columns: list[str]
    keys: list[str]

    @property
    def listed(self) -> str:
        return ", ".join(map(quoted, self.columns))


def _tables(file: sqlite3.Connection) -> list[_Laid]:
    """The tables of a registry, without the version of its tables and the index of words."""
    laid = []
    for (name,) in file.execute(_TABLES).fetchall():
        if name == _MADE_BY_MIGRATING or name.startswith((search.TABLE, "sqlite_")):
            continue
        rows = file.execute("SELECT name, pk FROM pragma_table_info(?) ORDER BY cid", (name,))
        columns = rows.fetchall()
        keys = [column for column, place in sorted(columns, key=lambda c: c[1]) if place]
        laid.append(_Laid(name, [column for column, _ in columns], keys))
    return laid


def _has_index(file: sqlite3.Connection) -> bool:
    """Whether the tables are of a revision that has an index of words."""
    return (search.TABLE,) in file.execute(_TABLES)


_INDEX = _Laid(
    search.TABLE, [search.TSVECTOR.key, "now", "earlier", "numbers", "shown"], [search.TSVECTOR.key]
)
_WORDS = (
    f"INSERT INTO {search.TABLE} ({search.FTS5.key}, now, earlier, numbers, shown)"  # noqa: S608 - a constant
    " VALUES (?, ?, ?, ?, ?)"
)


class Since(NamedTuple):
    """Where a check begins that does not ask for what was recorded before.

    Attributes:
        entry: the last whose rows are not asked for.
        header: the first whose header is.
    """

    entry: int
    header: int

    def asked(self, table: str) -> str:
        """The rows of a table that the check reads: all, where nothing narrower is known."""
        match table:
            case "chain_entry":
                return f" WHERE seq >= {self.header:d} OR seq < 1"
            case "chain_part":
                return f" WHERE seq > {self.entry:d} OR seq < 1"
            case "blob":
                new = f"SELECT blob_sha256 FROM attachment WHERE seq > {self.entry:d}"  # noqa: S608 - a number
                return f" WHERE blanked OR sha256 IN ({new})"
            case "line":
                return " WHERE FALSE"
        return ""


def to_file(
    connection: Connection, target: Path, revision: str, since: Since | None = None
) -> None:
    """Lay a registry on a server into the new file `target`, as the transaction sees it.

    Args:
        connection: to the server; in no transaction it begins one that sees one moment.
        target: where there is nothing yet.
        revision: of the registry's tables.
        since: leaves out what a check since then does not read.

    Raises:
        RegistryDamaged: a table is not there, or holds what it cannot hold by its own rules.
    """
    rebuild.migrate_file(target, revision)
    if not connection.in_transaction():
        connection.begin()  # the driver, which is asked below, would see each table as it is then
    with _rules_kept(connection), closing(sqlite3.connect(target, isolation_level=None)) as file:
        for setting in _WHILE_LAID:
            file.execute(f"PRAGMA {setting}")
        file.execute("BEGIN")
        for table in _tables(file):
            file.execute(f"DELETE FROM {quoted(table.name)}")  # noqa: S608 - quoted
            marks = ", ".join("?" * len(table.columns))
            file.executemany(
                f"INSERT INTO {quoted(table.name)} ({table.listed}) VALUES ({marks})",  # noqa: S608 - quoted
                _rows(connection, table, since.asked(table.name) if since else ""),
            )
        if since is None and _has_index(file):
            file.executemany(_WORDS, _rows(connection, _INDEX))
        file.execute("COMMIT")


@contextmanager
def _rules_kept(connection: Connection) -> Iterator[None]:
    """Who owns the database can take a rule off a table and break it; a file has them all."""
    from psycopg.errors import UndefinedColumn, UndefinedTable

    unfit = (sqlite3.IntegrityError, sqlite3.ProgrammingError, ValueError, OverflowError)
    try:
        yield
    except (*unfit, UndefinedColumn, UndefinedTable) as error:
        said = str(error).splitlines()[0]
        raise RegistryDamaged(postgres.server_of(connection), said) from error


def _rows(connection: Connection, table: _Laid, where: str = "") -> Iterator[tuple[Any, ...]]:
    driver: Any = connection.connection.driver_connection
    with driver.cursor(name="crossing") as cursor:
        cursor.itersize = _LARGE.get(table.name, AT_ONCE)
        order = ", ".join(map(quoted, table.keys or table.columns[:1]))
        cursor.execute(
            f"SELECT {table.listed} FROM {quoted(table.name)}{where} ORDER BY {order}"  # noqa: S608 - quoted
        )
        yield from cursor


def to_server(source: Path, connection: Connection, revision: str) -> None:
    """Bring the registry in the file `source` into the empty database that `connection` is in.

    Args:
        source: a registry in a file, that nobody is writing.
        connection: to the server, in a transaction that somebody else ends.
        revision: of the registry's tables.
    """
    upgrade(connection, revision)
    driver: Any = connection.connection.driver_connection
    with closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True)) as file:
        for table in _tables(file):
            driver.execute(f"DELETE FROM {quoted(table.name)}")  # noqa: S608 - quoted
            rows = file.execute(f"SELECT {table.listed} FROM {quoted(table.name)}")  # noqa: S608 - quoted
            with (
                driver.cursor() as cursor,
                cursor.copy(f"COPY {quoted(table.name)} ({table.listed}) FROM STDIN") as copy,
            ):
                for row in rows:
                    copy.write_row(row)
            if len(table.keys) == 1:
                postgres.advance(connection, table.name, table.keys[0])
        if _has_index(file):
            with door(connection):
                search.rebuild(connection)
