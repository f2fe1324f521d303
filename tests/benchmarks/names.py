"""Names: the search at two sizes, a correction at the top of a clone, a new name in its middle."""

from __future__ import annotations

import sqlite3
import statistics
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate
from registry.ids import uuid7
from registry.services import making
from registry.services.finding import list_plants
from registry.services.naming import names_following
from registry.storage import lineage_queries as lineage
from registry.storage import search
from registry.storage.engine import WRITING, door, make_engine
from registry.storage.models import Determination
from registry.storage.transaction import recording
from tests.benchmarks.grow import grow
from tests.benchmarks.timing import Ratio, pair

SEARCHED = (10_000, 1_000_000)
"""How many plants have names of their own."""

DESCENDANTS = 10_000
BELOW = 7_000
"""How many descendants the plant in the middle of the clone has at least."""

NOW = datetime(2026, 5, 14, 10, tzinfo=UTC)
GENERA = ("Rosa", "Salvia", "Malus", "Hydrangea", "Clematis", "Ficus", "Fuchsia", "Dahlia")
FIRST = ("Royal", "Hot", "Golden", "Little", "Madame", "Souvenir", "Crimson", "Early")
BARE = """
WITH RECURSIVE reached(id) AS (
    SELECT ? UNION
    SELECT edge.child_id FROM reached
    JOIN edge ON edge.parent_id = reached.id AND edge.void_seq IS NULL AND edge.clonal)
SELECT reached.id, (SELECT printed FROM determination WHERE node_id = ? ORDER BY id DESC LIMIT 1)
FROM reached
"""
"""The names of a clone, by nothing but a recursive query on the driver."""


def measure(folder: Path, most: int = SEARCHED[-1]) -> list[Ratio]:
    """The search, then corrections in a clone that is thirty generations deep."""
    rows: list[Ratio] = []
    for size in SEARCHED:
        if size <= most:
            path = folder / f"names-{size}.sqlite"
            _grow_names(path, size)
            rows += _search(path, size)
            path.unlink()
    path = folder / "clone.sqlite"
    _grow_clone(path)
    return [*rows, *_corrections(path)]


# --- searching -----------------------------------------------------------------------------------


def _grow_names(path: Path, size: int) -> None:
    """A registry whose every plant has a name of its own, none of them through the recorder."""
    grow(path, 1_000)
    with closing(sqlite3.connect(path, isolation_level=None)) as bare:
        bare.execute("PRAGMA synchronous = OFF")
        bare.execute("BEGIN")
        bare.executemany(
            "INSERT INTO node (id, kind, uuid, code, accession_id, seq)"
            " VALUES (?, 'plant', ?, ?, 1, 1)",
            ((n, n.to_bytes(16, "big"), f"N{n}") for n in _numbers(size)),
        )
        bare.executemany(
            "INSERT INTO plant (node_id, origin, plants, status, received_as, received_key, seq)"
            " VALUES (?, 'unsaid', 1, 'alive', ?, ?, 1)",
            ((n, _name(n), _key(n)) for n in _numbers(size)),
        )
        bare.execute("INSERT INTO line (node_id, root_id) SELECT node_id, node_id FROM plant")
        # As `search.rebuild` writes them, without reading a million names for it.
        bare.executemany(
            "INSERT INTO name_search (rowid, now, earlier, numbers, shown)"
            " VALUES (?, ?, '', '', ?)",
            ((n * 2, _key(n), _name(n)) for n in _numbers(size)),
        )
        bare.execute("COMMIT")
        bare.execute("ANALYZE")


def _numbers(size: int) -> Iterator[int]:
    return iter(range(1_000_000_000, 1_000_000_000 + size))


def _name(number: int) -> str:
    first = FIRST[number // 8 % 8]
    return f"{GENERA[number % 8]} ‘{first} {_word(number // 64)} {_word(number // 1_000)}’"


def _key(number: int) -> str:
    """The key of a name; it is plain enough to need no reading."""
    return _name(number).replace("‘", "").replace("’", "").lower()


def _word(number: int) -> str:
    """A word of its own for each number, of four letters or more."""
    letters = "aeioubdfgklmnprst"
    word = ""
    while number or len(word) < 4:
        number, rest = divmod(number, len(letters))
        word += letters[rest]
    return word.capitalize()


def _search(path: Path, size: int) -> list[Ratio]:
    engine = make_engine(path, mode="ro")
    rare = _word(next(_numbers(size)) // 64 + 7)
    typed = {
        "one rare word": rare,
        "a word of an eighth of them": "rosa",
        "one letter": "r",
        "two letters": "ro",
        "a word and a letter": "rosa h",
        "two common words": "rosa mme",
        "three common words": "rosa royal a",
        "an unfinished word": rare[:4],
        "no word of theirs": "zzzz rosa",
        "two words of an eighth each that never stand together": "rosa salvia",
    }
    rows = []
    with Session(engine) as session:
        for what, words in typed.items():
            rows.append(
                _within(
                    f"first 50 for {what}, {size:,} named plants",
                    lambda words=words: list_plants(session, name=words, most=50),  # type: ignore[misc]  # bound at once
                    0.005,
                )
            )
    engine.dispose()
    return rows


def _within(what: str, ours: Callable[[], object], limit: float, rounds: int = 31) -> Ratio:
    """A time against a limit in seconds; the ratio is the part of it that was used."""
    ours()
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        ours()
        times.append(time.perf_counter() - start)
    median = statistics.median(times)
    return Ratio(what, "its limit", median, limit, median / limit, None, limit)


# --- correcting ----------------------------------------------------------------------------------


def _grow_clone(path: Path) -> None:
    """About 10,000 plants of one founder in thirty generations, one lot in a hundred uncertain.

    Most come through the second, the plant in the middle. The last founder has a name of its
    own, so that what may be its descent has two names.
    """
    grow(path, DESCENDANTS)
    engine = make_engine(path)
    founders = [*range(1, DESCENDANTS // 1_000 + 1)]
    first, middle, *others, last = founders
    with closing(sqlite3.connect(path)) as bare:
        bare.executemany(
            "UPDATE plant SET received_as = ?, received_key = ? WHERE node_id = ?",
            [("fig", "fig", first), ("quince", "quince", last)],
        )
        bare.executemany(
            "INSERT INTO edge (parent_id, child_id, role, clonal, seq)"
            " VALUES (?, ?, 'source', 1, 1)",
            [(first, middle), *((middle, other) for other in others)],
        )
        bare.commit()
    parameter = lineage.as_parameter(founders)
    with engine.execution_options(**{WRITING: True}).begin() as connection, door(connection):
        connection.execute(lineage.FORGET_LINES, parameter)
        connection.execute(lineage.WRITE_LINES, parameter)
        search.rebuild(connection)
    engine.dispose()


def _corrections(path: Path) -> list[Ratio]:
    engine = make_engine(path)
    founder, middle = 1, 2
    with closing(sqlite3.connect(path)) as bare:
        below = len(bare.execute(BARE, (middle, middle)).fetchall()) - 1
        if below < BELOW:
            raise AssertionError(f"the plant in the middle has only {below} descendants")
        _name_it(engine, path, founder, keep=True)
        with Session(engine) as session:
            reached = len(names_following(session, founder))
            names = pair(
                f"names of {reached:,} descendants after a correction",
                lambda: names_following(session, founder),
                "one bare recursive query",
                lambda: bare.execute(BARE, (founder, founder)).fetchall(),
                1.5,
            )
        named = _within(
            f"a new own name on a plant with {below:,} descendants",
            lambda: _name_it(engine, path, middle, keep=False),
            1.0,
            rounds=7,
        )
    engine.dispose()
    return [names, named]


def _name_it(engine: Engine, path: Path, node: int, *, keep: bool) -> None:
    with recording(engine, path, "plant name", now=NOW, new_id=uuid7, keep=keep) as rec:
        rec.add(
            Determination(
                node_id=node, typed="Ficus carica", parts={}, printed="Ficus carica",
                key="ficus carica", on=FuzzyDate.of(NOW.date()),
            )
        )  # fmt: skip
        making.rebuild_lines(rec, [node])
