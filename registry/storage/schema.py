"""Are the tables made as the migrations make them, and does nothing stand beside them?

A trigger changes what is recorded, a view in the place of a table what is read, and a rule that was
taken off lets in what the program relies on never to meet. None of them is a row, so none shows
when rows are compared.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator

from registry.domain.soundness import Fault, Problem
from registry.storage import search

Made = dict[tuple[str, str], str]
"""What stands in a file of SQLite's, by kind and name, as the words that made it."""

_ROOM = re.compile(r'[\s"]+')


def made(connection: sqlite3.Connection) -> Made:
    """What stands in a file, without what SQLite keeps there for itself."""
    return {
        (kind, name): _bare(kind, sql or "")
        for kind, name, sql in connection.execute("SELECT type, name, sql FROM main.sqlite_master")
        if not _of_sqlite(kind, name, sql)
    }


def _bare(kind: str, sql: str) -> str:
    """A statement without its layout; a table's columns and rules in order of their letters.

    Where a migration makes a table anew, Alembic hands over its rules in no order of their own.
    """
    bare = _ROOM.sub("", sql)
    if kind != "table":
        return bare
    head, _, rest = bare.partition("(")
    inside, _, tail = rest.rpartition(")")
    clauses, depth = [""], 0
    for sign in inside:
        depth += {"(": 1, ")": -1}.get(sign, 0)
        if sign == "," and not depth:
            clauses.append("")
        else:
            clauses[-1] += sign
    return f"{head}({','.join(sorted(clauses))}){tail}"


def _of_sqlite(kind: str, name: str, sql: str | None) -> bool:
    match kind:
        case "table":
            return name.startswith("sqlite_") or name in search.OF_FTS5
        case "index":
            return sql is None
    return False


def check_schema(connection: sqlite3.Connection, expected: Made) -> Iterator[Problem]:
    """The tables, their rules and indexes are those of `expected`, and nothing else is there."""
    stands = made(connection)
    for key in sorted(expected.keys() | stands.keys()):
        if key not in expected:
            yield strange(*key)
        elif stands.get(key) != expected[key]:
            yield otherwise(*key)


def strange(kind: str, name: str) -> Problem:
    """Something stands that the program never makes."""
    return Problem(Fault.STRANGE, f"{kind} {name}")


def otherwise(kind: str, name: str) -> Problem:
    """Something that the program makes is gone, or was made anew in another way."""
    return Problem(Fault.OTHERWISE, f"{kind} {name}")
