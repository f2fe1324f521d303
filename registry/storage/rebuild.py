"""The tables made anew from the chain, to be compared with those that stand.

The recorded rows are played into a temporary file whose tables the same migrations make, each
migration at the point of the chain where it was first run. Both files are then walked side by side
along their primary keys, so that the memory needed does not grow with the registry.
"""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from sqlalchemy import Table

from registry.storage import chain
from registry.storage.base import Base
from registry.storage.engine import make_engine
from registry.storage.migrate import upgrade
from registry.storage.revision import HEAD
from registry.storage.schema import Made, made

UNFIT = (sqlite3.Error, ValueError, OverflowError)
"""What the driver says of a value or a statement that SQLite cannot take."""

Convert = Callable[[Any], Any]
Refused = Callable[[int, str], None]
"""Is told the entry that records what cannot be, and what SQLite says of it."""

AT_ONCE = 5000
"""How many rows wait to be sent, over all tables."""


_MERELY_QUICK = (
    "SELECT name FROM sqlite_master"
    " WHERE type = 'index' AND sql NOT LIKE 'CREATE UNIQUE%' AND tbl_name NOT LIKE 'name_search%'"
)
"""Indexes that make questions quicker and rule nothing out; to keep them up takes half the time."""


@dataclass(slots=True)
class Played:
    """A table as entries of the chain name it, ready to be played, and what waits to be added.

    Attributes:
        keys, columns: as they are named.
        insert: adds a row.
        where: the condition that finds one by its key.
        converters: for each column whose values SQLite keeps otherwise: its place, and how.
        rows, entries: the rows that wait, and the entry of each.
    """

    keys: list[str]
    columns: list[str]
    insert: str
    where: str
    converters: list[tuple[int, Convert]]
    rows: list[list[Any]] = field(default_factory=list)
    entries: list[int] = field(default_factory=list)


def migrate_file(path: Path, revision: str) -> None:
    """Bring the file at `path` to `revision`; it is made if it is not there."""
    if path.exists():
        upgrade(make_engine(path, mode="rwc"), revision)
    else:
        path.write_bytes(_empty(revision))


@cache
def _empty(revision: str) -> bytes:
    """A file with the tables of a revision, which take a fifth of a second to make."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "empty.sqlite"
        engine = make_engine(path, mode="rwc")
        upgrade(engine, revision)
        engine.dispose()
        return path.read_bytes()


class Rebuild:
    """A temporary registry that the chain is played into.

    Rows that are added wait until there are many, or until one of their table is changed: tables
    do not look at each other here, so only the order within each counts.

    Attributes:
        rows: how many rows were added or changed so far.
        made: how the tables are made that this program reads; empty until it is finished.
    """

    def __init__(self, path: Path, refused: Refused) -> None:
        self.rows = 0
        self.made: Made = {}
        self._path = path
        self._refused = refused
        self._revision: str | None = None
        self._connection: sqlite3.Connection | None = None
        self._types: dict[str, dict[str, Convert | None]] = {}
        self._named: dict[str, Played] = {}
        self._waiting: dict[str, Played] = {}
        self._count = 0

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
            self._send_all()
            self._connection.close()
            self._connection = None
        self._waiting.clear()

    def _open(self) -> sqlite3.Connection:
        connection = sqlite3.connect(self._path)
        # Nothing is lost if this file is; without foreign keys the order of rows is free.
        for setting in ("journal_mode = MEMORY", "synchronous = OFF", "foreign_keys = OFF"):
            connection.execute(f"PRAGMA {setting}")
        if self._revision == HEAD:  # no migration comes that would look for them
            self.made = made(connection)
            for (name,) in connection.execute(_MERELY_QUICK).fetchall():
                connection.execute(f"DROP INDEX {quoted(name)}")
        self._types = {}
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'"):
            declared = connection.execute("SELECT name, type FROM pragma_table_info(?)", (name,))
            self._types[name] = {column: _converter(kind) for column, kind in declared}
        return connection

    def play(self, entry: int, lines: Iterable[chain.Row]) -> None:
        """Play the lines of one part of an entry; tells of what cannot be."""
        for mark, table, first, *rest in lines:
            if mark == "=":
                self._name(table, first, rest[0])
                continue
            named = self._named.get(table)
            if named is None:
                self._refused(entry, f"{table} is not named")
                continue
            self.rows += 1
            if mark == "+":
                for place, convert in named.converters:
                    if first[place] is not None:
                        first[place] = convert(first[place])
                named.rows.append(first)
                named.entries.append(entry)
                self._count += 1
            else:
                self._change(entry, table, named, first, rest[0])
        if self._count >= AT_ONCE:
            self._send_all()

    def _name(self, table: str, keys: list[str], columns: list[str]) -> None:
        """Have a table named for the entry that is played, as the one before named it if it can."""
        known = self._waiting.get(table)
        if known is None or known.keys != keys or known.columns != columns:
            if known is not None:
                self._send(known)
            types = self._types.get(table, {})
            converters = [
                (place, convert)
                for place, column in enumerate(columns)
                if (convert := types.get(column))
            ]
            self._waiting[table] = known = Played(
                keys, columns, _insert(table, columns), _where(keys), converters
            )
        self._named[table] = known

    def _change(
        self, entry: int, table: str, named: Played, key: list[Any], changes: dict[str, Any]
    ) -> None:
        """Change columns of a row, once what waits for its table was added."""
        self._send(named)
        types = self._types.get(table, {})
        values, of = (
            [
                convert(value) if value is not None and (convert := types.get(column)) else value
                for column, value in pairs
            ]
            for pairs in (changes.items(), zip(named.keys, key, strict=True))
        )
        statement = _update(table, tuple(changes), named.where)
        assert self._connection is not None  # noqa: S101 - begin_entry opened it
        try:
            there = self._connection.execute(statement, [*values, *of]).rowcount
            if not there and self._fetch(table, named, of):
                there = self._connection.execute(statement, [*values, *of]).rowcount
        except UNFIT as error:
            self._refused(entry, str(error))
        else:
            if not there:
                self._refused(entry, f"the {table} {key} that it changes is not there")

    def _fetch(self, table: str, named: Played, key: list[Any]) -> bool:
        """Have a row that was recorded before what is played; all rows are played here."""
        return False

    def _send_all(self) -> None:
        """Add all that waits, and keep it, so that what SQLite keeps to take back stays small."""
        for named in self._waiting.values():
            self._send(named)
        self._count = 0
        assert self._connection is not None  # noqa: S101 - begin_entry opened it
        self._connection.commit()

    def _send(self, named: Played) -> None:
        """Add the rows that wait for a table, going past those that cannot be."""
        rows, entries = named.rows, named.entries
        if not rows:
            return
        named.rows, named.entries = [], []
        connection = self._connection
        assert connection is not None  # noqa: S101 - begin_entry opened it
        while rows:
            before = connection.total_changes
            try:
                connection.executemany(named.insert, rows)
            except UNFIT as error:
                done = connection.total_changes - before
                self._refused(entries[done], str(error))
                rows, entries = rows[done + 1 :], entries[done + 1 :]
            else:
                return

    def _keep(self, table: str, columns: list[str], row: tuple[Any, ...]) -> None:
        """Have a row, with values as SQLite keeps them."""
        assert self._connection is not None  # noqa: S101 - begin_entry opened it
        self._connection.execute(_insert(table, columns), row)


@lru_cache(maxsize=1024)
def _update(table: str, columns: tuple[str, ...], where: str) -> str:
    sets = ", ".join(f"{quoted(column)} = ?" for column in columns)
    return f"UPDATE {quoted(table)} SET {sets} WHERE {where}"  # noqa: S608 - quoted


def _where(keys: list[str]) -> str:
    return " AND ".join(f"{quoted(key)} = ?" for key in keys)


def _insert(table: str, columns: list[str]) -> str:
    names, marks = ", ".join(map(quoted, columns)), ", ".join("?" * len(columns))
    return f"INSERT INTO {quoted(table)} ({names}) VALUES ({marks})"  # noqa: S608 - quoted


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
