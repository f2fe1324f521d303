"""The hash chain: canonical text of entries and rows, and reading them back.

An entry is a header (canonical JSON) and parts (rows as arrays, compressed). The header holds the
hash of the entry before it and the digest of its parts; its own SHA-256 (FIPS 180-4) is the entry's
hash. Nothing can be changed, taken out or put in without every later hash telling.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable, Iterator
from datetime import date
from functools import cache, lru_cache
from typing import Any, cast
from uuid import UUID

from sqlalchemy import Column, Table

from registry.domain.canonical import canonical as canonical
from registry.domain.canonical import digest as digest

GENESIS = "0" * 64
"""What the first entry names as the hash before it."""

ROWS_PER_PART = 1000

Row = list[Any]
"""A line of a part:

    ["=", table, [key columns], [columns]]   before the first row of a table in an entry
    ["+", table, [values of the columns]]    a row was added
    ["~", table, [key], {column: value}]     columns of a row were changed

The columns are named so that an entry can be read when the tables have long changed.
"""

Touched = tuple[str, str, tuple[Any, ...]]
"""`+` or `~`, the table, and the key of a row that an entry added or changed."""


def sealed_hash(salt: bytes, value: Any) -> str:
    """The salted hash by which the chain knows a value that it does not hold."""
    return digest(salt + canonical(value).encode())


def pack(lines: Iterable[str]) -> bytes:
    """Rows, each as a line of canonical JSON, as one compressed part."""
    return zlib.compress("\n".join(lines).encode(), 6)


def unpack(body: bytes) -> Iterator[Row]:
    """The lines of a part.

    Raises:
        ValueError: the part is damaged.
    """
    try:
        text = zlib.decompress(body).decode()
    except (zlib.error, UnicodeDecodeError) as error:
        raise ValueError("a damaged part") from error
    for line in text.split("\n"):
        yield _naming(line) if line.startswith('["="') else _row(line)


_decode = json.JSONDecoder().raw_decode


def _row(line: str) -> Row:
    row, end = _decode(line)
    if end != len(line):
        raise ValueError("more than a row in a line")
    return cast("Row", row)


@lru_cache(maxsize=1024)
def _naming(line: str) -> Row:
    """A line that names columns; most entries have the same ones, so nobody may change it."""
    return _row(line)


def touched(bodies: Iterable[bytes]) -> Iterator[Touched]:
    """The rows that an entry added or changed, of its parts in order.

    Raises:
        ValueError: a part is damaged.
    """
    for mark, table, key, _ in told(bodies):
        yield mark, table, key


def told(bodies: Iterable[bytes]) -> Iterator[tuple[str, str, tuple[Any, ...], dict[str, Any]]]:
    """(`+` or `~`, table, key, {column: value}) of the rows of an entry, of its parts in order.

    Raises:
        ValueError: a part is damaged.
    """
    named: dict[str, tuple[list[str], list[str]]] = {}
    for body in bodies:
        for mark, table, first, *rest in unpack(body):
            if mark == "=":
                named[table] = first, rest[0]
            elif mark == "+":
                keys, columns = named[table]
                values = dict(zip(columns, first, strict=True))
                yield mark, table, tuple(values[key] for key in keys), values
            else:
                yield mark, table, tuple(first), rest[0]


_PLAIN_ALREADY = frozenset({int, str, bool})


def plain(value: Any) -> Any:
    """A column's value as JSON: dates as ISO 8601, bytes and UUIDs as hexadecimal."""
    if value is None or type(value) in _PLAIN_ALREADY:  # nearly all of them
        return value
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, UUID):
        return value.hex
    if isinstance(value, bytes):
        return value.hex()
    return value


@cache
def chained_columns(table: Table) -> tuple[Column[Any], ...]:
    """The columns of `table` that the chain holds, in table order; none for tables outside it."""
    if table.info.get("chain") is False:
        return ()
    return tuple(c for c in table.columns if c.info.get("chain") is not False)


def naming(table: Table) -> Row:
    """The line that says which columns the rows of `table` have."""
    columns = [column.name for column in chained_columns(table)]
    return ["=", table.name, [column.name for column in table.primary_key], columns]
