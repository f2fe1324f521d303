"""What the chain costs: a look and a potting-up with it and without; an import beside bare rows."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, cast
from uuid import UUID

import pytest
from sqlalchemy import Table

from registry.domain.codes import Code, CodeWidths
from registry.domain.counts import parse_count
from registry.domain.dates import FuzzyDate
from registry.ids import uuid7
from registry.location import Location, Server
from registry.services.counting import Potting, look, pot_up
from registry.services.resolve import resolve
from registry.storage import transaction
from registry.storage.base import Base
from registry.storage.engine import Opened, open_registry
from registry.storage.models import Accession, Node, Plant
from registry.storage.rebuild import quoted
from registry.storage.transaction import Recording, recording
from tests import homes
from tests.benchmarks.timing import Ratio, pair
from tests.faults.places import Place

NOW = datetime(2026, 5, 14, 10, tzinfo=UTC)
DAY = FuzzyDate.of(NOW.date())

IMPORTED = 100_000
"""Rows that are imported at once."""

PLANTS_EACH = 1_000
"""How many plants of an import have one accession."""

IMPORTS = 4
"""How many are timed, one of them to warm up."""

WIDTHS = CodeWidths(6, 4)


def measure(folder: Path, imported: int = IMPORTED) -> list[Ratio]:
    """The same service on two registries, one of which does not write its entries down."""
    return [
        _pair(folder, "a look", lambda rec: _look(rec)),
        _pair(folder, "a potting-up of 100", lambda rec: _pot_up(rec)),
        import_of(folder, imported),
    ]


def _look(rec: Recording) -> object:
    target = resolve(rec.session, "N1", today=NOW.date())
    return look(rec, target, on=DAY, stands={"rooted": parse_count("5")}, went={})


def _pot_up(rec: Recording) -> object:
    target = resolve(rec.session, "N1", today=NOW.date())
    return pot_up(rec, target, Potting(parse_count("100")), on=DAY)


def _begun(path: Path) -> Opened:
    """An empty registry in a file, or on the server for tests, with the widest codes."""
    location = homes.empty(path)
    said = Place(location).run(
        "init", "--grower", "Jo Field", "--country", "US",
        "--number-width", str(WIDTHS.number), "--plant-width", str(WIDTHS.plant),
    )  # fmt: skip
    assert said.exit == 0, said.err
    return open_registry(location)


def _pair(folder: Path, what: str, act: Callable[[Recording], object]) -> Ratio:
    opened = _begun(folder / f"{what.replace(' ', '-')}.sqlite")
    said = Place(opened.path).run(
        "stick", "red hydrangea", "--owner", "me", "--count", "100000", "--number", "N1", "--open",
        "--on", "2026-01-05",
    )  # fmt: skip
    assert said.exit == 0, said.err

    def run() -> None:
        with recording(opened.engine, opened.path, "look", now=NOW, new_id=uuid7) as rec:
            act(rec)

    def without() -> None:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(transaction, "_added", lambda state: None)
            patch.setattr(transaction, "_changed", lambda state: None)
            patch.setattr(transaction.Recording, "_seal", lambda recording, previous: None)
            run()

    return pair(what, run, "the same without the chain", without, 1.3, rounds=9)


# --- an import -----------------------------------------------------------------------------------

_Rows = list[tuple[Table, list[dict[str, Any]]]]


def import_of(folder: Path, rows: int) -> Ratio:
    """Plants recorded in bulk, as one entry, against bare inserts of the same rows.

    `Recording.bulk` is how many rows are recorded at once. Each way has a registry of its own, with
    the same indexes, and ends in one durable transaction. Plants that were raised have no words of
    their own to be found by, so that what the index of words costs is no part of this.
    """
    opened, bare = _begun(folder / "import.sqlite"), _begun(folder / "bare-import.sqlite")
    ours = iter(_imports(rows))
    mark = "%s" if isinstance(bare.path, Server) else "?"
    theirs = iter([[_statement(*each, mark) for each in one] for one in _imports(rows)])

    def run() -> None:
        with recording(opened.engine, opened.path, "import", now=NOW, new_id=uuid7) as rec:
            for table, some in next(ours):
                rec.bulk(table, some)

    def without() -> None:
        _insert(bare.path, next(theirs))

    what = f"an import of {rows:,} rows, recorded in bulk"
    return pair(what, run, "bare inserts of the same rows", without, 2.5, rounds=IMPORTS - 1)


def _imports(rows: int) -> list[_Rows]:
    """The rows of imports that follow on each other, made beforehand: half nodes, half plants."""
    each = rows // 2 // PLANTS_EACH
    return [_import(range(1 + n * each, 1 + (n + 1) * each)) for n in range(IMPORTS)]


def _import(accessions: range) -> _Rows:
    numbers = [(a, place) for a in accessions for place in range(1, PLANTS_EACH + 1)]
    rows: dict[type[Base], list[dict[str, Any]]] = {
        Accession: [
            {"id": a, "year": 2026, "number": a, "kind": "founder", "next_plant": PLANTS_EACH + 1}
            for a in accessions
        ],
        Node: [
            {
                "id": a * PLANTS_EACH + place,
                "kind": "plant",
                "uuid": uuid7(NOW),
                "code": Code(26, a, plant=place, widths=WIDTHS).text,
                "accession_id": a,
            }
            for a, place in numbers
        ],
        Plant: [{"node_id": a * PLANTS_EACH + place} for a, place in numbers],
    }
    return [(cast("Table", model.__table__), some) for model, some in rows.items()]


_Many = tuple[str, list[tuple[Any, ...]]]
"""A statement, and the values that it is run with."""


def _insert(place: Location, many: list[_Many]) -> None:
    """Insert rows by the driver's own way for many, in one transaction."""
    if isinstance(place, Server):
        import psycopg

        with psycopg.connect(place.url) as server, server.cursor() as cursor:
            for statement, values in many:
                cursor.executemany(statement, values)
        return
    with closing(sqlite3.connect(place)) as connection, connection:
        connection.execute("PRAGMA synchronous = FULL")
        for statement, values in many:
            connection.executemany(statement, values)


def _statement(table: Table, rows: list[dict[str, Any]], mark: str) -> _Many:
    """An INSERT and its values, with what a column holds where nothing is said."""
    usual = transaction._defaults(table) | {"seq": 2}
    names = [column.name for column in table.columns]
    values = [
        tuple(v.bytes if isinstance(v, UUID) else v for v in map((usual | row).get, names))
        for row in rows
    ]
    listed, marks = ", ".join(map(quoted, names)), ", ".join(mark for _ in names)
    return f"INSERT INTO {table.name} ({listed}) VALUES ({marks})", values  # noqa: S608 - our own tables
