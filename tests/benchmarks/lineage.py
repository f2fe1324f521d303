"""The questions of a trace and a recall, timed against every other way of asking them.

Each is held against its own statements on the bare driver, in the same run; against networkx with
the whole graph loaded beforehand; and against a workbook of the same rows walked with openpyxl, as
a grower does it today. Answers of one size are timed in registries of every size: they should take
as long.
"""

from __future__ import annotations

import tempfile
import tracemalloc
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import networkx as nx
import openpyxl
from sqlalchemy import Engine, event
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate
from registry.location import Server
from registry.papers.charts import chart_svg
from registry.papers.folding import Box, Chart, Link, Shape
from registry.papers.layout import lay_out
from registry.services import exposure
from registry.storage import lineage_queries as lineage
from registry.storage import postgres
from registry.storage.engine import door, make_engine
from registry.storage.migrate import in_the_making
from registry.storage.transaction import together
from tests.benchmarks.grow import Planted, copy_to, grow, set_in
from tests.benchmarks.timing import Ratio, pair

SIZES = (1_000, 100_000, 1_000_000, 3_000_000)
ANSWERS = (100, 20_000, 200_000)
WORKBOOK_MOST = 100_000
"""A sheet holds a million rows at most; reading a larger one tells nothing new."""

BOXES = 2_000
AIM, FEW, FEW_SECONDS = 2.0, 1_000, 0.001
"""From so many rows on the ratio is held to its aim; below, the answer to a millisecond."""

FLAT = 1.5
"""How much longer the largest registry may take than the smallest, for an answer of one size."""

DAY = FuzzyDate.of(date(2025, 6, 1))


@dataclass(frozen=True, slots=True)
class Question:
    """Something that is asked of a registry.

    Attributes:
        what: In words, with the size of the answer.
        rows: How many rows the answer has.
        ask: Asks it.
        graph: Asks the same of a networkx graph, where it can.
        book: The node from which a workbook is walked, and whether upwards.
    """

    what: str
    rows: int
    ask: Callable[[], object]
    graph: Callable[[nx.DiGraph[int]], object] | None = None
    book: tuple[int, bool] | None = None


@dataclass(frozen=True, slots=True)
class Memory:
    """What an answer took at its height, in bytes that Python allotted."""

    what: str
    plants: int
    rows: int
    peak: int


@dataclass(frozen=True, slots=True)
class Measured:
    """All tables of one engine."""

    ratios: tuple[Ratio, ...]
    flat: tuple[Ratio, ...]
    memory: tuple[Memory, ...]


def measure(
    folder: Path, most: int = 100_000, url: str | None = None, say: Callable[[str], None] = print
) -> Measured:
    """Time every question in registries of up to `most` plants.

    Args:
        folder: Where the files are grown; about 650 bytes a plant.
        most: The largest registry.
        url: An empty PostgreSQL database that the rows are copied into and asked in; None asks the
            files themselves.
        say: Tells how far it is.
    """
    ratios: list[Ratio] = []
    flat: list[Ratio] = []
    memory: list[Memory] = []
    first: dict[str, float] = {}
    for size in (size for size in SIZES if size <= most):
        path = folder / f"lineage-{size}.sqlite"
        answers = [n for n in ANSWERS if n <= size]
        say(f"growing {size:,} plants")
        grow(path, max(size - sum(n * 10 // 11 for n in answers) - 300, 100))
        planted = set_in(path, answers)
        with _engine(path, url) as engine, Session(engine) as session:
            say(f"asking {size:,} plants")
            for question in questions(session, planted):
                found = list(_against_others(session, question, size))
                ratios += found
                memory.append(_memory(question, size))
                flat += _flatness(question, size, found[0], first)
        path.unlink()
    return Measured(tuple(ratios), tuple(flat), tuple(memory))


@contextmanager
def _engine(path: Path, url: str | None) -> Iterator[Engine]:
    """The file's engine, or that of a database which has its rows while it is asked."""
    if url is None:
        engine = make_engine(path, mode="ro")
        yield engine
        engine.dispose()
        return
    server = Server(url)
    with in_the_making(server):
        pass
    engine = make_engine(server)
    try:
        copy_to(path, engine)
        yield engine
    finally:
        with together(engine, server) as connection, door(connection):
            postgres.take_tables_away(connection)
        engine.dispose()


def questions(session: Session, planted: Planted) -> Iterator[Question]:
    """Up, down to answers of every size, kin, and the recall of a place on a day."""
    deep = planted.deep
    yield Question(
        "up from a plant 30 generations deep, 60 edges",
        60,
        lambda: lineage.edges_above(session, [deep]),
        lambda graph: nx.ancestors(graph, deep),
        (deep, True),
    )
    for n, founder in planted.families.items():
        yield Question(
            f"down to an answer of {n:,}",
            n,
            lambda founder=founder: lineage.descendant_ids(session, [founder]),  # type: ignore[misc]  # bound at once
            lambda graph, founder=founder: nx.descendants(graph, founder),  # type: ignore[misc]  # bound at once
            (founder, False),
        )
        yield Question(
            f"down to an answer of {n:,}, each edge as a frozen value",
            n,
            lambda founder=founder: lineage.edges_below(session, [founder]),  # type: ignore[misc]  # bound at once
        )
        yield Question(
            f"kin, a clone of {n:,}",
            n,
            lambda founder=founder: lineage.clone_ids_below(  # type: ignore[misc]  # bound at once
                session, lineage.clone_ids_above(session, [founder])
            ),
            lambda graph, founder=founder: (
                nx.descendants(graph, founder)  # type: ignore[misc]  # bound at once
                | nx.ancestors(graph, founder)
            ),
        )
    yield Question(
        f"what stood in a place on a day, {planted.on_bench} plants",
        planted.on_bench,
        lambda: exposure.stood_in(session, [planted.bench], DAY),
    )
    yield Question(
        f"recall of a place on a day, the whole circle, {planted.on_bench} plants",
        planted.on_bench,
        lambda: exposure.circle(
            session, exposure.place_start(session, "bench", DAY), day=DAY, steps=0
        ),
    )


def _against_others(session: Session, question: Question, size: int) -> Iterator[Ratio]:
    few = question.rows < FEW
    what = f"{question.what}, {size:,} plants"
    rounds = 31 if few else 7
    yield pair(
        what,
        question.ask,
        "the same statements on the bare driver",
        _bare(session, question.ask),
        None if few else AIM,
        rounds=rounds,
        below=FEW_SECONDS if question.rows <= 100 else None,
    )
    if question.graph is not None:
        graph, ask = _graph(session), question.graph
        yield pair(
            what,
            question.ask,
            "networkx, the graph already loaded",
            lambda: ask(graph),
            None,
            rounds=rounds,
        )
    if question.book is not None and size <= WORKBOOK_MOST:
        yield _workbook(session, question, what)


def _bare(session: Session, ask: Callable[[], object]) -> Callable[[], object]:
    """The statements of a question again, straight through the driver, their rows fetched."""
    told: list[tuple[str, Any]] = []

    def note(connection: Any, cursor: Any, statement: str, parameters: Any, *rest: Any) -> None:
        told.append((statement, parameters))

    ask()  # the transaction is open from here on
    engine = session.get_bind()
    event.listen(engine, "after_cursor_execute", note)
    ask()
    event.remove(engine, "after_cursor_execute", note)
    driver: Any = session.connection().connection.driver_connection

    def replay() -> None:
        for statement, parameters in told:
            with closing(driver.cursor()) as cursor:
                cursor.execute(statement, parameters)
                cursor.fetchall()

    return replay


_loaded: dict[int, nx.DiGraph[int]] = {}


def _graph(session: Session) -> nx.DiGraph[int]:
    """The whole lineage in memory, loaded once for each registry."""
    key = id(session)
    if key not in _loaded:
        _loaded.clear()
        graph: nx.DiGraph[int] = nx.DiGraph()
        graph.add_edges_from(_edges(session))
        _loaded[key] = graph
    return _loaded[key]


def _edges(session: Session) -> Iterator[tuple[int, int]]:
    rows = session.connection().exec_driver_sql(
        "SELECT parent_id, child_id FROM edge WHERE void_seq IS NULL"
    )
    return ((parent, child) for parent, child in rows)


def _workbook(session: Session, question: Question, what: str) -> Ratio:
    """The relatives of a plant found in a workbook with a row for each edge."""
    node, upward = question.book or (0, True)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plants.xlsx"
        book = openpyxl.Workbook(write_only=True)
        sheet = book.create_sheet("edges")
        for row in _edges(session):
            sheet.append(row)
        book.save(path)

        def walk() -> set[int]:
            opened = openpyxl.load_workbook(path, read_only=True)
            onward: dict[int, list[int]] = {}
            for parent, child in opened["edges"].iter_rows(values_only=True):
                ends = (int(str(child)), int(str(parent)))
                here, there = ends if upward else ends[::-1]
                onward.setdefault(here, []).append(there)
            opened.close()
            seen, stack = {node}, [node]
            while stack:
                fresh = [one for one in onward.get(stack.pop(), ()) if one not in seen]
                seen.update(fresh)
                stack += fresh
            return seen

        return pair(what, question.ask, "a workbook, openpyxl", walk, 1.0, rounds=1)


def _memory(question: Question, size: int) -> Memory:
    tracemalloc.start()
    question.ask()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return Memory(question.what, size, question.rows, peak)


def _flatness(question: Question, size: int, found: Ratio, first: dict[str, float]) -> list[Ratio]:
    """The answer here against the same in the smallest registry that could give it."""
    if question.what not in first:
        first[question.what] = found.ours
        return []
    other = first[question.what]
    return [
        replace(
            found,
            against="the smallest registry with it",
            theirs=other,
            ratio=found.ours / other,
            aim=FLAT,
            below=None,
        )
    ]


def chart() -> Ratio:
    """A chart of two thousand boxes against its layout alone."""
    boxes = {
        n: Box(n, Shape.PLANT, f"26-{n:05}", "Hydrangea macrophylla ‘Ashe Red’", ("standing",))
        for n in range(1, BOXES + 1)
    }
    links = tuple(Link(n // 4 or 1, n) for n in range(2, BOXES + 1))
    drawn = Chart("What came of it", boxes, links)
    heights = dict.fromkeys(boxes, 20.0)
    lines = [(link.parent, link.child) for link in links]
    return pair(
        f"a chart of {BOXES:,} boxes",
        lambda: chart_svg(drawn),
        "its layout alone",
        lambda: lay_out(heights, lines, 5.5),
        10.0,
        rounds=3,
    )
