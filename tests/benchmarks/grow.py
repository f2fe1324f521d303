"""Registries of a given size, grown by rule: thirty generations deep, uncertain edges too.

Rows go in past the recorder, on purpose: only the shape matters here, and a million plants through
the chain would take longer than the measuring. The registry never runs ANALYZE, so neither does
this: with its statistics SQLite builds a Bloom filter over all edges for each question.
"""

from __future__ import annotations

import random
import sqlite3
from collections import deque
from collections.abc import Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from sqlalchemy import Boolean, Engine

from registry.domain.codes import Code, CodeWidths, lot_letters
from registry.storage.base import Base
from registry.storage.migrate import create

WIDTHS = CodeWidths(6, 4)
PLANTS_PER_LOT = 10
GENERATIONS = 30
UNCERTAIN = 0.01
FIELDS = 100
"""What is not on a bench stands in nearly so many places."""


def grow(path: Path, plants: int, seed: int = 7, per_lot: int = PLANTS_PER_LOT) -> None:
    """Make a registry of about `plants` plants at `path`, with one lot to every `per_lot`.

    Node 1 is a founder whose descent is spread over `GENERATIONS` generations, so that the last
    plant has a chain of that many lots and plants above it.
    """
    engine = create(path)
    engine.dispose()
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA foreign_keys = OFF")
    connection.execute("PRAGMA synchronous = OFF")
    connection.execute("BEGIN")
    rows = _Rows(connection, random.Random(seed), per_lot)  # noqa: S311 - a benchmark's dice
    rows.all(plants)
    connection.execute("COMMIT")
    connection.close()


@dataclass(frozen=True, slots=True)
class Planted:
    """What was set into a grown registry, so that answers are of one size in all of them.

    Attributes:
        deep: A plant thirty generations down, each from a lot of the one before: 60 edges up.
        families: A founder for each size of answer: so many nodes came of it.
        places: A place for each number of plants that stand in one.
    """

    deep: int
    families: dict[int, int]
    places: dict[int, Place]


class Place(NamedTuple):
    """A place in which so many plants of one family stand, and nothing else."""

    id: int
    name: str


def set_in(path: Path, answers: Iterable[int], benches: Iterable[int]) -> Planted:
    """Set a deep line, a family for each size of answer and some full benches into a registry."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA foreign_keys = OFF")
    connection.execute("PRAGMA synchronous = OFF")
    connection.execute("BEGIN")
    rows = _Rows(connection, random.Random(1), PLANTS_PER_LOT)  # noqa: S311 - a benchmark's dice
    rows.go_on()
    before = rows.node
    deep = rows.line(GENERATIONS)
    families = {n: rows.family(n) for n in answers}
    places = {n: Place(number, f"bench {number}") for number, n in enumerate(benches, FIELDS)}
    fields = [Place(number, f"field {number}") for number in range(1, FIELDS)]
    connection.executemany(
        "INSERT INTO place (id, name, key, hidden, seq) VALUES (?, ?, ?, 0, 1)",
        [(place.id, place.name, place.name) for place in (*fields, *places.values())],
    )
    connection.execute("UPDATE plant SET place_id = 1 + node_id % ?", (len(fields),))
    for n, place in places.items():
        mother = rows.family(n + n // PLANTS_PER_LOT)
        connection.execute("UPDATE plant SET place_id = 1 WHERE node_id = ?", (mother,))
        connection.execute("UPDATE plant SET place_id = ? WHERE node_id > ?", (place.id, mother))
    connection.execute(
        "INSERT INTO stay (node_id, place_id, from_edtf, from_first, from_last, seq)"
        " SELECT node_id, place_id, '2025-01-01', '2025-01-01', '2025-01-01', 1 FROM plant"
    )
    connection.execute("COMMIT")
    connection.close()
    if before >= deep:
        raise RuntimeError("nothing was set in")
    return Planted(deep, families, places)


def copy_to(path: Path, engine: Engine) -> None:
    """Copy every row of a grown file into empty tables of another engine, PostgreSQL's.

    Its tables are made first; what a new registry has from the beginning stays. Statistics are
    gathered afterwards, as its autovacuum would.
    """
    with closing(sqlite3.connect(path)) as source, closing(engine.raw_connection()) as there:
        for table in Base.metadata.sorted_tables:
            columns = [column.name for column in table.columns]
            names = ", ".join(f'"{name}"' for name in columns)
            with closing(there.driver_connection.cursor()) as cursor:  # type: ignore[union-attr]  # connected
                cursor.execute(f'SELECT count(*) FROM "{table.name}"')  # noqa: S608 - our own tables
                if cursor.fetchone() != (0,):
                    continue
                flags = [isinstance(column.type, Boolean) for column in table.columns]
                with cursor.copy(f'COPY "{table.name}" ({names}) FROM STDIN') as copy:
                    for row in source.execute(f'SELECT {names} FROM "{table.name}"'):  # noqa: S608 - our own tables
                        copy.write_row(
                            [bool(v) if flag and v is not None else v
                             for v, flag in zip(row, flags, strict=True)]
                        )  # fmt: skip
        there.commit()
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.exec_driver_sql("ANALYZE")


class _Rows:
    """Writes nodes, plants, lots and edges in blocks."""

    def __init__(self, connection: sqlite3.Connection, dice: random.Random, per_lot: int) -> None:
        self.connection = connection
        self.dice = dice
        self.per_lot = per_lot
        self.node = 0
        self.edge = 0

    def go_on(self) -> None:
        """Number on after what stands already."""
        for name in ("node", "edge"):
            newest = self.connection.execute(f"SELECT coalesce(max(id), 0) FROM {name}")  # noqa: S608 - two names of ours
            setattr(self, name, newest.fetchone()[0])

    def accession(self) -> int:
        """A number more."""
        number = self.connection.execute("SELECT max(number) + 1 FROM accession").fetchone()[0]
        self.connection.execute(
            "INSERT INTO accession (id, year, number, kind, next_plant, next_lot, seq)"
            " VALUES (?, 2026, ?, 'batch', 1, 1, 1)",
            (number, number),
        )
        return int(number)

    def line(self, generations: int) -> int:
        """A founder and plants raised from each other; gives the last."""
        plant = self._plant(self.accession(), 1)
        for _ in range(generations):
            number = self.accession()
            lot, child = self._lot(number), self._plant(number, 1)
            self._edges([(plant, lot, "source", None), (lot, child, "raised", None)])
            plant = child
        return plant

    def family(self, descendants: int) -> int:
        """A founder of whom so many nodes came, the oldest plants drawn from first."""
        founder = self._plant(self.accession(), 1)
        sources = deque([founder])
        left = descendants
        while left > 0:
            number = self.accession()
            lot = self._lot(number)
            raised = [
                self._plant(number, place) for place in range(1, min(self.per_lot, left - 1) + 1)
            ]
            edges = [(lot, plant, "raised", None) for plant in raised]
            self._edges([(sources.popleft(), lot, "source", None), *edges])
            sources.extend(raised)
            left -= 1 + len(raised)
        return founder

    def all(self, plants: int) -> None:
        """Founders, then generation after generation of lots and their plants."""
        founders = max(plants // 1000, 1)
        self.connection.executemany(
            "INSERT INTO accession (id, year, number, kind, next_plant, next_lot, seq)"
            " VALUES (?, 2026, ?, 'batch', 1, 1, 1)",
            ((i, i) for i in range(1, founders + plants // self.per_lot + 2)),
        )
        generation = [self._plant(i, 1) for i in range(1, founders + 1)]
        lots_left = (plants - founders) // self.per_lot
        accession = founders
        per_generation = max(lots_left // GENERATIONS, 1)
        while lots_left > 0:
            made: list[int] = []
            for _ in range(min(per_generation, lots_left)):
                accession += 1
                lots_left -= 1
                parent = self.dice.choice(generation)
                lot = self._lot(accession)
                self._edges([(parent, lot, "source", None)])
                raised = [self._plant(accession, i) for i in range(1, self.per_lot + 1)]
                self._edges([(lot, plant, "raised", None) for plant in raised])
                if self.dice.random() < UNCERTAIN:
                    self._edges([(self.dice.choice(generation), lot, "source", 1)])
                made.extend(raised)
            generation = made

    def _plant(self, accession: int, plant: int) -> int:
        node = self._node("plant", Code(26, accession, plant=plant, widths=WIDTHS).text, accession)
        self.connection.execute(
            "INSERT INTO plant (node_id, origin, plants, status, seq)"
            " VALUES (?, 'unsaid', 1, 'alive', 1)",
            (node,),
        )
        return node

    def _lot(self, accession: int) -> int:
        code = Code(26, accession, lot=lot_letters(1), widths=WIDTHS).text
        node = self._node("lot", code, accession)
        self.connection.execute(
            "INSERT INTO lot (node_id, batch_id, letter, method, opening_low, opening_high,"
            " opening_text, opening_kind, in_bench, attempt, seq)"
            " VALUES (?, ?, 'A', 'cutting', ?, ?, ?, 'exact', 0, 1, 1)",
            (node, accession, self.per_lot, self.per_lot, str(self.per_lot)),
        )
        return node

    def _node(self, kind: str, code: str, accession: int) -> int:
        self.node += 1
        self.connection.execute(
            "INSERT INTO node (id, kind, uuid, code, accession_id, seq) VALUES (?, ?, ?, ?, ?, 1)",
            (self.node, kind, self.node.to_bytes(16, "big"), code, accession),
        )
        return self.node

    def _edges(self, edges: list[tuple[int, int, str, int | None]]) -> None:
        def rows() -> Iterator[tuple[int, int, int, str, int | None]]:
            for parent, child, role, choice in edges:
                self.edge += 1
                yield self.edge, parent, child, role, choice

        self.connection.executemany(
            "INSERT OR IGNORE INTO edge (id, parent_id, child_id, role, choice, clonal, seq)"
            " VALUES (?, ?, ?, ?, ?, 1, 1)",
            rows(),
        )
