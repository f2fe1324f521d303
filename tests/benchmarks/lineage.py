"""Kin, a place on a day, charts; and the ways it is done without a registry.

Each question is held against its own statement on the bare driver, against networkx with the whole
graph loaded beforehand, and against a workbook of the same rows walked with openpyxl, as a grower
does it today. An answer of one size is timed in registries of all sizes: it should take as long.
"""

from __future__ import annotations

import sqlite3
import tempfile
from contextlib import closing
from datetime import date
from pathlib import Path

import networkx as nx
import openpyxl
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate
from registry.papers.charts import chart_svg
from registry.papers.folding import Box, Chart, Link, Shape
from registry.papers.layout import lay_out
from registry.services import exposure
from registry.storage import lineage_queries as lineage
from registry.storage.engine import make_engine
from tests.benchmarks.grow import grow
from tests.benchmarks.timing import Ratio, pair

SIZES = (1_000, 100_000, 1_000_000, 3_000_000)
WORKBOOK_MOST = 100_000
"""A workbook holds a million rows at most; walking a larger one tells nothing new."""

ON_THE_BENCH = 200
"""How many plants stand in the place that is asked about, in every registry."""

BOXES = 2_000
FEW, FEW_SECONDS = 100, 0.001
"""Below so many rows the fixed cost decides; it should stay under a millisecond."""

DAY = FuzzyDate.of(date(2025, 6, 1))
FLAT = 1.5
"""How much longer the largest registry may take than the smallest, for an answer of one size."""


def measure(folder: Path, most: int = 100_000) -> list[Ratio]:
    """Every table of this subject, in registries of up to `most` plants."""
    rows: list[Ratio] = []
    smallest = folder / f"lineage-{SIZES[0]}.sqlite"
    for size in SIZES:
        if size > most:
            continue
        path = folder / f"lineage-{size}.sqlite"
        grow(path, size)
        _furnish(path)
        rows += _of_one_size(path, size)
        if path != smallest:
            rows += _flatness(path, size, smallest)
            path.unlink()
    return [*rows, _chart()]


def _furnish(path: Path) -> None:
    """Two places: a bench with some plants, and a field with all others."""
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.executemany(
            "INSERT INTO place (id, name, key, hidden, seq) VALUES (?, ?, ?, 0, 1)",
            [(1, "bench", "bench"), (2, "field", "field")],
        )
        connection.execute(
            "INSERT INTO stay (node_id, place_id, from_edtf, from_first, from_last, seq)"
            " SELECT node_id, CASE WHEN row_number() OVER (ORDER BY node_id DESC) <= ? THEN 1"
            " ELSE 2 END, '2025-01-01', '2025-01-01', '2025-01-01', 1 FROM plant",
            (ON_THE_BENCH,),
        )


def _of_one_size(path: Path, size: int) -> list[Ratio]:
    engine = make_engine(path, mode="ro")
    rows: list[Ratio] = []
    with closing(sqlite3.connect(path)) as bare, Session(engine) as session:
        plant, edges = _deep_plant(session, bare)
        mother = bare.execute("SELECT min(id) FROM node").fetchone()[0]
        ids = {"ids": f"[{plant}]"}
        rows.append(
            pair(
                f"the clone's first plants, {edges} edges up, {size:,} plants",
                lambda: session.connection().execute(lineage.CLONE_ABOVE_IDS, ids).all(),
                "the same query, sqlite3",
                lambda: bare.execute(lineage.CLONE_ABOVE_IDS.text, ids).fetchall(),
                None,
                rounds=31,
                below=FEW_SECONDS,
            )
        )
        kin = len(lineage.clone_ids_below(session, [mother]))
        below = {"ids": f"[{mother}]"}
        rows.append(
            pair(
                f"kin, {kin:,} nodes, {size:,} plants",
                lambda: lineage.clone_ids_below(session, [mother]),
                "the same query, sqlite3",
                lambda: bare.execute(lineage.CLONE_BELOW_IDS.text, below).fetchall(),
                2.0 if kin >= FEW else None,
                below=None if kin >= FEW else FEW_SECONDS,
            )
        )
        place = {"ids": "[1]", "first": "2025-06-01", "last": "2025-06-01"}
        stood = exposure.STOOD.text
        rows.append(
            pair(
                f"{ON_THE_BENCH} plants of a place on a day, {size:,} plants",
                lambda: exposure.stood_in(session, [1], DAY),
                "the same query, sqlite3",
                lambda: bare.execute(stood, place).fetchall(),
                2.0,
                rounds=31,
            )
        )
        graph: nx.DiGraph[int] = nx.DiGraph()
        graph.add_edges_from(bare.execute("SELECT parent_id, child_id FROM edge"))
        rows.append(
            pair(
                f"up, {edges} edges, {size:,} plants",
                lambda: lineage.ancestor_ids(session, [plant]),
                "networkx, graph already loaded",
                lambda: nx.ancestors(graph, plant),
                10.0,
                rounds=31,
            )
        )
        rows.append(
            pair(
                f"down, {kin:,} nodes, {size:,} plants",
                lambda: lineage.descendant_ids(session, [mother]),
                "networkx, graph already loaded",
                lambda: nx.descendants(graph, mother),
                10.0,
            )
        )
        if size <= WORKBOOK_MOST:
            rows.append(_workbook(session, bare, plant, edges, size))
    engine.dispose()
    return rows


def _deep_plant(session: Session, bare: sqlite3.Connection) -> tuple[int, int]:
    """A plant thirty generations deep with no uncertain parent, so that answers are of one size."""
    newest = bare.execute("SELECT id FROM node WHERE kind = 'plant' ORDER BY id DESC LIMIT 400")
    found = [(len(lineage.edges_above(session, [node])), node) for (node,) in newest.fetchall()]
    sixty = [pair for pair in found if pair[0] == 60]
    edges, node = sixty[0] if sixty else min(found)
    return node, edges


def _workbook(
    session: Session, bare: sqlite3.Connection, plant: int, edges: int, size: int
) -> Ratio:
    """The parents of a plant, and theirs, found in a workbook with a row for each edge."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plants.xlsx"
        book = openpyxl.Workbook(write_only=True)
        sheet = book.create_sheet("edges")
        for row in bare.execute("SELECT child_id, parent_id FROM edge"):
            sheet.append(row)
        book.save(path)

        def walk() -> set[int]:
            opened = openpyxl.load_workbook(path, read_only=True)
            parents: dict[int, list[int]] = {}
            for child, parent in opened["edges"].iter_rows(values_only=True):
                parents.setdefault(int(str(child)), []).append(int(str(parent)))
            opened.close()
            seen, stack = {plant}, [plant]
            while stack:
                for parent in parents.get(stack.pop(), []):
                    if parent not in seen:
                        seen.add(parent)
                        stack.append(parent)
            return seen

        return pair(
            f"up, {edges} edges, {size:,} plants",
            lambda: lineage.ancestor_ids(session, [plant]),
            "a workbook, openpyxl",
            walk,
            1.0,
            rounds=3,
        )


def _flatness(path: Path, size: int, smallest: Path) -> list[Ratio]:
    """The same answer in a registry and in the smallest, in turn."""
    engines = [make_engine(one, mode="ro") for one in (path, smallest)]
    with Session(engines[0]) as here, Session(engines[1]) as there:
        plants = []
        for session, one in ((here, path), (there, smallest)):
            with closing(sqlite3.connect(one)) as bare:
                plants.append(_deep_plant(session, bare)[0])
        rows = [
            pair(
                f"up, 60 edges, {size:,} plants",
                lambda: lineage.ancestor_ids(here, [plants[0]]),
                f"{SIZES[0]:,} plants",
                lambda: lineage.ancestor_ids(there, [plants[1]]),
                FLAT,
                rounds=51,
            ),
            pair(
                f"{ON_THE_BENCH} plants of a place on a day, {size:,} plants",
                lambda: exposure.stood_in(here, [1], DAY),
                f"{SIZES[0]:,} plants",
                lambda: exposure.stood_in(there, [1], DAY),
                FLAT,
                rounds=51,
            ),
        ]
    for engine in engines:
        engine.dispose()
    return rows


def _chart() -> Ratio:
    """A chart of two thousand boxes against its layout alone."""
    boxes = {
        n: Box(n, Shape.PLANT, f"26-{n:05}", "Hydrangea macrophylla ‘Ashe Red’", ("standing",))
        for n in range(1, BOXES + 1)
    }
    links = tuple(Link(n // 4 or 1, n) for n in range(2, BOXES + 1))
    chart = Chart("What came of it", boxes, links)
    heights = dict.fromkeys(boxes, 20.0)
    lines = [(link.parent, link.child) for link in links]
    return pair(
        f"a chart of {BOXES:,} boxes",
        lambda: chart_svg(chart),
        "its layout alone",
        lambda: lay_out(heights, lines, 5.5),
        10.0,
        rounds=3,
    )
