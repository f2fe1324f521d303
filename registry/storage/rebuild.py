"""The tables made anew from the chain, to be compared with those that stand.

The recorded rows are played into a temporary file whose tables the same migrations make, each
migration at the point of the chain where it was first run. Both files are then walked side by side
along their primary keys, so that the memory needed does not grow with the registry.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Table

from registry.storage import chain
from registry.storage.base import Base
from registry.storage.engine import make_engine
from registry.storage.migrate import upgrade
from registry.storage.revision import HEAD

Convert = Callable[[Any], Any]


@dataclass(frozen=True, slots=True)
class _TableNamed:
    """A table as an entry of the chain names it, ready to be played."""

    keys: list[str]
    insert: str
    converters: list[Convert | None]


def migrate_file(path: Path, revision: str) -> None:
    """Bring the file at `path` to `revision`; it is made if it is not there."""
    upgrade(make_engine(path, mode="rwc"), revision)


class Rebuild:
    """A temporary registry that the chain is played into.

    Attributes:
        rows: how many rows were added or changed so far.
    """

    def __init__(self, path: Path) -> None:
        self.rows = 0
        self._path = path
        self._revision: str | None = None
        self._connection: sqlite3.Connection | None = None
        self._types: dict[str, dict[str, Convert | None]] = {}
        self._named: dict[str, _TableNamed] = {}

    def begin_entry(self, revision: str) -> None:
        """Have the tables at `revision`, which the entry that follows was recorded under."""
        self._named.clear()
        if revision != self._revision:
            self.close()
            migrate_file(self._path, revision)
            self._revision = revision
            self._connection = self._open()

    def finish(self) -> None:
        """Bring the tables to the revision that this program reads, and let go of the file."""
        self.begin_entry(HEAD)
        self.close()

    def close(self) -> None:
        """Let go of the file, keeping what was played."""
        if self._connection is not None:
            self._connection.commit()
            self._connection.close()
            self._connection = None

    def _open(self) -> sqlite3.Connection:
        connection = sqlite3.connect(self._path)
        # Nothing is lost if this file is; without foreign keys the order of rows is free.
        for setting in ("journal_mode = MEMORY", "synchronous = OFF", "foreign_keys = OFF"):
            connection.execute(f"PRAGMA {setting}")
        self._types = {}
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'"):
            declared = connection.execute("SELECT name, type FROM pragma_table_info(?)", (name,))
            self._types[name] = {column: _converter(kind) for column, kind in declared}
        return connection

    def play(self, lines: Iterator[chain.Row]) -> Iterator[str]:
        """Play the lines of one part; yields what SQLite says of each that cannot be."""
        connection = self._connection
        assert connection is not None  # noqa: S101 - begin_entry opened it
        statement, waiting = "", list[list[Any]]()
        for mark, table, first, *rest in lines:
            if mark == "=":
                self._named[table] = self._name(table, first, rest[0])
                continue
            if table not in self._named:
                yield f"{table} is not named"
                continue
            self.rows += 1
            named = self._named[table]
            if mark == "+":
                next_statement, values = named.insert, _stored(named.converters, first)
            else:
                next_statement, values = self._update(table, named.keys, first, rest[0])
            if next_statement != statement:
                yield from _send(connection, statement, waiting)
                statement, waiting = next_statement, []
            waiting.append(values)
        yield from _send(connection, statement, waiting)
        connection.commit()

    def keep(self, table: str, columns: list[str], row: tuple[Any, ...]) -> None:
        """Have a row, with values as SQLite keeps them, unless one of its key is there."""
        assert self._connection is not None  # noqa: S101 - begin_entry opened it
        names, marks = ", ".join(map(quoted, columns)), ", ".join("?" * len(columns))
        self._connection.execute(
            f"INSERT OR IGNORE INTO {quoted(table)} ({names}) VALUES ({marks})",  # noqa: S608 - quoted
            row,
        )

    def _name(self, table: str, keys: list[str], columns: list[str]) -> _TableNamed:
        names = ", ".join(map(quoted, columns))
        marks = ", ".join("?" * len(columns))
        insert = f"INSERT INTO {quoted(table)} ({names}) VALUES ({marks})"  # noqa: S608 - quoted
        return _TableNamed(keys, insert, self._converters(table, columns))

    def _update(
        self, table: str, keys: list[str], key: list[Any], changes: dict[str, Any]
    ) -> tuple[str, list[Any]]:
        sets = ", ".join(f"{quoted(column)} = ?" for column in changes)
        where = " AND ".join(f"{quoted(column)} = ?" for column in keys)
        statement = f"UPDATE {quoted(table)} SET {sets} WHERE {where}"  # noqa: S608 - quoted
        converters = self._converters(table, [*changes, *keys])
        return statement, _stored(converters, [*changes.values(), *key])

    def _converters(self, table: str, columns: list[str]) -> list[Convert | None]:
        types = self._types.get(table, {})
        return [types.get(column) for column in columns]


def _stored(converters: list[Convert | None], given: list[Any]) -> list[Any]:
    """Values of the chain as SQLite keeps them."""
    return [
        value if convert is None or value is None else convert(value)
        for convert, value in zip(converters, given, strict=True)
    ]


def _send(connection: sqlite3.Connection, statement: str, rows: list[list[Any]]) -> Iterator[str]:
    """Run a statement for each row, going past those that cannot be."""
    while rows:
        before = connection.total_changes
        try:
            connection.executemany(statement, rows)
        except sqlite3.Error as error:
            yield str(error)
            rows = rows[connection.total_changes - before + 1 :]
        else:
            if missed := len(rows) - (connection.total_changes - before):
                yield f"{missed} changed rows were never added"
            return


def _converter(declared: str) -> Convert | None:
    """From a value as the chain has it to one as SQLite keeps it; None where it is the same."""
    if declared.startswith("BLOB"):
        return bytes.fromhex
    return chain.canonical if declared == "JSON" else None


def quoted(name: str) -> str:
    """A name for SQL."""
    return '"' + name.replace('"', '""') + '"'


@dataclass(frozen=True, slots=True)
class Difference:
    """A row that is not as the chain has it: by key, with either side as {column: value}.

    `stands` is None for a row that is gone, `recorded` for one that was never recorded.
    """

    table: Table
    key: tuple[Any, ...]
    stands: dict[str, Any] | None
    recorded: dict[str, Any] | None


def compare(connection: sqlite3.Connection, since: int = 0) -> Iterator[Difference]:
    """Walk every table that the chain holds in `main` and in the attached `rebuilt`.

    With `since`, `rebuilt` holds what was touched after that entry: of the other rows only those
    are looked at that say themselves that they were recorded or taken back after it.
    """
    for table in Base.metadata.sorted_tables:
        columns = [column.name for column in chain.chained_columns(table)]
        if columns:
            yield from _compare(connection, table, columns, since)


def _compare(
    connection: sqlite3.Connection, table: Table, columns: list[str], since: int
) -> Iterator[Difference]:
    keys = [column.name for column in table.primary_key]
    name = quoted(table.name)
    same_key = " AND ".join(f"a.{quoted(key)} = b.{quoted(key)}" for key in keys)
    differs = " OR ".join(f"a.{quoted(column)} IS NOT b.{quoted(column)}" for column in columns)
    a, b = (", ".join(f"{side}.{quoted(column)}" for column in columns) for side in "ab")
    key_of = {key: columns.index(key) for key in keys}
    added_or_changed = connection.execute(
        f"SELECT b.{quoted(keys[0])} IS NULL, {a}, {b} FROM main.{name} a "  # noqa: S608 - quoted
        f"LEFT JOIN rebuilt.{name} b ON {same_key} WHERE ({differs}){_newer(keys, columns, since)}"
    )
    for added, *values in added_or_changed:
        stands = dict(zip(columns, values[: len(columns)], strict=True))
        recorded = dict(zip(columns, values[len(columns) :], strict=True))
        key = tuple(values[place] for place in key_of.values())
        if added and since and stands.get("seq", since + 1) <= since:
            added, recorded = False, stands | {"void_seq": None}  # an old row, taken back since
        yield Difference(table, key, stands, None if added else recorded)
    gone = connection.execute(
        f"SELECT {b} FROM rebuilt.{name} b "  # noqa: S608 - quoted
        f"LEFT JOIN main.{name} a ON {same_key} WHERE a.{quoted(keys[0])} IS NULL"
    )
    for values in gone:
        key = tuple(values[place] for place in key_of.values())
        yield Difference(table, key, None, dict(zip(columns, values, strict=True)))


def _newer(keys: list[str], columns: list[str], since: int) -> str:
    """The condition that a row was played, or says that it is of an entry after `since`."""
    if not since:
        return ""
    says = [f"a.{column} > {since}" for column in ("seq", "void_seq") if column in columns]
    return f" AND ({' OR '.join([f'b.{quoted(keys[0])} IS NOT NULL', *says])})"
