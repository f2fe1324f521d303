"""The other engine: a registry in a PostgreSQL database, over psycopg 3.

Everything that differs from SQLite stands here. Statements are written as SQLite reads them; what
PostgreSQL says otherwise is put into its words on the way to the driver, once for each statement,
and what it sends back (days, sums) arrives as the same values. The tables differ in a few points:
integers have 64 bits, JSON is kept as text, text is ordered by code point whatever the server's
locale, foreign keys are looked at when a transaction ends, and the word index has a tsvector.

Sources: PostgreSQL 15 documentation, chapters 9, 12 and 13 and appendix A; psycopg 3
documentation, "Data adaptation configuration".
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import lru_cache
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError
from sqlalchemy.pool import NullPool

from registry.domain.soundness import Problem
from registry.errors import (
    RegistryDamaged,
    RegistryLocked,
    RegistryMissing,
    RegistryReadOnly,
    RegistryUnsupported,
    ServerSilent,
    ServerSupportMissing,
    StorageFull,
)
from registry.location import Server
from registry.storage.chain import canonical

LOCK_WAIT_MS = 5000
"""How long a writer waits for another before it says so."""

_CONNECT_S = 10
_SMALL_ANSWERS = "-c jit=off -c max_parallel_workers_per_gather=0 -c random_page_cost=1.1"
"""Answers are small parts of large tables. A recursion is taken to give far more than it does: a
statement of a millisecond was compiled for a tenth of a second, or a whole table read for it."""
_BEGIN = f"SET LOCAL lock_timeout = {LOCK_WAIT_MS}"
_BEGIN_READING = "SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY"


def url_of(server: Server) -> URL:
    """The URL as SQLAlchemy wants it.

    Raises:
        RegistryUnsupported: it cannot be read.
    """
    try:
        return make_url(server.url).set(drivername="postgresql+psycopg")
    except (ArgumentError, ValueError) as error:
        raise RegistryUnsupported(str(server)) from error


def server_of(connection: Connection) -> Server:
    """The server that a connection is to."""
    url = connection.engine.url.set(drivername="postgresql")
    return Server(url.render_as_string(hide_password=False))


def make_engine(server: Server, writing: str) -> Engine:
    """An engine on the database of `server`.

    Args:
        server: where it is.
        writing: the execution option under which a transaction may write.

    Raises:
        ServerSupportMissing: psycopg is not installed.
        RegistryUnsupported: the URL cannot be read.
    """
    try:
        engine = create_engine(
            url_of(server),
            poolclass=NullPool,
            json_serializer=canonical,
            connect_args={
                "connect_timeout": _CONNECT_S,
                "application_name": "ortet",
                "options": f"-c datestyle=ISO -c client_min_messages=warning {_SMALL_ANSWERS}",
            },
        )
    except ModuleNotFoundError as error:
        raise ServerSupportMissing(str(server)) from error

    def begin(connection: Connection) -> None:
        may_write = connection.get_execution_options().get(writing)
        connection.exec_driver_sql(_BEGIN if may_write else _BEGIN_READING)

    event.listen(engine, "connect", _as_sqlite_gives_it)
    event.listen(engine, "begin", begin)
    event.listen(engine, "before_cursor_execute", _translate, retval=True)
    return engine


def _as_sqlite_gives_it(connection: Any, record: Any) -> None:
    """Have days and JSON arrive as text, and sums as integers."""
    from psycopg.adapt import Loader
    from psycopg.types.string import TextLoader

    class Whole(Loader):
        """A numeric; the registry adds up counts only."""

        def load(self, data: Any) -> int:
            return int(bytes(data))

    for kind in ("date", "json"):
        connection.adapters.register_loader(kind, TextLoader)
    connection.adapters.register_loader("numeric", Whole)


def _translate(
    connection: Connection, cursor: Any, statement: str, parameters: Any, *rest: Any
) -> tuple[str, Any]:
    return in_its_words(statement), parameters


# --- what it says otherwise -----------------------------------------------------------------------

_PARAMETER = r"(%\((\w+?)(?:_\d+)?\)s)(?:::\w+)?"

_IDS = r"unnest(CAST(translate(\1, '[]', '{}') AS bigint[]))"
_TEXTS = r"jsonb_array_elements_text(CAST(\1 AS jsonb))"


def _elements(found: re.Match[str]) -> str:
    """A JSON array as rows: of texts where the parameter is named `words`, else of ids."""
    rows = found.expand(_TEXTS if found[2].endswith("words") else _IDS)
    return f"{rows} AS {found[3] or 'given'}(value)"


_RULES: tuple[tuple[re.Pattern[str], str | Callable[[re.Match[str]], str]], ...] = (
    (re.compile(rf"json_each\({_PARAMETER}\)(?: AS (\w+))?"), _elements),
    (re.compile(r"json_extract\(([\w.]+), '\$\.(\w+)'\)"), r"(CAST(\1 AS json) ->> '\2')"),
    (re.compile(r"\bjson_array\("), "json_build_array("),
    (re.compile(r"\bgroup_concat\("), "string_agg("),
    (re.compile(r"\binstr\("), "strpos("),
    # Of a recursion it expects far too much, and would read every edge there is to join a few.
    (
        re.compile(r"\bFROM reached\s+CROSS JOIN edge ON ([^\n]+)\n"),
        r"FROM reached CROSS JOIN LATERAL (SELECT * FROM edge WHERE \1 OFFSET 0) AS edge\n",
    ),
    # SQLite's planner is told an order and an index; this one finds them.
    (re.compile(r"\bCROSS JOIN (?=\w+\s+(?:INDEXED BY \w+\s+)?ON\b)"), "JOIN "),
    (re.compile(r"\s+INDEXED BY \w+"), ""),
)
_TABLE_RULES: tuple[tuple[re.Pattern[str], str], ...] = (
    (re.compile(r"\bINTEGER\b"), "BIGINT"),
    (re.compile(r"\bSERIAL\b"), "BIGSERIAL"),
    # As text it can be told apart from other text, and stands as it was written.
    (re.compile(r"\bJSON\b"), "TEXT"),
    (re.compile(r"\bVARCHAR\b(?:\(\d+\))?"), r'\g<0> COLLATE "C"'),
    (re.compile(r"(\bREFERENCES\s+\S+\s*\([^)]*\))"), r"\1 DEFERRABLE INITIALLY DEFERRED"),
    (re.compile(r"\(([\w.]+ IS NOT NULL)\)(?= [+=])"), r"CAST(\1 AS int)"),
)
_ARRAY_OF_ROWS = "json_group_array("


def _arrays_of_rows(statement: str) -> str:
    """`json_group_array(…)` as PostgreSQL has it: of no rows it makes NULL, not an empty array."""
    while (start := statement.find(_ARRAY_OF_ROWS)) >= 0:
        inner, depth = start + len(_ARRAY_OF_ROWS), 1
        end = inner
        while depth:
            depth += {"(": 1, ")": -1}.get(statement[end], 0)
            end += 1
        rows = statement[inner : end - 1]
        made = f"coalesce(CAST(json_agg({rows}) AS text), '[]')"
        statement = statement[:start] + made + statement[end:]
    return statement


_MAKES_TABLES = re.compile(r"\s*(CREATE|ALTER)\s+TABLE\b", re.IGNORECASE)


@lru_cache(maxsize=1024)
def in_its_words(statement: str) -> str:
    """A statement written for SQLite, as PostgreSQL says it.

    >>> in_its_words("SELECT value FROM json_each(%(ids)s)")
    "SELECT value FROM unnest(CAST(translate(%(ids)s, '[]', '{}') AS bigint[])) AS given(value)"
    """
    for pattern, words in _RULES:
        statement = pattern.sub(words, statement)
    statement = _arrays_of_rows(statement)
    if _MAKES_TABLES.match(statement):
        for pattern, words in _TABLE_RULES:
            statement = pattern.sub(words, statement)
    return statement


# --- what it is and what went wrong ---------------------------------------------------------------


def look(engine: Engine) -> tuple[str | None, bool]:
    """The revision of the tables, None where there is no registry; and whether they can be written.

    A replica answers and cannot be written.
    """
    with engine.connect() as connection:
        there, still = connection.exec_driver_sql(
            "SELECT to_regclass('alembic_version') IS NOT NULL"
            " AND to_regclass('chain_head') IS NOT NULL, pg_is_in_recovery()"
        ).one()
        if not there:
            return None, not still
        may = connection.exec_driver_sql(
            "SELECT has_table_privilege('chain_head', 'UPDATE')"
        ).scalar_one()
        revision = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
        return str(revision), bool(may) and not still


def has_tables(connection: Connection) -> bool:
    """Whether anything stands in the schema that a registry would be made in."""
    return bool(
        connection.exec_driver_sql(
            "SELECT EXISTS (SELECT 1 FROM pg_class WHERE relkind IN ('r', 'p', 'v', 'm')"
            " AND relnamespace = (SELECT oid FROM pg_namespace WHERE nspname = current_schema()))"
        ).scalar_one()
    )


def take_tables_away(connection: Connection) -> None:
    """Drop every table of the schema that a registry is made in."""
    names = connection.exec_driver_sql(
        "SELECT quote_ident(relname) FROM pg_class WHERE relkind = 'r'"
        " AND relnamespace = (SELECT oid FROM pg_namespace WHERE nspname = current_schema())"
    ).scalars()
    connection.exec_driver_sql(f"DROP TABLE {', '.join(names)} CASCADE")


def hold_writers_off(connection: Connection) -> None:
    """Take the head of the chain from every writer until the transaction ends, if there is one."""
    if connection.exec_driver_sql("SELECT to_regclass('chain_head') IS NOT NULL").scalar_one():
        connection.exec_driver_sql("SELECT seq FROM chain_head FOR UPDATE")


_STRANGE = """
WITH ours AS (
    SELECT cls.oid, cls.relname, cls.relkind FROM pg_class AS cls
    WHERE relnamespace = (SELECT relnamespace FROM pg_class WHERE oid = to_regclass('chain_head'))
        AND NOT EXISTS (SELECT 1 FROM pg_depend WHERE classid = 'pg_class'::regclass
                        AND objid = cls.oid AND deptype = 'e'))
SELECT CASE relkind WHEN 'v' THEN 'view' WHEN 'm' THEN 'view' ELSE 'table' END, relname, ''
FROM ours WHERE relkind IN ('r', 'p', 'v', 'm', 'f')
UNION ALL SELECT 'column', attname, relname FROM pg_attribute JOIN ours ON attrelid = ours.oid
WHERE attnum > 0 AND NOT attisdropped AND relkind = 'r'
UNION ALL SELECT 'index', ours.relname, tab.relname FROM pg_index JOIN ours ON indexrelid = ours.oid
    JOIN pg_class AS tab ON tab.oid = indrelid
WHERE NOT EXISTS (SELECT 1 FROM pg_constraint WHERE conindid = indexrelid) AND indisvalid
UNION ALL SELECT 'rule', conname, relname FROM pg_constraint JOIN ours ON conrelid = ours.oid
WHERE contype <> 'n' AND convalidated
UNION ALL SELECT 'trigger', tgname, relname FROM pg_trigger JOIN ours ON tgrelid = ours.oid
WHERE NOT tgisinternal
UNION ALL SELECT 'rewriting', rulename, relname FROM pg_rewrite JOIN ours ON ev_class = ours.oid
WHERE relkind = 'r'
UNION ALL SELECT 'policy', polname, relname FROM pg_policy JOIN ours ON polrelid = ours.oid
UNION ALL SELECT 'default of', attname, relname
FROM pg_attrdef JOIN ours ON adrelid = ours.oid
    JOIN pg_attribute ON attrelid = adrelid AND attnum = adnum
WHERE pg_get_expr(adbin, adrelid) NOT LIKE 'nextval(%%'
"""
_NOT_FOUND = """
SELECT value FROM json_array_elements_text(CAST(%(tables)s AS json))
WHERE NOT EXISTS (
    SELECT 1 FROM pg_class WHERE oid = to_regclass(quote_ident(value))
        AND relkind = 'r' AND NOT relrowsecurity
        AND relnamespace = (SELECT relnamespace FROM pg_class WHERE oid = to_regclass('chain_head'))
        AND NOT EXISTS (SELECT 1 FROM pg_trigger WHERE tgrelid = pg_class.oid
                        AND tgisinternal AND tgenabled <> 'O'))
"""


def check_schema(connection: Connection) -> Iterator[Problem]:
    """The tables, their rules and indexes are those that the migrations make, and nothing else.

    What an extension put there is let be, and the words of a rule are not compared: the check of
    the rows holds them against every rule. Only what is called as ours is looked for, so that a
    table in another schema cannot stand in for one of ours.
    """
    from registry.storage.schema import otherwise, strange

    expected = _expected()
    stands = {tuple(row) for row in connection.exec_driver_sql(_STRANGE)}
    for kind, name, table in sorted(stands - expected):
        yield strange(kind, f"{name} of {table}" if table else name)
    for kind, name, table in sorted(expected - stands):
        yield otherwise(kind, f"{name} of {table}" if table else name)
    tables = canonical(sorted(name for kind, name, _ in expected if kind == "table"))
    for (name,) in connection.exec_driver_sql(_NOT_FOUND, {"tables": tables}):
        yield otherwise("table", name)


@lru_cache(maxsize=1)
def _expected() -> frozenset[tuple[str, str, str]]:
    """(kind, name, table) of all that the migrations make on a server."""
    from registry.storage import search
    from registry.storage.models import Registry

    made = {
        ("table", "alembic_version", ""),
        ("column", "version_num", "alembic_version"),
        ("rule", "alembic_version_pkc", "alembic_version"),
        ("table", search.TABLE, ""),
        ("rule", f"{search.TABLE}_pkey", search.TABLE),
        ("index", f"{search.TABLE}_words", search.TABLE),
        *(
            ("column", column, search.TABLE)
            for column in ("key", *search.Document._fields[1:], "words")
        ),
    }
    for table in Registry.metadata.sorted_tables:
        made |= {("table", table.name, "")}
        made |= {("column", column.name, table.name) for column in table.columns}
        made |= {("rule", str(rule.name), table.name) for rule in table.constraints}
        made |= {("index", str(index.name), table.name) for index in table.indexes}
    return frozenset(made)


def problem(server: Server, error: BaseException) -> Exception | None:
    """What an error of the server's means, as one of ours (its appendix A, "Error Codes")."""
    cause = error.orig if isinstance(error, DBAPIError) else error
    code = getattr(cause, "sqlstate", None) or ""
    said = str(cause).strip().splitlines()[0] if str(cause).strip() else type(cause).__name__
    match code:
        case "55P03" | "40P01" | "40001":  # lock_not_available, deadlock, serialization
            return RegistryLocked(server)
        case "42501" if str(getattr(error, "statement", "")).lstrip().startswith("SELECT"):
            return ServerSilent(server, said)  # not even to be read
        case "25006" | "42501":  # read_only_sql_transaction, insufficient_privilege
            return RegistryReadOnly(server)
        case "53100" | "58030":  # disk_full, io_error
            return StorageFull(server)
        case "XX001" | "XX002":  # data_corrupted, index_corrupted
            return RegistryDamaged(server, said)
        case "3D000":  # invalid_catalog_name: there is no such database
            return RegistryMissing(server)
    # 08: connection; 28: who may connect; 57P: shut down; 53: too many connections
    if code[:2] in ("08", "28", "53") or code[:3] == "57P":
        return ServerSilent(server, said)
    if not code and type(cause).__name__ in ("OperationalError", "ConnectionTimeout"):
        if "does not exist" in said and "database" in said:
            return RegistryMissing(server)
        return ServerSilent(server, said)
    return None


def advance(connection: Connection, table: str, column: str) -> None:
    """Have the next key of a table follow on the highest that was given by hand."""
    sequence = connection.exec_driver_sql(
        "SELECT pg_get_serial_sequence(%(table)s, %(column)s)",
        {"table": f'"{table}"', "column": column},
    ).scalar_one()
    if sequence is not None:
        connection.exec_driver_sql(
            f'SELECT setval(%(sequence)s, max("{column}")) FROM "{table}"'  # noqa: S608 - our own tables
            f' HAVING max("{column}") IS NOT NULL',
            {"sequence": sequence},
        )
