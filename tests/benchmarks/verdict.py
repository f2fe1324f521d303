"""Verdicts in registries of three sizes: against the bare ancestry, and against SQL by hand.

A registry is opened for each question, as a command does, on both sides: what a grower waits for
is the whole of it. One plant is also asked about in a registry that stands open.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, TextualSelect, event
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate
from registry.domain.verdict.facts import Act
from registry.services import permission
from registry.storage import dossier
from registry.storage import lineage_queries as lineage
from registry.storage.engine import make_engine
from tests.benchmarks.grow import grow
from tests.benchmarks.timing import Ratio, pair

SIZES = (1_000, 100_000, 1_000_000)
PER_LOT = 20
"""So that a thousand plants are of fifty batches."""

GENERATIONS_UP = 30
MANY = 1_000
TODAY = date(2026, 5, 14)
ANCESTRY_AIM = 6.0
FACTS_AIM = 2.0
MOST_QUERIES = 12
ONE_PLANT = 0.005

NAME = "Hydrangea paniculata 'Lane Lamp'"
REGISTRY = """
    INSERT INTO registry (id, uuid, format, number_width, plant_width, grower_id, country, region,
                          hemisphere, began, settings)
    VALUES (1, zeroblob(16), 1, 6, 4, 1, 'US', 'US-OR', 'north', '2020-01-01', '{}')
"""
FACTS = """
    UPDATE plant SET received_as = ?, how = 'bought'
    WHERE node_id NOT IN (SELECT child_id FROM edge)
"""


def measure(folder: Path, most: int = SIZES[-1]) -> list[Ratio]:
    """`may sell` on one plant with thirty ancestors, and on a thousand plants of fifty batches.

    Raises:
        RuntimeError: the number of queries grows with the plants, or is above the aim.
    """
    rows: list[Ratio] = []
    for size in SIZES:
        if size <= most:
            path = folder / f"verdict-{size}.sqlite"
            grow_for_verdicts(path, size)
            rows += measure_in(path, size)
            path.unlink()
    return rows


def grow_for_verdicts(path: Path, size: int) -> None:
    """A registry whose founders were bought under one name, with the row about itself."""
    grow(path, size, per_lot=PER_LOT)
    with closing(sqlite3.connect(path)) as bare, bare:
        bare.execute(REGISTRY)
        bare.execute(FACTS, (NAME,))


def measure_in(path: Path, size: int) -> list[Ratio]:
    """The same in a registry that was grown before."""
    engine = make_engine(path, mode="ro")
    with closing(sqlite3.connect(path)) as bare:
        one, many = _one_deep(bare), _many(bare)
        numbers = [_queries(engine, plants) for plants in (one, many)]
        if numbers[0] != numbers[1] or numbers[1] > MOST_QUERIES:
            raise RuntimeError(f"queries for one plant and for a thousand: {numbers}")
        what = f"may sell, %s of {size:,} plants, {numbers[0]} queries"
        hand = "the same facts by hand in SQL"
        rows = [
            pair(
                what % "one with 30 ancestors",
                _ours(engine, one),
                hand,
                _by_hand(path, one),
                FACTS_AIM,
                rounds=51,
                below=ONE_PLANT,
            ),
            pair(
                what % f"{len(many):,} of {len(many) // PER_LOT} batches",
                _ours(engine, many),
                "the bare ancestry",
                _ancestry(engine, many),
                ANCESTRY_AIM,
            ),
        ]
        with Session(engine) as session:
            rows.append(
                pair(
                    what % "one" + ", standing open",
                    lambda: _sell(session, one),
                    hand,
                    lambda: _facts(bare, one),
                    FACTS_AIM,
                    rounds=51,
                )
            )
    engine.dispose()
    return rows


def _one_deep(bare: sqlite3.Connection) -> list[int]:
    """The newest plant with one ancestor plant in each of thirty generations."""
    plants = bare.execute("SELECT id FROM node WHERE kind = 'plant' ORDER BY id DESC")
    edges = 2 * GENERATIONS_UP  # to its lot, and from that to the plant above
    return next([node] for (node,) in plants.fetchall() if len(_edges_above(bare, [node])) == edges)


def _edges_above(bare: sqlite3.Connection, plants: list[int]) -> list[Any]:
    return bare.execute(lineage.ANCESTRY.text, lineage.as_parameter(plants)).fetchall()


def _many(bare: sqlite3.Connection) -> list[int]:
    """A thousand plants of the last fifty lots, or as many as there are."""
    rows = bare.execute(
        "SELECT child_id FROM edge WHERE role = 'raised' ORDER BY id DESC LIMIT ?", (MANY,)
    )
    return sorted({row[0] for row in rows})


def _sell(session: Session, plants: list[int]) -> object:
    return permission.judge_plants(session, Act.SELL, plants, day=FuzzyDate.of(TODAY), today=TODAY)


def _ours(engine: Engine, plants: list[int]) -> Callable[[], object]:
    def run() -> object:
        with Session(engine) as session:
            return _sell(session, plants)

    return run


def _ancestry(engine: Engine, plants: list[int]) -> Callable[[], object]:
    def run() -> object:
        with Session(engine) as session:
            return lineage.edges_above(session, plants)

    return run


def _by_hand(path: Path, plants: list[int]) -> Callable[[], object]:
    def run() -> object:
        with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as bare:
            return _facts(bare, plants)

    return run


def _facts(bare: sqlite3.Connection, plants: list[int]) -> object:
    """Every statement of the dossier on the bare driver; rows are fetched and nothing is judged."""

    def rows(statement: TextualSelect, **parameters: list[Any]) -> list[Any]:
        asked = {name: json.dumps(values) for name, values in parameters.items()}
        return bare.execute(str(statement.element), asked).fetchall()

    key = dossier.variety_key(NAME)
    here = bare.execute("SELECT country, region, settings FROM registry").fetchall()
    edges = rows(dossier._ANCESTRY, ids=plants)
    nodes = sorted({node for edge in edges for node in edge[:2]} | set(plants))
    records = rows(dossier._PLANTS, ids=nodes) + rows(dossier._LOTS, ids=nodes)
    return [
        *(here, edges, records),
        rows(dossier._OWNERS, ids=nodes),
        rows(dossier._DETERMINATIONS, ids=nodes),
        rows(dossier._RESTRICTIONS, words=["hydrangea"]),
        rows(dossier._RIGHTS, words=[key]),
        rows(dossier._CONSENTS, ids=nodes, rights=[]),
        rows(dossier._HOLDS, ids=nodes, accessions=sorted({row[2] for row in records})),
        rows(dossier._LOOKUPS, words=[key]),
    ]


def _queries(engine: Engine, plants: list[int]) -> int:
    """How many statements one verdict takes."""
    seen: list[str] = []

    def note(connection: Any, cursor: Any, statement: str, *rest: Any) -> None:
        seen.append(statement)

    event.listen(engine, "before_cursor_execute", note)
    try:
        _ours(engine, plants)()
    finally:
        event.remove(engine, "before_cursor_execute", note)
    return len([one for one in seen if not one.startswith("BEGIN")])
