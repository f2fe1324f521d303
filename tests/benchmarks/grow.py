"""Registries of a given size, grown by rule: thirty generations deep, uncertain edges too.

Rows go in past the recorder, on purpose: only the shape matters here, and a million plants through
the chain would take longer than the measuring. The registry never runs ANALYZE, so neither does
this: with its statistics SQLite builds a Bloom filter over all edges for each question.
"""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from registry.domain.codes import Code, CodeWidths, lot_letters
from registry.storage.migrate import create

WIDTHS = CodeWidths(6, 4)
PLANTS_PER_LOT = 10
GENERATIONS = 30
UNCERTAIN = 0.01


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


class _Rows:
    """Writes nodes, plants, lots and edges in blocks."""

    def __init__(self, connection: sqlite3.Connection, dice: random.Random, per_lot: int) -> None:
        self.connection = connection
        self.dice = dice
        self.per_lot = per_lot
        self.node = 0
        self.edge = 0

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
