"""Verdicts in a large registry: against the bare ancestry, and against the facts by hand in SQL."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, event
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate
from registry.domain.verdict.facts import Act
from registry.services import permission
from registry.storage import dossier
from registry.storage import lineage_queries as lineage
from registry.storage.engine import make_engine
from tests.benchmarks.grow import grow
from tests.benchmarks.timing import Ratio, pair

TODAY = date(2026, 5, 14)
ANCESTRY_AIM = 6.0
FACTS_AIM = 2.0
MOST_QUERIES = 12
ONE_PLANT = 0.005

REGISTRY = """
    INSERT INTO registry (id, uuid, format, number_width, plant_width, grower_id, country, region,
                          hemisphere, began, settings)
    VALUES (1, zeroblob(16), 1, 6, 4, 1, 'US', 'US-OR', 'north', '2020-01-01', '{}')
"""
FACTS = """
    UPDATE plant SET received_as = 'Hydrangea paniculata ''Lane Lamp''', how = 'bought'
    WHERE node_id NOT IN (SELECT child_id FROM edge)
"""


def measure(folder: Path, size: int = 1_000_000) -> list[Ratio]:
    """`may sell` on one plant with thirty ancestors, and on a thousand plants of fifty batches.

    Raises:
        RuntimeError: the number of queries grows with the plants, or is above the aim.
    """
    path = folder / f"verdict-{size}.sqlite"
    grow(path, size)
    with sqlite3.connect(path) as bare:
        bare.execute(REGISTRY)
        bare.execute(FACTS)
    bare.close()
    return measure_in(path, size)


def measure_in(path: Path, size: int) -> list[Ratio]:
    """The same in a registry that was grown before, with the row about itself."""
    engine = make_engine(path, mode="ro")
    bare = sqlite3.connect(path)
    one, thousand = _one_deep(bare), _thousand(bare)
    numbers = [_queries(engine, plants) for plants in (one, thousand)]
    if numbers[0] != numbers[1] or numbers[1] > MOST_QUERIES:
        raise RuntimeError(f"queries for one plant and for a thousand: {numbers}")
    rows: list[Ratio] = []
    for plants, rounds in ((one, 51), (thousand, 9)):
        what = f"may sell, {len(plants):,} of {size:,} plants, {numbers[0]} queries"
        single = len(plants) == 1
        rows.append(
            pair(
                what,
                _ours(engine, plants),
                "the bare ancestry",
                _ancestry(engine, plants),
                None if single else ANCESTRY_AIM,
                rounds=rounds,
                below=ONE_PLANT if single else None,
            )
        )
        rows.append(
            pair(
                what,
                _ours(engine, plants),
                "the same facts by hand in SQL",
                _by_hand(bare, plants),
                FACTS_AIM,
                rounds=rounds,
            )
        )
    bare.close()
    engine.dispose()
    return rows


def _one_deep(bare: sqlite3.Connection) -> list[int]:
    """The last plant: grown so that it has one ancestor plant for each generation."""
    return [bare.execute("SELECT max(id) FROM node WHERE kind = 'plant'").fetchone()[0]]


def _thousand(bare: sqlite3.Connection) -> list[int]:
    """A thousand plants of the last hundred lots, or of as many as there are."""
    rows = bare.execute(
        "SELECT child_id FROM edge WHERE role = 'raised' ORDER BY id DESC LIMIT 1000"
    )
    return sorted({row[0] for row in rows})


def _ours(engine: Engine, plants: list[int]) -> Callable[[], object]:
    def run() -> object:
        with Session(engine) as session:
            return permission.judge_plants(
                session, Act.SELL, plants, day=FuzzyDate.of(TODAY), today=TODAY
            )

    return run


def _ancestry(engine: Engine, plants: list[int]) -> Callable[[], object]:
    def run() -> object:
        with Session(engine) as session:
            return lineage.edges_above(session, plants)

    return run


def _by_hand(bare: sqlite3.Connection, plants: list[int]) -> Callable[[], object]:
    """The statements of the dossier on the bare driver; rows are fetched and nothing is judged."""

    def run() -> object:
        ids = lineage.as_parameter(plants)["ids"]
        edges = bare.execute(str(lineage.ANCESTRY.text), {"ids": ids}).fetchall()
        nodes = sorted({node for edge in edges for node in edge[:2]} | set(plants))
        asked: dict[str, Any] = {
            **lineage.as_parameter(nodes), "rights": "[]", "accessions": "[]",
        }  # fmt: skip
        statements = (
            dossier._PLANTS,
            dossier._LOTS,
            dossier._OWNERS,
            dossier._DETERMINATIONS,
            dossier._CONSENTS,
            dossier._HOLDS,
        )
        return [bare.execute(str(one.text), asked).fetchall() for one in statements]

    return run


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
