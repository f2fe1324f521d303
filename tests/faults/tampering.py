"""A registry edited behind the program's back, in any place and any way, one edit at a time."""

from __future__ import annotations

import shutil
import sqlite3
from collections import Counter
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from registry.errors import RegistryError
from registry.storage.engine import open_registry
from registry.storage.verify import verify
from tests.faults.table import Row

Cells = list[tuple[Any, ...]]


@dataclass(frozen=True, slots=True)
class Table:
    """A table as it stands: its columns, the keys of its rows, and how many there are."""

    name: str
    columns: tuple[str, ...]
    keys: tuple[str, ...]
    rows: int


@dataclass(frozen=True, slots=True)
class Edit:
    """Statements that change a registry, and what they do, in words."""

    what: str
    statements: tuple[tuple[str, tuple[Any, ...]], ...]


def tables(path: Path) -> list[Table]:
    """Every table with rows, those of the chain and the derived ones too."""
    with closing(sqlite3.connect(path)) as connection:
        names = [
            name
            for (name,) in connection.execute(
                "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
                " AND name NOT LIKE 'name\\_search\\_%' ESCAPE '\\' ORDER BY name"
            )
        ]
        return [table for name in names if (table := _table(connection, name)).rows]


def _table(connection: sqlite3.Connection, name: str) -> Table:
    columns = connection.execute("SELECT name, pk FROM pragma_table_info(?)", (name,)).fetchall()
    keys = tuple(column for column, key in columns if key) or ("rowid",)
    (rows,) = connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()
    return Table(name, tuple(column for column, _ in columns), keys, rows)


KINDS = ("cell", "cell", "near", "near", "swap", "delete", "double", "bad text")

VALUES = st.one_of(
    st.none(),
    st.integers(-3, 40),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(allow_nan=False),
    st.booleans().map(int),
    st.text(max_size=8),
    st.binary(max_size=8),
    st.dates().map(str),
    st.sampled_from(["0", "1", "null", "{}", "[]", "plant", "lot", "alive", "2026"]),
)
"""Whatever may be put into a cell; SQLite takes any kind of value in any column."""


@st.composite
def edits(draw: st.DrawFn, path: Path, known: list[Table]) -> Edit:
    """One edit of a registry: a cell changed, two cells swapped, a row taken out or doubled."""
    table = draw(st.sampled_from(known))
    kind = draw(st.sampled_from(KINDS))
    at = draw(st.integers(0, table.rows - 1))
    with closing(sqlite3.connect(path)) as connection:
        here = _key(connection, table, at)
        column = draw(st.sampled_from(table.columns))
        match kind:
            case "delete":
                return Edit(f"row {here} of {table.name} gone", (_delete(table, here),))
            case "double":
                return _doubled(draw, connection, table, here)
            case "swap":
                other = _key(connection, table, draw(st.integers(0, table.rows - 1)))
                pair = [_cell(connection, table, key, column) for key in (here, other)]
                return Edit(
                    f"{column} of {here} and {other} of {table.name} swapped",
                    (_set(table, here, column, pair[1]), _set(table, other, column, pair[0])),
                )
            case "bad text":
                statement, _ = _set(table, here, column, None)
                as_text = statement.replace("= ?", "= CAST(? AS TEXT)", 1)
                return Edit(
                    f"{column} of {here} of {table.name} is no UTF-8",
                    ((as_text, (b"rose\xff", *here)),),
                )
            case "near":
                value = draw(_near(_cell(connection, table, here, column)))
            case _:
                value = draw(VALUES)
    return Edit(
        f"{column} of {here} of {table.name} is {value!r}", (_set(table, here, column, value),)
    )


def _near(value: Any) -> st.SearchStrategy[Any]:
    """What a sly or a clumsy hand makes of a value: the next number, another case, one bit."""
    if isinstance(value, int):
        return st.sampled_from([value + 1, value - 1, -value, str(value), float(value) + 0.5])
    if isinstance(value, str):
        return st.sampled_from(
            [f"{value} ", value.swapcase(), value[::-1], value[:-1], f"{value}\0", value.encode()]
        )
    if isinstance(value, bytes) and value:
        return st.integers(0, len(value) * 8 - 1).map(lambda bit: _flipped(value, bit))
    return VALUES


def _flipped(value: bytes, bit: int) -> bytes:
    number = int.from_bytes(value, "big") ^ (1 << bit)
    return number.to_bytes(len(value), "big")


def _key(connection: sqlite3.Connection, table: Table, at: int) -> tuple[Any, ...]:
    names = ", ".join(f'"{key}"' for key in table.keys)
    found = connection.execute(
        f'SELECT {names} FROM "{table.name}" ORDER BY {names} LIMIT 1 OFFSET ?',
        (at,),
    ).fetchone()
    return tuple(found)


def _where(table: Table) -> str:
    return " AND ".join(f'"{key}" IS ?' for key in table.keys)


def _cell(connection: sqlite3.Connection, table: Table, key: tuple[Any, ...], column: str) -> Any:
    return connection.execute(
        f'SELECT "{column}" FROM "{table.name}" WHERE {_where(table)}',
        key,
    ).fetchone()[0]


def _set(
    table: Table, key: tuple[Any, ...], column: str, value: Any
) -> tuple[str, tuple[Any, ...]]:
    return (
        f'UPDATE "{table.name}" SET "{column}" = ? WHERE {_where(table)}',
        (value, *key),
    )


def _delete(table: Table, key: tuple[Any, ...]) -> tuple[str, tuple[Any, ...]]:
    return f'DELETE FROM "{table.name}" WHERE {_where(table)}', key


def _doubled(
    draw: st.DrawFn, connection: sqlite3.Connection, table: Table, key: tuple[Any, ...]
) -> Edit:
    """A row a second time, with a key of its own."""
    names = ", ".join(f'"{column}"' for column in table.columns)
    row = connection.execute(
        f'SELECT {names} FROM "{table.name}" WHERE {_where(table)}',
        key,
    ).fetchone()
    values = dict(zip(table.columns, row, strict=True))
    for name in table.keys:
        if name in values:
            values[name] = draw(st.integers(1, 10**6)) if isinstance(values[name], int) else "other"
    marks = ", ".join("?" * len(values))
    return Edit(
        f"row {key} of {table.name} doubled",
        ((f'INSERT INTO "{table.name}" ({names}) VALUES ({marks})', tuple(values.values())),),
    )


def changed(path: Path, edit: Edit) -> bool:
    """Make an edit; False where SQLite refuses it, or nothing is other than before."""
    with closing(sqlite3.connect(path)) as connection:
        connection.text_factory = partial(str, encoding="utf-8", errors="surrogateescape")
        connection.execute("PRAGMA foreign_keys = OFF")
        connection.execute("PRAGMA ignore_check_constraints = ON")
        before = _content(connection)
        try:
            for statement, values in edit.statements:
                connection.execute(statement, values)
        except (sqlite3.Error, OverflowError):
            return False
        connection.commit()
        return before != _content(connection)


def _content(connection: sqlite3.Connection) -> list[Cells]:
    names = connection.execute(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'name_search%'"
    ).fetchall()
    return [
        [tuple(map(_typed, row)) for row in connection.execute(f'SELECT * FROM "{name}"')]
        for (name,) in [*names, ("name_search",)]
    ]


def _typed(value: Any) -> tuple[str, Any]:
    return type(value).__name__, value


def noticed(path: Path) -> bool:
    """Whether the program says that something is wrong; an error not ours is raised."""
    try:
        return not verify(open_registry(path).engine, path).ok
    except RegistryError:
        return True


def try_edits(registry: Path, folder: Path, examples: int) -> Counter[str]:
    """Have hypothesis make edits of a registry; each must be noticed.

    Args:
        registry: the registry, which is sound and stays as it is.
        folder: for the copies that are edited.
        examples: how many to make.

    Returns:
        How many were noticed, by table.
    """
    found: Counter[str] = Counter()
    known = tables(registry)
    copy = folder / "edited.sqlite"

    @settings(
        max_examples=examples,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(edits(registry, known))
    def one(edit: Edit) -> None:
        for file in folder.glob("edited.sqlite*"):
            file.unlink()
        shutil.copy(registry, copy)
        if changed(copy, edit):
            found[edit.statements[0][0].split('"')[1]] += 1
            assert noticed(copy), edit

    assert not noticed(registry)
    one()
    return found


def run(registry: Path, folder: Path, examples: int) -> Row:
    """Make at least `examples` edits that change something, however many are drawn for that.

    The first that hypothesis draws is always the plainest, which changes nothing: never one alone.
    """
    found: Counter[str] = Counter()
    while found.total() < examples:
        found += try_edits(registry, folder, max(examples - found.total(), 20))
    return Row(
        "one edit behind the program's back: any cell, two cells swapped, a row gone or doubled; "
        "the chain and the derived tables as well",
        found.total(),
        f"every one was noticed; they fell on {len(found)} tables",
        "`verify` says no, or the registry is refused as damaged",
    )
