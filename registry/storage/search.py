"""Finding by name: an index of words, derived from the records and kept in the same transaction.

Every plant, lot or accession with a name or number of its own has one row of words, as
`domain.names.search_keys` makes them, so that the database needs no rules for accents or spellings.
SQLite's FTS5 holds the rows, or PostgreSQL's tsvector; no caller knows which. People and places
stand in tables of their own and are looked up there: a person's details must leave the registry
whole when they are blanked.

Where keys or printed forms change, a migration has to call `rebuild`.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import closing
from itertools import groupby
from typing import Any, NamedTuple

from sqlalchemy import DDL, Connection, TextClause, event, text

from registry.domain.names import Outcome, matching_key, parse_name, plain, search_keys
from registry.storage.base import Base

TABLE = "name_search"

OF_FTS5 = tuple(f"{TABLE}_{part}" for part in ("data", "idx", "content", "docsize", "config"))
"""Tables that FTS5 keeps for the index (SQLite, "FTS5 Data Structures")."""

_RECEIVED, _DETERMINED, _NUMBER = range(3)


class Document(NamedTuple):
    """The words of one record.

    Attributes:
        key: twice the id of a plant or lot; of an accession, one more than twice its id.
        now: the words of its newest name.
        earlier: those of the names before it, and of what it came as.
        numbers: those of its own and others' numbers.
        shown: its newest name in print; empty where it has none.
    """

    key: int
    now: str
    earlier: str
    numbers: str
    shown: str


class Touched(NamedTuple):
    """A record whose words may have changed: a node or an accession."""

    node_id: int | None
    accession_id: int | None


class Index(NamedTuple):
    """How an engine keeps the words: statements, and how it is asked for some of them.

    Attributes:
        create: makes the index, empty.
        drop: takes it away.
        key: the column that holds a document's key.
        insert: writes a document; it may name `words` beside a document's own fields.
        matching: (key, now, earlier, numbers) of `most` documents at most that answer a query.
        query: the query for documents with every one of some words; `now` is for those whose
            newest name has them, `open_end` leaves the last word unfinished.
    """

    create: str
    drop: str
    key: str
    insert: str
    matching: TextClause
    query: Callable[[Sequence[str], bool, bool], str]


def _fts5_query(keys: Sequence[str], now: bool, open_end: bool) -> str:
    every = " AND ".join(f'"{key}"' for key in keys) + ("*" if open_end else "")
    return f"now : ({every})" if now else every


def _tsvector_query(keys: Sequence[str], now: bool, open_end: bool) -> str:
    mark = _NEWEST if now else ""
    every = " & ".join(f"'{mark}{word}'" for key in keys for word in _parts(key))
    return every + (":*" if open_end else "")


_NEWEST = "+"  # stands before the words of the newest name, which are kept in both ways
_parts = re.compile(r"[^\W_]+").findall


def _marked(document: Document) -> list[str]:
    """The words of a document as the tsvector holds them."""
    newest = _parts(document.now)
    words = [*newest, *_parts(document.earlier), *_parts(document.numbers)]
    return [*(_NEWEST + word for word in newest), *words]


FTS5 = Index(
    create=f"CREATE VIRTUAL TABLE {TABLE} USING fts5(now, earlier, numbers, shown UNINDEXED,"
    " tokenize = 'unicode61 remove_diacritics 0', prefix = '1 2 3 4')",
    drop=f"DROP TABLE {TABLE}",
    key="rowid",
    insert=f"INSERT INTO {TABLE} (rowid, now, earlier, numbers, shown)"  # noqa: S608 - a constant
    " VALUES (:key, :now, :earlier, :numbers, :shown)",
    matching=text(
        f"SELECT rowid, now, earlier, numbers FROM {TABLE}"  # noqa: S608 - a constant
        f" WHERE {TABLE} MATCH :query LIMIT :most"
    ),
    query=_fts5_query,
)
TSVECTOR = Index(
    create=f"CREATE TABLE {TABLE} (key INTEGER PRIMARY KEY, now VARCHAR NOT NULL,"
    " earlier VARCHAR NOT NULL, numbers VARCHAR NOT NULL, shown VARCHAR NOT NULL,"
    f" words TSVECTOR NOT NULL); CREATE INDEX {TABLE}_words ON {TABLE} USING gin (words)",
    drop=f"DROP TABLE {TABLE}",
    key="key",
    insert=f"INSERT INTO {TABLE} (key, now, earlier, numbers, shown, words)"  # noqa: S608 - a constant
    " VALUES (:key, :now, :earlier, :numbers, :shown,"
    " array_to_tsvector(ARRAY(SELECT value FROM json_each(:words))))",
    matching=text(
        f"SELECT key, now, earlier, numbers FROM {TABLE}"  # noqa: S608 - a constant
        " WHERE words @@ CAST(:query AS tsquery) LIMIT :most"
    ),
    query=_tsvector_query,
)


for dialect, made in (("sqlite", FTS5), ("postgresql", TSVECTOR)):
    ddl = DDL(made.create).execute_if(dialect=dialect)  # type: ignore[no-untyped-call]  # SQLAlchemy's
    event.listen(Base.metadata, "after_create", ddl)


def index_of(connection: Connection) -> Index:
    """How the engine of a connection keeps the words."""
    return TSVECTOR if connection.dialect.name == "postgresql" else FTS5


def include_name(name: str | None, kind: str, parents: Any) -> bool:
    """Whether Alembic should look at a table: FTS5 makes its own, and they are no models."""
    return kind != "table" or name is None or not name.startswith(TABLE)


def touched(table: str, value: Callable[[str], Any]) -> Touched | None:
    """What a written row says new words about, if it does.

    Args:
        table: of the row.
        value: gives the value of a column.
    """
    if table == "plant":
        return Touched(value("node_id"), None) if value("received_as") is not None else None
    if table == "determination":
        return Touched(value("node_id"), None)
    if table == "alias":
        return Touched(value("node_id"), value("accession_id"))
    return None


_SOURCES = (
    "SELECT node_id * 2 AS key, 0 AS kind, received_as AS words, '' AS typed, '' AS day, 0 AS id"
    " FROM plant WHERE received_as IS NOT NULL AND void_seq IS NULL{nodes}",
    "SELECT node_id * 2, 1, printed, typed, coalesce(CAST(on_last AS VARCHAR), ''), id"
    " FROM determination WHERE void_seq IS NULL{nodes}",
    "SELECT node_id * 2, 2, text, '', '', id"
    " FROM alias WHERE node_id IS NOT NULL AND void_seq IS NULL{nodes}",
    "SELECT accession_id * 2 + 1, 2, text, '', '', id"
    " FROM alias WHERE accession_id IS NOT NULL AND void_seq IS NULL{accessions}",
)
_ORDER = " ORDER BY key, kind, day, id"


def _statement(nodes: str = "", accessions: str = "") -> str:
    return (
        " UNION ALL ".join(part.format(nodes=nodes, accessions=accessions) for part in _SOURCES)
        + _ORDER
    )


_ALL = _statement()
_SOME = _statement(
    " AND node_id IN (SELECT value FROM json_each(:nodes))",
    " AND accession_id IN (SELECT value FROM json_each(:accessions))",
)
_AT_ONCE = 1000


def documents(rows: Iterable[Any]) -> Iterator[Document]:
    """The words of records, from rows (key, kind, words, typed, day, id) in that order."""
    for key, some in groupby(rows, key=lambda row: row[0]):
        yield _document(key, list(some))


def _document(key: int, rows: list[Any]) -> Document:
    names = [row for row in rows if row[1] != _NUMBER]
    newest = names[-1] if names else None
    now = _words([newest]) if newest else ""
    earlier = _words(names[:-1], without=now)
    numbers = _words([row for row in rows if row[1] == _NUMBER])
    return Document(key, now, earlier, numbers, _printed(newest) if newest else "")


def _words(rows: list[Any], without: str = "") -> str:
    known = set(without.split())
    words = dict.fromkeys(
        word
        for row in rows
        for part in (row[2], row[3])
        for word in search_keys(part)
        if word not in known
    )
    return " ".join(words)


def _printed(row: Any) -> str:
    if row[1] == _DETERMINED:
        return str(row[2])
    reading = parse_name(row[2])
    if reading.name is not None and reading.outcome in (Outcome.ACCEPTED, Outcome.NORMALISED):
        return plain(reading.name)
    return str(row[2])


def refresh(connection: Connection, records: Collection[Touched]) -> None:
    """Write the words of `records` anew; what has none any more is not found any more."""
    nodes = {one.node_id for one in records if one.node_id is not None}
    accessions = {one.accession_id for one in records if one.accession_id is not None}
    if not nodes and not accessions:
        return
    keys = [node * 2 for node in nodes] + [accession * 2 + 1 for accession in accessions]
    rows = connection.execute(
        text(_SOME), {"nodes": json.dumps(list(nodes)), "accessions": json.dumps(list(accessions))}
    ).all()
    index = index_of(connection)
    connection.execute(
        text(
            f"DELETE FROM {TABLE} WHERE {index.key} IN"  # noqa: S608 - constants of this module
            " (SELECT value FROM json_each(:keys))"
        ),
        {"keys": json.dumps(keys)},
    )
    _insert(connection, rows)


def rebuild(connection: Connection) -> None:
    """Write the words of everything anew."""
    if index_of(connection) is FTS5:  # an index that is damaged cannot be emptied
        connection.execute(text(FTS5.drop))
        connection.execute(text(FTS5.create))
    else:
        connection.execute(text(f"DELETE FROM {TABLE}"))  # noqa: S608 - a constant
    _insert(connection, connection.execute(text(_ALL)))


def _insert(connection: Connection, rows: Iterable[Any]) -> None:
    index, waiting = index_of(connection), list[dict[str, Any]]()
    statement = text(index.insert)
    for document in documents(rows):
        values: dict[str, Any] = document._asdict()
        if index is TSVECTOR:
            values["words"] = json.dumps(_marked(document), ensure_ascii=False)
        waiting.append(values)
        if len(waiting) == _AT_ONCE:
            connection.execute(statement, waiting)
            waiting = []
    if waiting:
        connection.execute(statement, waiting)


def differences(connection: sqlite3.Connection) -> Iterator[tuple[int, str, str]]:
    """(key, found, expected) of every record whose words are not what the records say."""
    expected = documents(connection.execute(_ALL))
    standing = connection.execute(
        f"SELECT rowid, now, earlier, numbers, shown FROM {TABLE} ORDER BY rowid"  # noqa: S608 - a constant
    )
    want, have = next(expected, None), _document_of(next(standing, None))
    while want is not None or have is not None:
        if want is None or (have is not None and have.key < want.key):
            yield from _too_many(have)
            have = _document_of(next(standing, None))
        elif have is None or want.key < have.key:
            yield want.key, "", _said(want)
            want = next(expected, None)
        else:
            if have != want:
                yield want.key, _said(have), _said(want)
            want, have = next(expected, None), _document_of(next(standing, None))


def finds_what_it_holds(connection: sqlite3.Connection) -> bool:
    """Whether FTS5 finds every document by its words, and by no others.

    Only a writer may have FTS5 compare its index with its documents (SQLite, "The 'integrity-check'
    Command"), so that is done in a copy.
    """
    with closing(sqlite3.connect("", isolation_level=None)) as apart:  # a file that nobody sees
        apart.execute(FTS5.create)
        apart.execute("BEGIN")
        try:
            for part in OF_FTS5:
                apart.execute(f"DELETE FROM {part}")  # noqa: S608 - a constant
                rows = connection.execute(f"SELECT * FROM main.{part}")  # noqa: S608 - a constant
                marks = ", ".join("?" * len(rows.description))
                apart.executemany(f"INSERT INTO {part} VALUES ({marks})", rows)  # noqa: S608 - a constant
            apart.execute("COMMIT")
            apart.execute(f"INSERT INTO {TABLE} ({TABLE}) VALUES ('integrity-check')")  # noqa: S608 - a constant
            return _finds_words(apart)
        except sqlite3.DatabaseError:
            return False


_PROBES = 20_000  # words that are looked for; of more, every so many


def _finds_words(apart: sqlite3.Connection) -> bool:
    """Whether words that are in the index are found by it: what leads to them is a table apart."""
    apart.execute(f"CREATE VIRTUAL TABLE temp.word USING fts5vocab(main, {TABLE}, row)")
    (words,) = apart.execute("SELECT count(*) FROM temp.word").fetchone()
    step = words // _PROBES + 1
    found = f"SELECT 1 FROM {TABLE} WHERE {TABLE} MATCH ? LIMIT 1"  # noqa: S608 - a constant
    return all(
        apart.execute(found, (f'"{word}"',)).fetchone()
        for place, (word,) in enumerate(apart.execute("SELECT term FROM temp.word"))
        if place % step == 0
    )


def finds_on_the_server(connection: Connection) -> bool:
    """Whether the words by which PostgreSQL finds a document are those that stand in it."""
    with connection.exec_driver_sql(
        f"SELECT key, now, earlier, numbers, shown, tsvector_to_array(words) FROM {TABLE}",  # noqa: S608 - a constant
        execution_options={"yield_per": _AT_ONCE},
    ) as rows:
        return all(set(words) == set(_marked(Document(*document))) for *document, words in rows)


def _too_many(have: Document | None) -> Iterator[tuple[int, str, str]]:
    if have is not None:
        yield have.key, _said(have), ""


def _document_of(row: Any) -> Document | None:
    return None if row is None else Document._make(row)


def _said(document: Document) -> str:
    return " / ".join(filter(None, document[1:]))


# --- finding -------------------------------------------------------------------------------------

_LOOKED_AT = 200  # hits of one kind that are put in order; a commoner word is narrowed by another
_EXACT = text(
    """
    SELECT node_id FROM plant WHERE received_key = :key AND void_seq IS NULL
    UNION SELECT node_id FROM determination WHERE key = :key AND void_seq IS NULL
    ORDER BY node_id LIMIT :most
    """
)
_OF_ACCESSION = text("SELECT id FROM node WHERE accession_id = :accession ORDER BY id LIMIT :most")
_MEMBERS = text(
    "SELECT node_id FROM line WHERE root_id = :node AND node_id <> :node"
    " ORDER BY node_id LIMIT :most"
)
_CODES = text("SELECT id FROM node WHERE code >= :low AND code < :high ORDER BY code LIMIT :most")
_SAME = text(
    """
    SELECT other_id FROM same_plant WHERE one_id = :node AND void_seq IS NULL
    UNION SELECT one_id FROM same_plant WHERE other_id = :node AND void_seq IS NULL
    """
)
_EVERY_WORD = "NOT EXISTS (SELECT 1 FROM json_each(:words) WHERE instr({key}, value) = 0)"
# The indexes are named because where most plants have no source or place, SQLite's statistics
# make it read the whole table instead.
_PEOPLE = text(
    f"""
    WITH called AS MATERIALIZED (
        SELECT person_id FROM person_detail WHERE {_EVERY_WORD.format(key="person_detail.key")})
    SELECT node_id FROM called
    CROSS JOIN ownership INDEXED BY ix_ownership_person_id
        ON ownership.person_id = called.person_id AND ownership.void_seq IS NULL
    UNION SELECT node_id FROM called
    CROSS JOIN plant INDEXED BY ix_plant_source_id
        ON plant.source_id = called.person_id AND plant.void_seq IS NULL
    LIMIT :most
    """  # noqa: S608 - constants of this module
)
_PLACES = text(
    f"""
    SELECT node_id FROM place CROSS JOIN plant INDEXED BY ix_plant_place_status
        ON plant.place_id = place.id AND plant.void_seq IS NULL
    WHERE place.void_seq IS NULL AND {_EVERY_WORD.format(key="place.key")}
    LIMIT :most
    """  # noqa: S608 - constants of this module
)


def find(connection: Connection, typed: str, most: int) -> list[int]:
    """Plants and lots that answer to a text, best first.

    In this order: codes that begin so; names that are exactly this; records whose newest name
    holds every word, the shortest name first; then any name or number of theirs; then with the last
    word unfinished; then what belongs to, came from or stands with a person or place called so.
    Behind each record come those that may be the same plant, and behind all of them the members of
    their clones, which bear the same name.

    Args:
        connection: on the registry.
        typed: words of a name, a number, a code, a person or a place.
        most: how many nodes to give back.
    """
    keys = search_keys(typed)
    if not keys or most < 1:
        return []
    found: dict[int, None] = dict.fromkeys(_coded(connection, typed, most))
    for some in _tiers(connection, typed, keys, most):
        found.update(dict.fromkeys(some))
        if len(found) >= most:
            return list(found)[:most]
    for node in list(found):
        found.update(dict.fromkeys(_column(connection, _SAME, node=node)))
    for node in list(found):
        if len(found) >= most:
            break
        found.update(dict.fromkeys(_column(connection, _MEMBERS, node=node, most=most)))
    return list(found)[:most]


def _coded(connection: Connection, typed: str, most: int) -> list[int]:
    start = "".join(typed.split()).upper()
    if not start[:2].isdigit() or "-" not in start:
        return []
    return _column(connection, _CODES, low=start, high=start + "~", most=most)


def _tiers(
    connection: Connection, typed: str, keys: tuple[str, ...], most: int
) -> Iterator[list[int]]:
    yield _column(connection, _EXACT, key=matching_key(typed), most=most)
    yield from _by_words(connection, keys, most)
    words = json.dumps(matching_key(typed).split(), ensure_ascii=False)
    for statement in (_PEOPLE, _PLACES):
        yield _column(connection, statement, words=words, most=most)


def _by_words(connection: Connection, keys: tuple[str, ...], most: int) -> Iterator[list[int]]:
    """What answers to words, best first.

    The newest names are asked first: common words find enough there. Then one question, with the
    last word unfinished, finds all that the stricter ones would; few are put in order here.
    """
    query = index_of(connection).query
    limit = max(most, _LOOKED_AT)

    def ordered(some: list[Any]) -> list[int]:
        return _nodes(connection, sorted(some, key=lambda row: _rank(row, keys)), most)

    yield ordered(_matching(connection, query(keys, True, False), limit))
    rows = _matching(connection, query(keys, False, True), limit)
    if len(rows) >= limit:
        yield ordered(_matching(connection, query(keys, False, False), limit))
    yield ordered(rows)


def _rank(row: Any, keys: tuple[str, ...]) -> tuple[int, int, int]:
    """Where a hit belongs: newest name, any name or number, unfinished; then the shortest name."""
    key, now, earlier, numbers = row
    newest, words = set(now.split()), set(keys)
    if words <= newest:
        tier = 0
    else:
        tier = 1 if words <= newest.union(earlier.split(), numbers.split()) else 2
    return tier, len(newest), key


def _matching(connection: Connection, query: str, limit: int) -> list[Any]:
    statement = index_of(connection).matching
    return list(connection.execute(statement, {"query": query, "most": limit}))


def _nodes(connection: Connection, rows: Iterable[Any], most: int) -> list[int]:
    """The plants and lots of hits, an accession's among them, until there are enough."""
    nodes: list[int] = []
    for row in rows:
        key = row[0]
        if key % 2 == 0:
            nodes.append(key // 2)
        else:
            nodes += _column(connection, _OF_ACCESSION, accession=key // 2, most=most)
        if len(nodes) >= most:
            break
    return nodes


def _column(connection: Connection, statement: Any, **values: Any) -> list[int]:
    return list(connection.execute(statement, values).scalars())


def _shown(key: str) -> TextClause:
    return text(
        f"""
        SELECT line.node_id, {TABLE}.shown FROM line
        JOIN {TABLE} ON {TABLE}.{key} = line.root_id * 2
        WHERE line.node_id IN (SELECT value FROM json_each(:ids))
        ORDER BY line.node_id, line.root_id
        """  # noqa: S608 - constants of this module
    )


_SHOWN = {index.key: _shown(index.key) for index in (FTS5, TSVECTOR)}


def shown_names(connection: Connection, ids: Collection[int]) -> dict[int, tuple[str, ...]]:
    """The printed names of each node's lines, as they stand in the index; none is left out."""
    found: dict[int, list[str]] = {}
    statement = _SHOWN[index_of(connection).key]
    for node, shown in connection.execute(statement, {"ids": json.dumps(list(ids))}):
        found.setdefault(node, []).append(shown)
    return {node: tuple(dict.fromkeys(names)) for node, names in found.items()}
